"""Colourway files: which palette colours of flat artwork become which others."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.spot.book import same_name

MOST_ROWS = 200
_MOST_BYTES = 1 << 20
_WAYS = ("hex", "lab", "swatch", "spectrum")
_KEYS = {"from", "wavelengths_nm", *_WAYS}
_HEX = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True)
class Change:
    """What one palette colour becomes: exactly one of four.

    Attributes
    ----------
    rgb : tuple of int, optional
        sRGB, 0-255.
    lab : tuple of float, optional
        On the goods, under the condition's light; D50 without a condition.
    swatch : str, optional
        Name in a swatch book.
    wavelengths_nm, spectrum : tuple of float
        Reflectance factor, 0-1. [nm], [-]
    """

    rgb: tuple[int, int, int] | None = None
    lab: tuple[float, float, float] | None = None
    swatch: str | None = None
    wavelengths_nm: tuple[float, ...] = ()
    spectrum: tuple[float, ...] = ()


@dataclass(frozen=True)
class Colourway:
    """A colourway: changes by name of the palette colour; others stay."""

    name: str
    changes: Mapping[str, Change]


def read_colourway(path: str | Path, names: Sequence[str]) -> Colourway:
    """Read a colourway, TOML or CSV.

    Parameters
    ----------
    path : path-like
        TOML with ``[[colour]]``, or CSV with columns ``from`` and ``to``.
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
        text = data.decode("utf-8-sig")
        is_table = Path(path).suffix.lower() == ".csv"
        name, rows = _from_csv(text) if is_table else _from_toml(text)
        if not 0 < len(rows) <= MOST_ROWS:
            raise InputError("colourway changes nothing", expected=f"1 to {MOST_ROWS} colours")
        changes: dict[str, Change] = {}
        for number, row in enumerate(rows, 1):
            where = f"row {number}"
            start = str(row.get("from", "")).strip()
            if start not in names:
                raise InputError(
                    "palette has no such colour",
                    where=where,
                    found=start[:60],
                    expected=", ".join(names)[:300],
                )
            if start in changes:
                raise InputError("colour is changed twice", where=where, found=start[:60])
            changes[start] = _change(row, where)
        return Colourway(name or Path(path).stem, changes)
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


def _from_toml(text: str) -> tuple[str, list[dict[str, Any]]]:
    document = tomllib.loads(text)
    unknown = sorted(set(document) - {"name", "colour"})
    if unknown:
        raise InputError("unknown key", found=unknown[0][:40], expected="name, colour")
    return str(document.get("name", ""))[:200], list(document.get("colour", []))


def _from_csv(text: str) -> tuple[str, list[dict[str, Any]]]:
    table = csv.DictReader(io.StringIO(text))
    if table.fieldnames is None or [f.strip().lower() for f in table.fieldnames] != ["from", "to"]:
        raise InputError("not a colourway", found=str(table.fieldnames)[:80], expected="columns from,to")
    rows = []
    for line in table:
        start, to = ((line[key] or "").strip() for key in table.fieldnames)
        row: dict[str, Any] = {"from": start}
        words = to.split()
        if _HEX.fullmatch(to):
            row["hex"] = to
        elif len(words) == 4 and words[0].lower() == "lab":
            row["lab"] = [float(word) for word in words[1:]]
        else:
            row["swatch"] = to
        rows.append(row)
    return "", rows


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
