"""Pieces of free shape on a roll, as short as can be found in the time given.

Nesting happens in finished millimetres and the result is scaled to printed ones, each axis by itself. Such a
scaling keeps what is apart apart, and a piece that lies across the grain shrinks the other way, so turning
must come before scaling; scaling first and turning then would cut pieces of the wrong shape.
"""

from __future__ import annotations

import math
from importlib.util import find_spec
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError, StrikeoffError, UsageError
from strikeoff.base.progress import Progress, silent
from strikeoff.layout.contours import Points, import_shapely
from strikeoff.layout.contours_process import ask_process
from strikeoff.layout.finishing import finishing_factor
from strikeoff.layout.shape_plans import PlacedShape, ShapeJob, ShapePlan
from strikeoff.layout.shapes import TURNS, Shape, check_shapes

MOST_SECONDS = 3600

_MEMORY_BYTES = 8 << 30
# The library counts in single precision: so much more is asked for, and so much less is let pass.
_SLACK_MM = 0.02
# Gaps that a strip holds at least when the library takes its own off the ends.
_SHORTEST_GAPS = 10


def nest_shapes(
    job: ShapeJob, *, seconds: int = 30, seed: int = 1, threads: int = 1, progress: Progress = silent
) -> ShapePlan:
    """Lay all copies on the cloth without overlap, and check that they lie so.

    Parameters
    ----------
    job : ShapeJob
        Pieces and cloth.
    seconds : int
        Time for searching, 1 to 3,600. [s]
    seed : int
        Of the search. One thread and one seed search in one order, but the time decides how far.
    threads : int
        1 to 64.
    progress : Progress
        Told how much of the time is over; what it raises stops the search.

    Raises
    ------
    UsageError
        Time, seed or threads that cannot be; the library is missing.
    InputError
        A piece wider than the cloth in every turn that it may have; cloth that cannot be; a search that
        breaks down. RangeError for the dimensional change.

    References
    ----------
    Gardeyn, Vanden Berghe and Wauters, the strip packing heuristic behind the library, 2025 (from memory).
    """
    _check(job, seconds, seed, threads)
    wide = (job.width_mm - 2 * job.margin_mm) * finishing_factor(job.weft_percent)
    turns = [_fitting(shape, wide) for shape in job.shapes]
    bound = lower_bound_mm(job.shapes, wide)
    apart = job.gap_mm + _SLACK_MM if job.gap_mm > 0 else 0.0
    # The library starts from a strip as short as the area needs and takes the gap off its ends: on little
    # cloth nothing is left, so there the pieces themselves are made wider by half the gap.
    widened = apart if _area(job.shapes) < _SHORTEST_GAPS * apart * wide else 0.0
    # The strip of the library runs along x: turned by a quarter, never mirrored.
    items = [
        [_to_strip(_widened(shape.outline.points, widened / 2)).tolist(), shape.count, allowed]
        for shape, allowed in zip(job.shapes, turns, strict=True)
    ]
    request = {
        # The library keeps pieces away from the edges of the strip as well; the cloth ends there already.
        "items": items, "height": wide + (widened or 2 * apart) + _SLACK_MM, "apart": apart - widened,
        "seconds": seconds, "seed": seed, "threads": threads,
    }  # fmt: skip
    answer = ask_process(
        "strikeoff.layout.shapes_worker",
        request,
        seconds=3 * seconds + 60,
        memory_bytes=_MEMORY_BYTES,
        what="nesting",
        progress=progress,
    )
    placed = _placed(job, answer["placed"], wide)
    length = max(float(p.outline[:, 1].max()) for p in placed)
    plan = ShapePlan(job, placed, length, bound, _area(job.shapes) / (wide * length))
    check_plan(plan)
    return plan


def lower_bound_mm(shapes: tuple[Shape, ...], wide_mm: float) -> float:
    """Return a length that no nesting can fall below: the area over the width, or the longest piece.

    The length of a piece counts in the turn in which it is shortest; for every angle, its least width.
    """
    longest = 0.0
    for shape in shapes:
        allowed = TURNS[shape.turn]
        if allowed is None:
            longest = max(longest, _least_width(shape.outline.points))
        else:
            longest = max(longest, min(np.ptp(turned(shape.outline.points, a)[:, 1]) for a in allowed))
    return max(float(longest), _area(shapes) / wide_mm)


def turned(points: Points, degrees: float) -> Points:
    """Return points turned clockwise as seen, y downwards, about the origin."""
    angle = math.radians(degrees)
    cosine, sine = math.cos(angle), math.sin(angle)
    return np.asarray(points @ np.array([[cosine, sine], [-sine, cosine]]))


def check_plan(plan: ShapePlan) -> None:
    """Find pieces that overlap, come too close, lie beyond the cloth or are missing, without the search.

    Raises
    ------
    StrikeoffError
        An internal fault: such a plan is never given out.
    """
    shapely = import_shapely()
    job, wide = plan.job, plan.cuttable_mm[1]
    found = [placed.shape for placed in plan.placed]
    for shape in job.shapes:
        if found.count(shape.name) != shape.count:
            raise StrikeoffError("nesting lost a piece", where=shape.name, found=found.count(shape.name))
    for placed in plan.placed:
        low, high = placed.outline.min(axis=0), placed.outline.max(axis=0)
        if min(low) < -_SLACK_MM or high[0] > wide + _SLACK_MM or high[1] > plan.length_mm + _SLACK_MM:
            raise StrikeoffError("nested piece lies beyond the cloth", where=placed.name)
    shapes = np.array([shapely.Polygon(placed.outline) for placed in plan.placed], dtype=object)
    tree = shapely.STRtree(shapes)
    if job.gap_mm > _SLACK_MM:
        first, second = tree.query(shapes, predicate="dwithin", distance=job.gap_mm - _SLACK_MM)
    else:
        # What is left of a piece when a hair is taken off all around must not reach another piece.
        first, second = tree.query(shapely.buffer(shapes, -_SLACK_MM), predicate="intersects")
    pairs = first != second
    first, second = first[pairs], second[pairs]
    if len(first):
        names = plan.placed[int(first[0])].name, plan.placed[int(second[0])].name
        raise StrikeoffError("nested pieces come too close", where=" and ".join(names))


