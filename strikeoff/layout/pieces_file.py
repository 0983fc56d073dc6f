"""Lists of pieces to nest: CSV from a spreadsheet with a line for each piece, or the same as JSON."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path
from typing import Any

from strikeoff.base.errors import InputError
from strikeoff.layout.nesting import MOST_PIECES, TURNS, NestPiece

_NEEDED = ("code", "width_mm", "height_mm")
_KNOWN = (*_NEEDED, "count", "turn", "artwork", "group")

PIECES_SCHEMA = "strikeoff/pieces/1"

_MOST_BYTES = 16 << 20
_LONGEST_NAME = 200


def read_pieces(path: str | Path, turn: str = "none") -> tuple[NestPiece, ...]:
    """Read pieces from CSV or JSON.

    CSV has the columns code, width_mm, height_mm and, if wanted, count, turn, artwork, group. A file in
    .json holds ``{"schema": "strikeoff/pieces/1", "pieces": [...]}`` with the same names in each piece.

    Parameters
    ----------
    path : str or Path
        UTF-8 text; commas or semicolons in CSV.
    turn : {"none", "180", "90"}
        For pieces that do not say how they may be turned.

    Returns
    -------
    tuple of NestPiece
        A piece with a count above 1 becomes as many, numbered: ``A-1``, ``A-2``.

    Raises
    ------
    InputError
        With the line or piece, where something is missing, unknown or no number.
    """
    file = Path(path)
    size = file.stat().st_size
    if size > _MOST_BYTES:
        raise InputError(
            "list of pieces is too large", path=file, expected=f"at most {_MOST_BYTES >> 20} MiB"
        )
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError("list of pieces is no UTF-8 text", path=file, found=str(error)) from None
    rows = _document(text, file) if file.suffix.lower() == ".json" else _lines(text, file)
    pieces: list[NestPiece] = []
    for where, row in rows:
        pieces += _pieces(row, file, where, turn)
        if len(pieces) > MOST_PIECES:
            raise InputError("too many pieces", path=file, where=where, expected=f"{MOST_PIECES:,}")
    if not pieces:
        raise InputError("list of pieces is empty", path=file, expected="a line for each piece")
    return tuple(pieces)


def _document(text: str, file: Path) -> list[tuple[str, dict[str, str]]]:
    """Return pieces of a JSON document as text, as they would stand in CSV, and where each stands."""
    try:
        record: Any = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError("list of pieces is no JSON", path=file, found=str(error)[:120]) from None
    if not isinstance(record, dict) or record.get("schema") != PIECES_SCHEMA:
        found = record.get("schema") if isinstance(record, dict) else type(record).__name__
        raise InputError(
            "not a list of pieces", path=file, where="schema", found=found, expected=PIECES_SCHEMA
        )
    listed = record.get("pieces")
    if not isinstance(listed, list):
        raise InputError("there is no list of pieces", path=file, where="pieces", expected="a list")
    rows = []
    for k, piece in enumerate(listed):
        where = f"pieces[{k}]"
        names = list(piece) if isinstance(piece, dict) else []
        if not set(_NEEDED) <= set(names) <= set(_KNOWN):
            raise InputError(
                "fields of a piece are wrong",
                path=file,
                where=where,
                found=", ".join(names)[:200] or "nothing",
                expected=f"{', '.join(_NEEDED)} and, if wanted, {', '.join(_KNOWN[3:])}",
            )
        for name, value in piece.items():
            number = name in ("width_mm", "height_mm", "count")
            good = isinstance(value, int | float) and not isinstance(value, bool)
            if not (good if number else isinstance(value, str)):
                raise InputError(
                    "number expected" if number else "text expected",
                    path=file,
                    where=f"{where}.{name}",
                    found=str(value)[:80],
                )
        rows.append((where, {name: str(value).strip() for name, value in piece.items()}))
    return rows


def _lines(text: str, file: Path) -> list[tuple[str, dict[str, str]]]:
    first = text.partition("\n")[0]
    try:
        lines = list(csv.reader(text.splitlines(), delimiter=";" if ";" in first else ",", strict=True))
    except csv.Error as error:
        raise InputError(
            "list of pieces is no CSV",
            path=file,
            found=str(error),
            expected=f"a line for each piece under the columns {', '.join(_NEEDED)}",
        ) from None
    names = [name.strip() for name in lines[0]] if lines else []
    missing = [name for name in _NEEDED if name not in names]
    strange = [name for name in names if name not in _KNOWN]
    if missing or strange or len(set(names)) < len(names):
        raise InputError(
            "columns of the list of pieces are wrong",
            path=file,
            where="line 1",
            found=", ".join(names)[:200] or "nothing",
            expected=f"{', '.join(_NEEDED)} and, if wanted, {', '.join(_KNOWN[3:])}, each once",
        )
    rows = []
    for number, cells in enumerate(lines[1:], 2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(names):
            raise InputError(
                "line of the list of pieces has another number of cells",
                path=file,
                where=f"line {number}",
                found=len(cells),
                expected=len(names),
            )
        rows.append((f"line {number}", dict(zip(names, (cell.strip() for cell in cells), strict=True))))
    return rows


def _pieces(row: dict[str, str], file: Path, where: str, turn: str) -> list[NestPiece]:
    if not row["code"]:
        raise InputError("piece has no code", path=file, where=where)
    for name in ("code", "artwork", "group"):
        text = row.get(name, "")
        if not text.isprintable() or len(text) > _LONGEST_NAME:
            raise InputError(
                "name cannot be printed",
                path=file,
                where=f"{where}, {name}",
                found=f"{len(text)} characters, {text[:40]!r}",
                expected=f"at most {_LONGEST_NAME} characters, all of them visible",
            )
    size = [_positive(row, name, file, where) for name in ("width_mm", "height_mm")]
    count = _positive(row, "count", file, where) if row.get("count") else 1.0
    if count != int(count) or count > MOST_PIECES:
        raise InputError(
            "count of a piece cannot be",
            path=file,
            where=where,
            found=row["count"],
            expected=f"a whole number, at most {MOST_PIECES:,}",
        )
    way = row.get("turn") or turn
    if way not in TURNS:
        raise InputError("unknown turn", path=file, where=where, found=way, expected=", ".join(TURNS))
    codes = [row["code"]] if count == 1 else [f"{row['code']}-{k + 1}" for k in range(int(count))]
    artwork, group = row.get("artwork", ""), row.get("group", "")
    return [NestPiece(code, size[0], size[1], way, artwork, group) for code in codes]


def _positive(row: dict[str, str], name: str, file: Path, where: str) -> float:
    try:
        value = float(row[name])
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value > 0):
        raise InputError(
            "number above 0 expected", path=file, where=f"{where}, {name}", found=row[name] or "nothing"
        )
    return value
