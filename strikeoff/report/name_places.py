"""Where names stand beside the marks of a drawing, so that none lies on another."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

# About how wide such a drawing is, and how large letters, lines and half a mark are in it. [points]
_PLOT, _LETTER, _LINE, _MARK = 230.0, 7.5, 12.0, 6.0
# Marks nearer to the middle have no outside. [points]
_MIDDLE = 14.0
_TURNS = np.radians((0, 45, -45, 90, -90, 135, -135, 180))
_FARTHER = (0.0, 8.0, 18.0)


def name_places(
    marks: Sequence[tuple[str, tuple[float, ...]]],
    reach: float,
    edges: tuple[float, float, float, float] | None = None,
) -> list[tuple[float, float]]:
    """Return where the middle of each name stands from its mark, in points.

    Parameters
    ----------
    marks : sequence of (name, place)
        Place in the drawing's units, its middle being 0, 0.
    reach : float
        Width of the drawing in its units.
    edges : (float, float, float, float), optional
        Left, right, lower and upper edge in its units, which names should not cross.

    Returns
    -------
    list of (float, float)
        Outwards if that keeps clear of other marks and names, else where it covers least.
    """
    middles = np.array([place for _, place in marks], dtype=np.float64) * _PLOT / reach
    left, right, low, high = np.array(edges or (-np.inf, np.inf, -np.inf, np.inf)) * _PLOT / reach
    places: list[tuple[float, float]] = []
    taken = [(float(x), float(y), _MARK, _MARK) for x, y in middles]
    for (x, y), (name, _) in zip(middles, marks, strict=True):
        lines = name.split("\n")
        half = (max(map(len, lines)) * _LETTER / 2, len(lines) * _LINE / 2)
        outward = np.arctan2(y, x) if np.hypot(x, y) > _MIDDLE else np.radians(225.0)
        best, least = (0.0, 0.0), np.inf
        for farther, turn in product(_FARTHER, _TURNS):
            away = _MARK + 3.0 + farther
            place = (
                float(np.cos(outward + turn) * (away + half[0])),
                float(np.sin(outward + turn) * (away + half[1])),
            )
            at_x, at_y = x + place[0], y + place[1]
            covered = sum(_overlap((at_x, at_y, *half), other) for other in taken)
            # What lies beyond an edge covers the figures of an axis.
            over = max(left - (at_x - half[0]), 0.0) + max(at_x + half[0] - right, 0.0)
            covered += float(over * 2 * half[1] + max(low - at_y, 0.0) + max(at_y - high, 0.0))
            if covered < least - 1e-9:
                best, least = place, covered
        places.append(best)
        taken.append((float(x + best[0]), float(y + best[1]), *half))
    return places


def _overlap(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """Return the area that two boxes, given by middle and half sides, share."""
    sides = [one[k + 2] + other[k + 2] - abs(one[k] - other[k]) for k in (0, 1)]
    return max(sides[0], 0.0) * max(sides[1], 0.0)
