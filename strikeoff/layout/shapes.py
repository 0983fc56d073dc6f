"""Pieces of free shape that are to be nested: outline, holes, count and the turns that the grain allows."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.layout.contours import (
    Contour,
    ContourSet,
    check_contours,
    closed_contour,
    nesting_depth,
)
from strikeoff.layout.contours_dxf import read_dxf_contours
from strikeoff.layout.contours_svg import read_svg_contours

SHAPES_SCHEMA = "strikeoff/shapes/1"
MOST_SHAPES, MOST_COPIES = 2_000, 10_000

#: Turns by name, in degrees; None for every angle.
TURNS: dict[str, tuple[float, ...] | None] = {
    "none": (0.0,),
    "180": (0.0, 180.0),
    "90": (0.0, 90.0, 180.0, 270.0),
    "any": None,
}

_MOST_BYTES = 32 << 20
_FIELDS = {"name", "points", "holes", "count", "turn"}


@dataclass(frozen=True)
class Shape:
    """A piece that is wanted some times.

    Attributes
    ----------
    name : str
        Unique.
    outline : Contour
        Finished, as the grain runs upright. [mm]
    holes : tuple of Contour
        In it; nothing is nested there. [mm]
    count : int
        Copies.
    turn : str
        One of `TURNS`.
    """

    name: str
    outline: Contour
    holes: tuple[Contour, ...] = ()
    count: int = 1
    turn: str = "180"


def read_shapes(
    path: str | Path, *, count: int = 1, turn: str = "180", tolerance_mm: float = 0.05
) -> tuple[Shape, ...]:
    """Read shapes from an SVG or DXF drawing or the shapes document.

    Parameters
    ----------
    path : path-like
        In a drawing every contour that lies in no other is a piece; those in it are its holes.
    count : int
        Copies of a piece of which the file tells none.
    turn : str
        Turns of a piece of which the file tells none: ``none``, ``180``, ``90`` or ``any``.
    tolerance_mm : float
        Most distance of curves from the straight pieces that stand for them. [mm]

    Raises
    ------
    InputError
        What the readers and `check_contours` find; two pieces of one name, counts that cannot be.
    """
    file = Path(path)
    _check_turn(turn, None, UsageError)
    ending = file.suffix.lower()
    if ending == ".json":
        shapes = _document(file, count, turn)
    elif ending in (".svg", ".dxf"):
        read = read_svg_contours if ending == ".svg" else read_dxf_contours
        shapes = _drawn(read(file, tolerance_mm), count, turn, file)
    else:
        raise UsageError("unknown kind of shapes", found=file.name, expected="a name in .svg, .dxf or .json")
    check_shapes(shapes, path=file)
    return shapes


def check_shapes(shapes: tuple[Shape, ...], *, path: object = None) -> None:
    """Raise InputError for names that come twice, and for counts that cannot be or are too many."""
    if not shapes:
        raise InputError("there is no shape", path=path, expected="at least one closed line")
    names = [shape.name for shape in shapes]
    twice = next((name for name in names if names.count(name) > 1), None) if len(names) < 3_000 else None
    if twice is not None:
        raise InputError("two shapes have one name", path=path, found=twice, expected="a name for each")
    for shape in shapes:
        if not 1 <= shape.count <= MOST_COPIES:
            raise InputError(
                "count cannot be",
                path=path,
                where=f"shape {shape.name}",
                found=shape.count,
                expected=f"1 to {MOST_COPIES:,}",
            )
    total = sum(shape.count for shape in shapes)
    if len(shapes) > MOST_SHAPES or total > MOST_COPIES:
        raise InputError(
            "too many pieces",
            path=path,
            found=f"{len(shapes):,} shapes, {total:,} pieces",
            expected=f"at most {MOST_SHAPES:,} shapes and {MOST_COPIES:,} pieces",
        )


def _drawn(found: ContourSet, count: int, turn: str, file: Path) -> tuple[Shape, ...]:
    check_contours(found.contours, path=file)
    depth, parent = nesting_depth(found.contours)
    holes: dict[int, list[Contour]] = {}
    for i in np.flatnonzero(depth == 1).tolist():
        holes.setdefault(int(parent[i]), []).append(found.contours[i])
    if (depth > 1).any():
        i = int(np.argmax(depth > 1))
        raise InputError(
            "a piece lies in the hole of another",
            path=file,
            where=f"contour {found.contours[i].name}",
            advice="Draw pieces side by side",
        )
    return tuple(
        Shape(found.contours[i].name, found.contours[i], tuple(holes.get(i, ())), count, turn)
        for i in np.flatnonzero(depth == 0).tolist()
    )


def _document(file: Path, count: int, turn: str) -> tuple[Shape, ...]:
    try:
        record = json.loads(read_bytes(file, _MOST_BYTES))
    except (ValueError, RecursionError) as error:
        raise InputError("shapes are not JSON", path=file, found=str(error)[:120]) from None
    if not isinstance(record, dict) or record.get("schema") != SHAPES_SCHEMA:
        found = record.get("schema") if isinstance(record, dict) else type(record).__name__
        raise InputError("not shapes", path=file, where="schema", found=found, expected=SHAPES_SCHEMA)
    rows = record.get("shapes")
    if not isinstance(rows, list) or not rows:
        raise InputError("there is no shape", path=file, where="shapes", expected="a list of shapes")
    return tuple(_shape(row, i, file, count, turn) for i, row in enumerate(rows))


def _shape(row: Any, i: int, file: Path, count: int, turn: str) -> Shape:
    where = f"shapes[{i}]"
    if not isinstance(row, dict):
        raise InputError("shape is not an object", path=file, where=where, found=type(row).__name__)
    strange = set(row) - _FIELDS
    if strange:
        raise InputError("shape has unknown fields", path=file, where=where, found=", ".join(sorted(strange)))
    name = row.get("name")
    if not isinstance(name, str) or not name:
        raise InputError("shape has no name", path=file, where=f"{where}.name", found=name)
    copies, turns = row.get("count", count), row.get("turn", turn)
    if isinstance(copies, bool) or not isinstance(copies, int):
        raise InputError("whole number expected", path=file, where=f"{where}.count", found=copies)
    _check_turn(turns, f"{where}.turn", InputError, file)
    holes = row.get("holes", [])
    if not isinstance(holes, list):
        raise InputError("list of holes expected", path=file, where=f"{where}.holes")
    outline = closed_contour(name, _numbers(row.get("points"), file, f"{where}.points"), path=file)
    inner = tuple(
        closed_contour(f"{name}/{k}", _numbers(hole, file, f"{where}.holes"), path=file)
        for k, hole in enumerate(holes, 1)
    )
    check_contours((outline, *inner), path=file)
    depth, _ = nesting_depth((outline, *inner))
    if (depth[1:] != 1).any() or depth[0] != 0:
        raise InputError("hole lies outside its piece", path=file, where=f"shape {name}")
    return Shape(name, outline, inner, copies, turns)


def _numbers(rows: Any, file: Path, where: str) -> list[list[float]]:
    good = isinstance(rows, list) and all(
        isinstance(row, list)
        and len(row) == 2
        and all(isinstance(v, int | float) and not isinstance(v, bool) and abs(v) < 1e9 for v in row)
        for row in rows
    )
    if not good or not all(math.isfinite(v) for row in rows for v in row):
        raise InputError("points expected", path=file, where=where, expected="a list of [x, y] in mm")
    return [[float(v) for v in row] for row in rows]


def _check_turn(
    turn: Any, where: str | None, error: type[InputError] | type[UsageError], file: Path | None = None
) -> None:
    if not isinstance(turn, str) or turn not in TURNS:
        raise error("unknown turn", path=file, where=where, found=turn, expected=", ".join(TURNS))