def _placed(job: ShapeJob, rows: list[list[float]], wide: float) -> tuple[PlacedShape, ...]:
    moved = []
    for index, degrees, u, v in rows:
        shape = job.shapes[int(index)]

        def lying(points: Points, degrees: float = degrees, u: float = u, v: float = v) -> Points:
            return _from_strip(turned(_to_strip(points), degrees) + np.array([u, v]))

        moved.append((shape, degrees, lying(shape.outline.points), [lying(h.points) for h in shape.holes]))
    # All start at the head of the cloth, and within its edges: rounding of the search is put right here.
    everything = np.concatenate([outline for _, _, outline, _ in moved])
    low, high = everything.min(axis=0), everything.max(axis=0)
    if high[0] - low[0] > wide:
        left = (wide - high[0] - low[0]) / 2
    else:
        left = min(max(-low[0], 0.0), wide - high[0])
    shift = np.array([left, -low[1]])
    moved.sort(key=lambda row: float(row[2][:, 1].min()))
    numbers = {shape.name: 0 for shape in job.shapes}
    placed = []
    for shape, degrees, outline, holes in moved:
        numbers[shape.name] += 1
        name = shape.name if shape.count == 1 else f"{shape.name} {numbers[shape.name]}"
        turn = round(degrees % 360, 6) % 360
        placed.append(
            PlacedShape(name, shape.name, turn, outline + shift, tuple(hole + shift for hole in holes))
        )
    return tuple(placed)


def _widened(points: Points, by_mm: float) -> Points:
    """Return an outline moved outwards; its corners stay corners."""
    if by_mm == 0:
        return points
    shapely = import_shapely()
    grown = shapely.buffer(shapely.Polygon(points), by_mm, join_style="mitre", mitre_limit=2.0)
    return np.asarray(shapely.get_coordinates(grown.exterior)[:-1])


def _to_strip(points: Points) -> Points:
    """Across and along to the strip's length and height: a quarter turn, determinant 1."""
    return np.stack([points[:, 1], -points[:, 0]], axis=1)


def _from_strip(points: Points) -> Points:
    return np.stack([-points[:, 1], points[:, 0]], axis=1)


def _fitting(shape: Shape, wide: float) -> list[float] | None:
    """Return the turns in which a piece fits the width; None for every angle."""
    points, allowed = shape.outline.points, TURNS[shape.turn]
    if allowed is None:
        least = _least_width(points)
        fits: Any = [] if least > wide else None
    else:
        widths = [float(np.ptp(turned(points, a)[:, 0])) for a in allowed]
        least = min(widths)
        fits = [a for a, w in zip(allowed, widths, strict=True) if w <= wide]
    if fits == []:
        raise InputError(
            "piece is wider than the cloth",
            where=f"shape {shape.name}",
            found=f"{least:.1f} mm finished",
            expected=f"at most {wide:.1f} mm finished",
            advice="Allow more turns, or split it into panels",
        )
    return fits  # type: ignore[no-any-return]


def _least_width(points: Points) -> float:
    """Return the least width over all angles: an edge of the hull lies on a side (Houle, Toussaint 1988)."""
    shapely = import_shapely()
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.Polygon(points)).exterior)
    edges = np.diff(hull, axis=0)
    normals = np.stack([-edges[:, 1], edges[:, 0]], axis=1) / np.hypot(*edges.T)[:, None]
    return float(np.ptp(hull @ normals.T, axis=0).min())


def _area(shapes: tuple[Shape, ...]) -> float:
    """Area of all outlines; holes count as cloth that is used, for nothing is nested in them."""
    shapely = import_shapely()
    return sum(float(shapely.Polygon(s.outline.points).area) * s.count for s in shapes)


def _check(job: ShapeJob, seconds: int, seed: int, threads: int) -> None:
    if find_spec("spyrrow") is None:
        raise UsageError(
            "nesting free shapes needs an optional package",
            found="no package spyrrow",
            expected="strikeoff installed with its extra: strikeoff[nest]",
        )
    check_shapes(job.shapes)
    if not 1 <= seconds <= MOST_SECONDS:
        raise UsageError("time cannot be", found=f"{seconds} s", expected=f"1 to {MOST_SECONDS:,} s")
    if not 0 <= seed < 1 << 32 or not 1 <= threads <= 64:
        raise UsageError(
            "seed or threads cannot be", found=f"{seed}, {threads}", expected="0 or more; 1 to 64"
        )
    if not (1 <= job.width_mm <= 200_000 and 0 <= job.margin_mm < job.width_mm / 2):
        raise InputError(
            "cloth cannot be",
            found=f"{job.width_mm:g} mm wide, {job.margin_mm:g} mm lost at each edge",
            expected="1 to 200,000 mm, less than half of it lost at each edge",
        )
    if not 0 <= job.gap_mm <= 500:
        raise InputError("gap cannot be", found=f"{job.gap_mm:g} mm", expected="0 to 500 mm")
    finishing_factor(job.warp_percent)
