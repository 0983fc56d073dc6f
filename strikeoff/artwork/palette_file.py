"""Palettes as TOML files that a person edits."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.colour import srgb_to_lab
from strikeoff.artwork.unmix import MOST_COLOURS
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes, write_text
from strikeoff.base.toml_text import parse_toml

FloatArray = NDArray[np.float64]

SCHEMA = "strikeoff/palette/2"
_MOST_BYTES = 1 << 20
# Closer colours cannot be told apart. [CIELAB units]
_LEAST_APART = 0.1
_FILE_KEYS = {"schema", "artwork", "mixing", "noise_percent", "colour"}
_HEX = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True)
class NamedPalette:
    """A palette whose colours have names.

    Attributes
    ----------
    lab : ndarray, shape (n, 3)
        CIELAB D50 of the colours in the artwork.
    names : tuple of str
        Unique.
    artwork : str or None
        Digest of the artwork that it was found in.
    noise : float or None
        Of a code about its colour; None where nobody said. [share of the code range]
    mixing : {"linear", "encoded"} or None
        How the edges of the artwork are mixed; None where nobody said.
    """

    lab: FloatArray
    names: tuple[str, ...]
    artwork: str | None = None
    noise: float | None = None
    mixing: str | None = None


def write_palette(
    path: str | Path,
    named: NamedPalette,
    remarks: Sequence[str],
    *,
    head: Sequence[str] = (),
    maybe: Sequence[tuple[FloatArray, str]] = (),
) -> None:
    """Write a palette.

    Parameters
    ----------
    path : path-like
        File to write.
    named : NamedPalette
        What is read back.
    remarks : sequence of str
        A comment for each colour.
    head : sequence of str
        Comments for the whole.
    maybe : sequence of (ndarray, str)
        Lab and remark of colours that are proposed in comments.
    """
    lines = [f'schema = "{SCHEMA}"']
    lines += [f'artwork = "{named.artwork}"'] if named.artwork else []
    lines += [f'mixing = "{named.mixing}"'] if named.mixing else []
    lines += [f"noise_percent = {named.noise * 100:.6g}"] if named.noise else []
    lines += [f"# {line}" for line in head]
    for name, lab, remark in zip(named.names, named.lab, remarks, strict=True):
        lines += ["", f"# {remark}", "[[colour]]"]
        lines += [f"name = {json.dumps(name, ensure_ascii=False)}", f"lab = {_triple(lab)}"]
    if maybe:
        lines += ["", "# Perhaps colours too: take the signs away from those that are."]
    for k, (lab, remark) in enumerate(maybe, 1):
        lines += ["", f"# {remark}", "# [[colour]]", f'# name = "perhaps {k}"', f"# lab = {_triple(lab)}"]
    write_text(path, "\n".join(lines) + "\n")


def _triple(lab: FloatArray) -> str:
    return f"[{', '.join(f'{float(v) + 0.0:.4f}' for v in lab)}]"


def read_palette(path: str | Path) -> NamedPalette:
    """Read a palette.

    Raises
    ------
    StorageError
        When the file cannot be read.
    InputError
        When it is no palette; the colour is named.
    """
    data = read_bytes(path, _MOST_BYTES)
    try:
        document = parse_toml(data, path, "a palette")
        if document.get("schema") != SCHEMA:
            raise InputError("not a palette", found=str(document.get("schema"))[:40], expected=SCHEMA)
        _known(document, _FILE_KEYS, "file")
        rows = document.get("colour")
        if not isinstance(rows, list) or not 1 <= len(rows) <= MOST_COLOURS:
            raise InputError("palette of another size", expected=f"1-{MOST_COLOURS} [[colour]]")
        names, lab = zip(*(_colour(row, number) for number, row in enumerate(rows, 1)), strict=True)
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise InputError("two colours have one name", found=twice[0][:60])
        apart = np.linalg.norm(np.array(lab)[:, None] - np.array(lab), axis=2) + np.eye(len(lab))
        if apart.min() < _LEAST_APART:
            one, two = divmod(int(apart.argmin()), len(lab))
            raise InputError("two colours are the same", found=f"{names[one]}, {names[two]}"[:120])
        noise, mixing = document.get("noise_percent"), document.get("mixing")
        if mixing not in (None, "linear", "encoded"):
            raise InputError("unknown mixing", found=str(mixing)[:40], expected="linear or encoded")
        if noise is not None and not 1e-3 <= float(noise) <= 20:
            raise InputError("noise out of range", found=str(noise)[:40], expected="0.001-20 %")
        artwork = document.get("artwork")
        return NamedPalette(
            np.array(lab),
            names,
            None if artwork is None else str(artwork),
            None if noise is None else float(noise) / 100,
            mixing,
        )
    except InputError as error:
        error.path = error.path or str(path)
        raise
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise InputError(
            "not a palette, or damaged",
            path=path,
            found=(str(error) or type(error).__name__)[:120],
            expected="a file written by 'artwork palette'",
        ) from error


def _colour(row: Mapping[str, Any], number: int) -> tuple[str, FloatArray]:
    name = row.get("name")
    where = f"colour {number}"
    if not isinstance(name, str) or not name.strip() or len(name) > 200:
        raise InputError("a colour has no name", where=where, expected="name in quotes")
    where = f"colour {name}"
    _known(row, {"name", "lab", "hex"}, where)
    if ("lab" in row) == ("hex" in row):
        raise InputError("a colour is said in one way", where=where, expected="either lab or hex")
    if "hex" in row:
        if not _HEX.fullmatch(str(row["hex"])):
            raise InputError("not a colour", where=where, found=str(row["hex"])[:40], expected="#rrggbb")
        return name, srgb_to_lab(np.array(list(bytes.fromhex(row["hex"][1:]))) / 255.0)
    lab = [float(v) for v in row["lab"]]
    if len(lab) != 3 or not -1 <= lab[0] <= 110 or not all(abs(v) <= 200 for v in lab):
        raise InputError("not a Lab colour", where=where, found=str(row["lab"])[:60])
    return name, np.array(lab)


def _known(table: Mapping[str, Any], keys: set[str], where: str) -> None:
    unknown = sorted(set(table) - keys)
    if unknown:
        raise InputError(
            "unknown key", where=where, found=unknown[0][:40], expected=", ".join(sorted(keys - {"colour"}))
        )
