"""Cut paths: contours laid on the roll, moved out or in, turned into printed millimetres, put in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.progress import Progress, silent
from strikeoff.layout.contours import (
    Contour,
    Points,
    check_contours,
    nesting_depth,
    printable,
)
from strikeoff.layout.finishing import printed_mm

_CORNER_RAD = np.deg2rad(25.0)
_BEYOND_MM = 0.01
_TELL_EVERY = 256


@dataclass(frozen=True)
class CutPath:
    """One closed cut.

    Attributes
    ----------
    name : str
        Of the piece and its contour.
    points : ndarray, shape (n, 2)
        Printed millimetres in the order of cutting, the first, where the knife goes in, not repeated; the
        piece lies to the right of the knife as seen from the printed side. [mm]
    is_inner : bool
        A hole of a piece.
    """

    name: str
    points: Points
    is_inner: bool


@dataclass(frozen=True)
class CutPlan:
    """All cuts of a roll or a drawing in their order.

    Attributes
    ----------
    paths : tuple of CutPath
        Holes before the outline around them, then the nearest next.
    box_mm : tuple of float
        Printed left, top, right, bottom of the cloth or drawing. [mm]
    """

    paths: tuple[CutPath, ...]
    box_mm: tuple[float, float, float, float]

    @property
    def cut_m(self) -> float:
        """Length of all cuts, printed, in metres."""
        return float(sum(_lengths(path.points).sum() for path in self.paths)) / 1000

    @property
    def travel_m(self) -> float:
        """Length of all ways between cuts, printed, in metres."""
        starts = np.array([path.points[0] for path in self.paths])
        return float(np.hypot(*np.diff(starts, axis=0).T).sum()) / 1000


def plan_cuts(
    contours: Sequence[Contour],
    warp_percent: float,
    weft_percent: float,
    *,
    box_mm: tuple[float, float, float, float] | None = None,
    progress: Progress = silent,
) -> CutPlan:
    """Return cuts in printed millimetres, in the order in which they are to be made.

    Parameters
    ----------
    contours : sequence of Contour
        On the finished cloth. [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across, shrinkage negative. [%]
    box_mm : tuple of float, optional
        Printed left, top, right, bottom of the cloth: cuts beyond it are refused. Without it, the box of the
        cuts. [mm]
    progress : Progress
        Told how many cuts have their place in the order.

    Raises
    ------
    InputError
        What `check_contours` finds; a cut beyond the cloth. RangeError for the dimensional change.
    """
    scale = np.array([printed_mm(1.0, weft_percent), printed_mm(1.0, warp_percent)])
    check_contours(contours)
    depth, parent = nesting_depth(contours)
    lines = []
    for contour, level in zip(contours, depth, strict=True):
        points = contour.points * scale
        # With y downwards this area is positive for a line that runs clockwise as seen.
        if (_area(points) < 0) != bool(level % 2):
            points = points[::-1]
        lines.append(CutPath(printable(contour.name), np.ascontiguousarray(points), bool(level % 2)))
    low = np.min([line.points.min(axis=0) for line in lines], axis=0)
    high = np.max([line.points.max(axis=0) for line in lines], axis=0)
    if box_mm is None:
        box = float(low[0]), float(low[1]), float(high[0]), float(high[1])
    else:
        box = box_mm
        _check_inside(lines, box)
    return CutPlan(tuple(_in_order(lines, parent, progress)), box)


def _check_inside(lines: Sequence[CutPath], box: tuple[float, float, float, float]) -> None:
    for line in lines:
        low, high = line.points.min(axis=0), line.points.max(axis=0)
        if (low < np.array(box[:2]) - _BEYOND_MM).any() or (high > np.array(box[2:]) + _BEYOND_MM).any():
            raise InputError(
                "cut lies beyond the cuttable cloth",
                where=f"contour {line.name}",
                found=f"{low[0]:.1f} to {high[0]:.1f} mm across, {low[1]:.1f} to {high[1]:.1f} along",
                expected=f"printed {box[0]:.1f} to {box[2]:.1f} across, {box[1]:.1f} to {box[3]:.1f} along",
            )


def _in_order(lines: Sequence[CutPath], parent: NDArray[np.int64], progress: Progress) -> list[CutPath]:
    """Return the nearest that is free, again and again; a line is free when all in it are cut."""
    inside = np.bincount(parent[parent >= 0], minlength=len(lines))
    entries = [_entries(line.points) for line in lines]
    owner = np.repeat(np.arange(len(lines)), [len(e) for e in entries])
    index = np.concatenate(entries)
    places = np.concatenate([line.points[e] for line, e in zip(lines, entries, strict=True)])
    blocked = np.where((inside > 0)[owner], np.inf, 0.0)
    # Two plain rows, for a sum over pairs would take longer than all else.
    across, along = np.ascontiguousarray(places.T)
    here, found = np.array([0.0, 0.0]), []
    spans = np.concatenate([[0], np.cumsum([len(e) for e in entries])])
    for done in range(len(lines)):
        if done % _TELL_EVERY == 0:
            progress("order cuts", done / len(lines))
        away = (across - here[0]) ** 2 + (along - here[1]) ** 2 + blocked
        best = int(np.argmin(away))
        i = int(owner[best])
        line = lines[i]
        found.append(CutPath(line.name, np.roll(line.points, -int(index[best]), axis=0), line.is_inner))
        here = places[best]
        blocked[spans[i] : spans[i + 1]] = np.inf
        up = int(parent[i])
        if up >= 0:
            inside[up] -= 1
            if inside[up] == 0:
                blocked[spans[up] : spans[up + 1]] = 0.0
    return found


def _entries(points: Points) -> NDArray[np.int64]:
    """Return where the knife may go in: at corners, or on a smooth line at up to eight of its points."""
    ahead, behind = np.roll(points, -1, axis=0) - points, points - np.roll(points, 1, axis=0)
    cross = ahead[:, 0] * behind[:, 1] - ahead[:, 1] * behind[:, 0]
    corners = np.flatnonzero(np.abs(np.arctan2(cross, (ahead * behind).sum(axis=1))) > _CORNER_RAD)
    if not corners.size:
        corners = np.arange(len(points))
    return corners[:: max(1, -(-len(corners) // 8))]


def _area(points: Points) -> float:
    x, y = points.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def _lengths(points: Points) -> NDArray[np.float64]:
    return np.asarray(np.hypot(*(np.roll(points, -1, axis=0) - points).T))
