"""Readings of finishing grids: distances of marks in the file, on the print, on the finished cloth.

A CSV table with a row for every pair of marks. ``direction`` (``warp`` or ``weft``), ``file_mm`` and
``finished_mm`` are needed; ``specimen`` and ``lot`` tell specimens apart. Further columns that end in
``_mm`` and stand between the two, such as ``printed_mm`` and ``steamed_mm``, part finishing into steps.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from pathlib import Path

from strikeoff.base.errors import InputError, RangeError
from strikeoff.base.files import read_bytes
from strikeoff.layout.finishing import CHANGE_HIGH_PERCENT, CHANGE_LOW_PERCENT

DIRECTIONS = ("warp", "weft")
PRINTED = "printed_mm"

_FILE, _FINISHED = "file_mm", "finished_mm"
_MOST_BYTES = 20_000_000
_LONGEST_MM = 10_000.0


@dataclass(frozen=True)
class MarkReading:
    """One pair of marks.

    Attributes
    ----------
    lot, specimen, direction : str
        Which cloth; ``warp`` or ``weft``.
    distances_mm : tuple of float
        Distance in the file, after each step, and finished. [mm]
    """

    lot: str
    specimen: str
    direction: str
    distances_mm: tuple[float, ...]


@dataclass(frozen=True)
class GridReadings:
    """All readings of one table.

    Attributes
    ----------
    stages : tuple of str
        Columns of the distances: ``file_mm``, the steps, ``finished_mm``.
    readings : tuple of MarkReading
        Row by row.
    """

    stages: tuple[str, ...]
    readings: tuple[MarkReading, ...]


def read_grid_readings(path: str | Path) -> GridReadings:
    """Return the readings of finishing grids in a CSV table.

    Raises
    ------
    InputError
        Missing columns, no rows, distances that cannot be; RangeError for a change outside -50 to +20 %.
    """
    columns, rows = read_csv(path, ("direction", _FILE, _FINISHED))
    stages = tuple(name for name in columns if name.endswith("_mm"))
    if stages[0] != _FILE or stages[-1] != _FINISHED or len(set(stages)) != len(stages):
        raise InputError(
            "distances do not stand in the order of the steps",
            path=path,
            found=", ".join(stages),
            expected=f"{_FILE}, then the steps such as {PRINTED}, then {_FINISHED}",
        )
    readings = []
    for where, row in rows:
        direction = row["direction"].lower()
        if direction not in DIRECTIONS:
            raise InputError(
                "unknown direction",
                path=path,
                where=where,
                found=row["direction"],
                expected="warp (along) or weft (across)",
            )
        distances = tuple(positive_mm(row[stage], path, f"{where}, {stage}") for stage in stages)
        change = 100 * (distances[-1] / distances[0] - 1)
        if not CHANGE_LOW_PERCENT <= change <= CHANGE_HIGH_PERCENT:
            raise RangeError(
                "dimensional change cannot be",
                path=path,
                where=where,
                found=f"{change:.1f} %",
                expected=f"{CHANGE_LOW_PERCENT:g} to +{CHANGE_HIGH_PERCENT:g} %",
                advice="Check that both distances are of the same marks, in millimetres",
            )
        readings.append(MarkReading(row.get("lot") or "1", row.get("specimen") or "1", direction, distances))
    return GridReadings(stages, tuple(readings))


def read_csv(path: str | Path, needed: tuple[str, ...]) -> tuple[list[str], list[tuple[str, dict[str, str]]]]:
    """Return the columns of a CSV table and its rows, each with the line that it stands on.

    Parameters
    ----------
    path : str or Path
        UTF-8, comma-separated, a heading first; blank lines are passed over.
    needed : tuple of str
        Columns without which the table makes no sense.

    Raises
    ------
    InputError
        Not text, too large, a missing column, a row of the wrong length, no rows.
    """
    try:
        text = read_bytes(path, _MOST_BYTES).decode("utf-8-sig")
        lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError("is no CSV table", path=path, found=str(error)) from error
    columns = [name.strip().lower() for name in lines[0]] if lines else []
    missing = [name for name in needed if name not in columns]
    if missing:
        raise InputError(
            "column is missing", path=path, found=", ".join(columns) or "nothing", expected=missing[0]
        )
    rows = []
    for number, line in enumerate(lines[1:], 2):
        if not any(cell.strip() for cell in line):
            continue
        if len(line) != len(columns):
            raise InputError(
                "row does not have as many cells as the heading",
                path=path,
                where=f"line {number}",
                found=len(line),
                expected=len(columns),
            )
        rows.append((f"line {number}", dict(zip(columns, (cell.strip() for cell in line), strict=True))))
    if not rows:
        raise InputError("table holds no readings", path=path, expected="a row for every reading")
    return columns, rows


def positive_mm(cell: str, path: object, where: str, *, or_zero: bool = False) -> float:
    """Return a length from a cell, above zero (or zero) and at most 10 m.

    Raises
    ------
    InputError
        For anything else.
    """
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not (0 < value <= _LONGEST_MM or (or_zero and value == 0)):
        raise InputError(
            "length cannot be",
            path=path,
            where=where,
            found=repr(cell),
            expected=f"{'0' if or_zero else 'above 0'} to {_LONGEST_MM:,.0f} mm",
        )
    return value
