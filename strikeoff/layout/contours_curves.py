"""Curves as straight pieces that lie nowhere farther away than a tolerance."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

_MOST_PIECES = 4096


def flat_bezier(nodes: NDArray[np.float64], tolerance: float) -> NDArray[np.float64]:
    """Return points of a Bézier curve, its first node left out.

    Parameters
    ----------
    nodes : ndarray, shape (3 or 4, 2)
        Of a quadratic or cubic curve.
    tolerance : float
        Most distance between curve and chord.

    Notes
    -----
    A chord over a stretch h of the parameter is at most h^2 max|B''| / 8 away; the second derivative is
    bounded by the second differences of the nodes (any text on numerical analysis).


    Examples
    --------
    >>> flat_bezier(np.array([[0, 0], [1, 2], [2, 0.0]]), 0.5).tolist()
    [[1.0, 1.0], [2.0, 0.0]]
    """
    degree = len(nodes) - 1
    bend = degree * (degree - 1) * float(np.hypot(*np.diff(nodes, n=2, axis=0).T).max())
    if not math.isfinite(bend):
        return nodes[1:]
    pieces = min(_MOST_PIECES, max(1, math.ceil(math.sqrt(bend / (8 * tolerance)))))
    t = np.linspace(0, 1, pieces + 1)[1:, None]
    line = [nodes[i] for i in range(degree + 1)]
    while len(line) > 1:
        line = [(1 - t) * a + t * b for a, b in pairwise(line)]
    points = line[0]
    points[-1] = nodes[-1]
    return np.asarray(points)


def arc_pieces(radius: float, sweep: float, tolerance: float) -> int:
    """Return into how many chords an arc parts so that none lies farther away than the tolerance.

    Parameters
    ----------
    radius, tolerance : float
        In one unit.
    sweep : float
        Angle of the arc. [rad]

    Examples
    --------
    >>> arc_pieces(100, 2 * math.pi, 0.05)
    100
    """
    if not (math.isfinite(radius) and math.isfinite(sweep)):
        return 1
    step = math.pi / 4 if radius <= tolerance else 2 * math.acos(max(0.0, 1 - tolerance / radius))
    return min(_MOST_PIECES, max(1, math.ceil(abs(sweep) / min(step, math.pi / 4))))
