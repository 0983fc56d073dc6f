"""Colourway files: which palette colours of flat artwork become which others."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.base.toml_text import parse_toml
from strikeoff.spot.book import same_name

MOST_ROWS = 200
#: Most colourways of one table.
MOST_COLOURWAYS = 200
_MOST_BYTES = 1 << 20
_WAYS = ("hex", "lab", "swatch", "spectrum", "recipe_percent")
_KEYS = {"from", "wavelengths_nm", *_WAYS}
_HEX = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True)
class Change:
    """What one palette colour becomes: exactly one of five.

    Attributes
    ----------
    rgb : tuple of int, optional
        sRGB of the artwork, 0-255: white is the cloth.
    lab : tuple of float, optional
        On the goods, under the condition's light; D50 without a condition.
    swatch : str, optional
        Name in a swatch book.
    wavelengths_nm, spectrum : tuple of float
        Reflectance factor, 0-1. [nm], [-]
    recipe : tuple of (str, float), optional
        Inks by name and their amount, 0-1. [-]
    """

    rgb: tuple[int, int, int] | None = None
    lab: tuple[float, float, float] | None = None
    swatch: str | None = None
    wavelengths_nm: tuple[float, ...] = ()
    spectrum: tuple[float, ...] = ()
    recipe: tuple[tuple[str, float], ...] | None = None


@dataclass(frozen=True)
class Colourway:
    """A colourway: changes by name of the palette colour; others stay."""

    name: str
    changes: Mapping[str, Change]


def read_colourways(path: str | Path, names: Sequence[str]) -> tuple[Colourway, ...]:
    """Read colourways: one from TOML, one for each column but the first from CSV.

    Parameters
    ----------
    path : path-like
        TOML with ``[[colour]]``, or CSV with the columns ``from`` and ``to``, or ``from`` and the name of a
        colourway each. Cells may be empty: the colour stays.
    names : sequence of str
        Colours of the palette.

    Raises
    ------
    StorageError
        When the file cannot be read.
    InputError
        When it is no such file, or names a colour that the palette has not; the row is named.
    """
    data = read_bytes(path, _MOST_BYTES)
    try:
        if Path(path).suffix.lower() == ".csv":
            tables = _from_csv(data.decode("utf-8-sig"))
        else:
            tables = [_from_toml(parse_toml(data, path, "a colourway"))]
        return tuple(_colourway(name or Path(path).stem, rows, names) for name, rows in tables)
    except InputError as error:
        error.path = error.path or str(path)
        raise
    except (ValueError, TypeError, AttributeError, KeyError, RecursionError, csv.Error) as error:
        raise InputError(
            "not a colourway",
            path=path,
            found=(str(error) or type(error).__name__)[:120],
            expected="TOML with [[colour]], or CSV with the columns from,to",
        ) from error


def _colourway(name: str, rows: Sequence[Mapping[str, Any]], names: Sequence[str]) -> Colourway:
    if not 0 < len(rows) <= MOST_ROWS:
        raise InputError("colourway changes nothing", where=name[:60], expected=f"1 to {MOST_ROWS} colours")
    changes: dict[str, Change] = {}
    for number, row in enumerate(rows, 1):
        where = f"row {row.get('row', number)}"
        start = str(row.get("from", "")).strip()
        if start not in names:
            raise InputError(
                "palette has no such colour", where=where, found=start[:60], expected=", ".join(names)[:300]
            )
        if start in changes:
            raise InputError("colour is changed twice", where=where, found=start[:60])
        changes[start] = _change({key: value for key, value in row.items() if key != "row"}, where)
    return Colourway(name, changes)


def _from_toml(document: dict[str, Any]) -> tuple[str, list[dict[str, Any]]]:
    unknown = sorted(set(document) - {"name", "colour"})
    if unknown:
        raise InputError("unknown key", found=unknown[0][:40], expected="name, colour")
    return str(document.get("name", ""))[:200], list(document.get("colour", []))


def _from_csv(text: str) -> list[tuple[str, list[dict[str, Any]]]]:
    table = csv.DictReader(io.StringIO(text), strict=True)
    heads = [head.strip() for head in table.fieldnames or []]
    columns = heads[1:]
    sound = bool(columns) and all(columns) and len(set(columns)) == len(columns) <= MOST_COLOURWAYS
    if not sound or heads[0].lower() != "from":
        raise InputError("not a colourway", found=str(heads)[:80], expected="columns from,to")
    found: list[tuple[str, list[dict[str, Any]]]] = [
        ("" if len(columns) == 1 and head.lower() == "to" else head[:200], []) for head in columns
    ]
    for number, line in enumerate(table, 1):
        if None in line:
            raise InputError("row has too many cells", where=f"row {number}")
        start, *cells = ((value or "").strip() for value in line.values())
        for (_, rows), cell in zip(found, cells, strict=True):
            if cell:
                rows.append({"from": start, "row": number} | _cell(cell, f"row {number}"))
    return found


def _cell(text: str, where: str) -> dict[str, Any]:
    """Return what a cell says: a hex, ``lab`` and three numbers, ``inks`` and pairs, or a swatch."""
    words = text.split()
    if _HEX.fullmatch(text):
        return {"hex": text}
    if words[0].lower() == "lab" and len(words) == 4:
        return {"lab": [float(word) for word in words[1:]]}
    if words[0].lower() == "inks":
        if len(words) % 2 == 0 or len(words) < 3:
            raise InputError("not a recipe", where=where, found=text[:60], expected="inks C 10 M 25")
        return {"recipe_percent": dict(zip(words[1::2], map(float, words[2::2]), strict=True))}
    return {"swatch": text}


def _change(row: Mapping[str, Any], where: str) -> Change:
    unknown = sorted(set(row) - _KEYS)
    ways = [way for way in _WAYS if way in row]
    if unknown or len(ways) != 1:
        raise InputError(
            "a colour is said in one way",
            where=where,
            found=", ".join(unknown or ways)[:60] or "none",
            expected=f"from and one of {', '.join(_WAYS)}",
        )
    value = row[ways[0]]
    match ways[0]:
        case "hex":
            if not _HEX.fullmatch(str(value)):
                raise InputError("not a colour", where=where, found=str(value)[:40], expected="#rrggbb")
            red, green, blue = bytes.fromhex(str(value)[1:])
            return Change(rgb=(red, green, blue))
        case "lab":
            lab = [float(v) for v in value]
            if len(lab) != 3 or not 0 <= lab[0] <= 110 or not all(abs(v) <= 200 for v in lab):
                raise InputError("not a Lab colour", where=where, found=str(value)[:60])
            return Change(lab=(lab[0], lab[1], lab[2]))
        case "swatch":
            if not str(value).strip():
                raise InputError("a colour has nothing to become", where=where)
            return Change(swatch=same_name(str(value)))
        case "recipe_percent":
            recipe = tuple((str(ink), float(amount) / 100) for ink, amount in value.items())
            if not all(0 <= amount <= 1 for _, amount in recipe):
                raise InputError("ink out of range", where=where, found=str(value)[:60], expected="0-100 %")
            return Change(recipe=recipe)
        case _:
            return _spectral(row, where)


def _spectral(row: Mapping[str, Any], where: str) -> Change:
    values = [float(v) for v in row["spectrum"]]
    first, last, step = (float(v) for v in row["wavelengths_nm"])
    grid = np.linspace(first, last, len(values))
    sound = 5 <= len(values) <= 1000 and all(0 <= v <= 2 for v in values) and 0 < first < last <= 1100
    if not sound or abs((last - first) / (len(values) - 1) - step) > 1e-6:
        raise InputError(
            "spectrum does not fit its wavelengths",
            where=where,
            found=f"{len(values)} values",
            expected="wavelengths_nm = [400, 700, 10] and 31 values of 0-1",
        )
    return Change(wavelengths_nm=tuple(map(float, grid)), spectrum=tuple(values))
