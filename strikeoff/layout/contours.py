"""Closed contours in finished millimetres: what makes one fit to be cut along, and what does not.

x runs across and y along the cloth, y downwards, as in the layout document.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError

Points = NDArray[np.float64]

MOST_CONTOURS = 20_000
MOST_POINTS = 2_000_000
LONGEST_MM = 200_000.0
TOLERANCE_MM = 0.05

# Closer points are one point; smaller overlaps are rounding.
_SAME_MM = 1e-7
_TOUCH_MM2 = 1e-3


@dataclass(frozen=True)
class Contour:
    """A closed line.

    Attributes
    ----------
    name : str
        As the file calls it, or its number.
    points : ndarray, shape (n, 2)
        Corners in order, the first not repeated. [mm]
    """

    name: str
    points: Points


@dataclass(frozen=True)
class ContourSet:
    """The contours of one file.

    Attributes
    ----------
    contours : tuple of Contour
        In the order of the file.
    size_mm : tuple of float, optional
        Page or artboard that they lie on; None where the format has none and the origin is at the lower
        edge. [mm]
    """

    contours: tuple[Contour, ...]
    size_mm: tuple[float, float] | None


def closed_contour(name: str, points: Any, *, path: object = None, is_closed: bool = True) -> Contour:
    """Return a contour without repeated points.

    Parameters
    ----------
    name : str
        For messages.
    points : array_like, shape (n, 2)
        Corners; the first may be repeated at the end. [mm]
    path : path-like, optional
        File, for messages.
    is_closed : bool
        Whether the file says that the last point joins the first.

    Raises
    ------
    InputError
        Open, not numbers, farther out than 200 m, fewer than three different points.

    Examples
    --------
    >>> len(closed_contour("a", [(0, 0), (9, 0), (9, 9), (0, 0)]).points)
    3
    """
    line = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    where = f"contour {name}"
    bad = np.flatnonzero(~np.isfinite(line).all(axis=1) | (np.abs(line) > LONGEST_MM).any(axis=1))
    if bad.size:
        raise InputError(
            "contour has a point that cannot be",
            path=path,
            where=where,
            found=f"point {bad[0] + 1}: {line[bad[0], 0]:g}, {line[bad[0], 1]:g}",
            expected="numbers of at most 200,000 mm",
        )
    if len(line) > 1 and np.hypot(*(line[0] - line[-1])) <= 1e-3:
        line, is_closed = line[:-1], True
    if not is_closed and len(line):
        raise InputError(
            "contour is open",
            path=path,
            where=where,
            found=f"ends at {_place(line[-1])}, {np.hypot(*(line[-1] - line[0])):.2f} mm from its start at "
            f"{_place(line[0])}",
            expected="a closed line",
            advice="Close it in the drawing program",
        )
    keep = np.hypot(*(line - np.roll(line, 1, axis=0)).T) > _SAME_MM
    line = line[keep]
    if len(line) < 3:
        raise InputError(
            "contour encloses nothing", path=path, where=where, found=f"{len(line)} different points"
        )
    return Contour(name, line)


def check_contours(contours: Sequence[Contour], *, path: object = None) -> None:
    """Find contours that cannot be cut along.

    Raises
    ------
    InputError
        None, too many, one that crosses or touches itself, two that cross or lie on each other; the place is
        named. [mm]

    Examples
    --------
    >>> check_contours([closed_contour("bow", [(0, 0), (10, 10), (10, 0), (0, 10)])])
    Traceback (most recent call last):
    strikeoff.base.errors.InputError: contour bow: contour crosses itself (found near 5, 5 mm; expected a \
simple closed line). Part it there in the drawing program
    """
    check_amount(contours, path=path)
    shapely = import_shapely()
    for contour in contours:
        _check_points(contour, path)
    shapes = shapely.polygons([shapely.linearrings(contour.points) for contour in contours])
    valid = shapely.is_valid(shapes)
    for i in np.flatnonzero(~valid).tolist():
        reason = str(shapely.is_valid_reason(shapes[i]))
        place = reason.partition("[")[2].rstrip("]").split()
        raise InputError(
            "contour crosses itself",
            path=path,
            where=f"contour {contours[i].name}",
            found=f"near {_place(np.array(place, float))} mm" if len(place) >= 2 else reason,
            expected="a simple closed line",
            advice="Part it there in the drawing program",
        )
    tree = shapely.STRtree(shapes)
    for relation, message in (
        ("overlaps", "two contours cross"),
        ("covers", "two contours lie on each other"),
    ):
        first, second = tree.query(shapes, predicate=relation)
        above = first < second
        first, second = first[above], second[above]
        if relation == "covers":
            alike = shapely.equals(shapes[first], shapes[second])
        else:
            alike = shapely.area(shapely.intersection(shapes[first], shapes[second])) > _TOUCH_MM2
        for i, j in zip(first[alike].tolist(), second[alike].tolist(), strict=True):
            shared = shapely.intersection(shapes[i].exterior, shapes[j].exterior)
            place = shapely.get_coordinates(shared)
            raise InputError(
                message,
                path=path,
                where=f"contours {contours[i].name} and {contours[j].name}",
                found=f"near {_place(place[0])} mm" if len(place) else None,
                expected="contours inside or beside each other",
            )


def _check_points(contour: Contour, path: object) -> None:
    """Refuse a line that comes back to a point; the general check would be slow where many coincide."""
    order = np.lexsort(contour.points.T)
    same = np.flatnonzero((np.diff(contour.points[order], axis=0) == 0).all(axis=1))
    if same.size:
        raise InputError(
            "contour crosses itself",
            path=path,
            where=f"contour {contour.name}",
            found=f"comes back to {_place(contour.points[order[same[0]]])} mm",
            expected="a simple closed line",
            advice="Part it there in the drawing program",
        )


def check_amount(contours: Sequence[Contour], *, path: object = None) -> None:
    """Raise InputError where there are no contours or more than can be handled."""
    if not contours:
        raise InputError("there is no contour", path=path, expected="at least one closed line")
    points = sum(len(contour.points) for contour in contours)
    if len(contours) > MOST_CONTOURS or points > MOST_POINTS:
        raise InputError(
            "too many contours",
            path=path,
            found=f"{len(contours):,} contours, {points:,} points",
            expected=f"at most {MOST_CONTOURS:,} contours and {MOST_POINTS:,} points",
        )


def check_tolerance(tolerance_mm: float) -> None:
    """Raise UsageError for a tolerance outside 0.001 to 5 mm."""
    if not 0.001 <= tolerance_mm <= 5:
        raise UsageError("tolerance cannot be", found=f"{tolerance_mm:g} mm", expected="0.001 to 5 mm")


def nesting_depth(contours: Sequence[Contour]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return in how many others each contour lies, and the innermost of those, -1 for none.

    Returns
    -------
    depth, parent : ndarray of int, shape (n,)
    """
    shapely = import_shapely()
    shapes = shapely.polygons([shapely.linearrings(contour.points) for contour in contours])
    inner, outer = shapely.STRtree(shapes).query(shapes, predicate="within")
    apart = inner != outer
    inner, outer = inner[apart], outer[apart]
    depth = np.bincount(inner, minlength=len(contours)).astype(np.int64)
    parent = np.full(len(contours), -1, dtype=np.int64)
    areas = shapely.area(shapes)
    for i, j in zip(inner, outer, strict=True):
        if parent[i] < 0 or areas[j] < areas[parent[i]]:
            parent[i] = j
    return depth, parent


def import_shapely() -> Any:
    """Return the geometry library of the extra ``cut``."""
    try:
        import shapely
    except ImportError as error:
        raise UsageError(
            "cut paths need optional packages",
            found="no package shapely",
            expected="strikeoff installed with its extra: strikeoff[cut]",
        ) from error
    return shapely


def printable(text: str) -> str:
    """Return text without characters that would break a line or a file format.

    Examples
    --------
    >>> printable("a" + chr(10) + "b")
    'a?b'
    """
    return "".join(c if c.isprintable() else "?" for c in text)


def _place(point: Points) -> str:
    return f"{point[0]:.6g}, {point[1]:.6g}"
