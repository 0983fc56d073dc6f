"""Compiled mixing of recipes by weights."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

_FULL = 65535


@njit(cache=True, nogil=True)
def _curved(curves: NDArray[np.uint16], i: int, j: int, share: int) -> int:
    """Return the ink share of colour ``j`` where its share of the area beside ``i`` is ``share``."""
    steps = curves.shape[2] - 1
    turned = i > j
    if turned:
        i, j, share = j, i, _FULL - share
    at = share * steps
    node, rest = at // _FULL, at % _FULL
    found = int(curves[i, j, node])
    if rest > 0:
        found = (found * (_FULL - rest) + int(curves[i, j, node + 1]) * rest + _FULL // 2) // _FULL
    return _FULL - found if turned else found


@njit(cache=True, nogil=True)
def mix_recipes(
    places: NDArray[np.uint8],
    weights: NDArray[np.uint16],
    recipes: NDArray[np.uint16],
    curves: NDArray[np.uint16],
    out: NDArray[np.uint16],
) -> None:
    """Mix recipes by weights, pair by pair along a curve.

    Parameters
    ----------
    places, weights : ndarray of uint8 and uint16, shape (rows, width, 3)
        Colours of each pixel and their shares of it, which add up to 65535.
    recipes : ndarray of uint16, shape (n, inks)
        Ink of each colour.
    curves : ndarray of uint16, shape (n, n, steps + 1)
        For ``i < j`` the ink share of colour ``j`` at even shares of its area beside ``i``.
    out : ndarray of uint16, shape (rows, width, inks)
        Filled.
    """
    rows, width, inks = out.shape
    share = np.empty(3, np.int64)
    for y in range(rows):
        for x in range(width):
            if weights[y, x, 0] == _FULL:
                for c in range(inks):
                    out[y, x, c] = recipes[places[y, x, 0], c]
                continue
            for k in range(3):
                share[k] = weights[y, x, k]
            for a in range(3):
                for b in range(a + 1, 3):
                    both = int(weights[y, x, a]) + int(weights[y, x, b])
                    if weights[y, x, a] == 0 or weights[y, x, b] == 0:
                        continue
                    area = int(weights[y, x, b]) * _FULL // both
                    moved = _curved(curves, int(places[y, x, a]), int(places[y, x, b]), area) - area
                    # Towards zero from both sides, so that the order of the two does not matter.
                    step = moved * both // _FULL if moved >= 0 else -(-moved * both // _FULL)
                    share[b] += step
                    share[a] -= step
            total = 0
            for k in range(3):
                share[k] = max(share[k], 0)
                total += share[k]
            for c in range(inks):
                ink = 0
                for k in range(3):
                    ink += share[k] * int(recipes[places[y, x, k], c])
                out[y, x, c] = (ink + total // 2) // total
