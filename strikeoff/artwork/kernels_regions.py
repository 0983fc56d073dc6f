"""Compiled steps on the regions of flat artwork: lines, ragged edges, neighbours."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True, nogil=True)
def line_scores(
    value: NDArray[np.float64],
    slope: NDArray[np.float64],
    amounts: NDArray[np.float64],
    known: NDArray[np.float64],
    tried: NDArray[np.int64],
    limit: float,
    out: NDArray[np.float64],
) -> None:
    """Add up what lies between each tried value and a known one.

    Parameters
    ----------
    value, slope : ndarray, shape (m, 3)
        Mixing values; how many deviations they move for a step of it.
    amounts : ndarray, shape (m,)
        Pixels that each stands for; 0 where it does not count.
    known : ndarray, shape (n, 3)
        Mixing values of known colours.
    tried : ndarray of int64, shape (t,)
        Which values are tried.
    limit : float
        Largest distance. [standard deviations]
    out : ndarray, shape (t,)
        Filled.
    """
    most = limit * limit
    for t in range(len(tried)):
        new = value[tried[t]]
        total = 0.0
        for i in range(len(value)):
            if amounts[i] == 0.0:
                continue
            d0 = (new[0] - value[i, 0]) * slope[i, 0]
            d1 = (new[1] - value[i, 1]) * slope[i, 1]
            d2 = (new[2] - value[i, 2]) * slope[i, 2]
            done = d0 * d0 + d1 * d1 + d2 * d2 <= most
            k = 0
            while not done and k < len(known):
                s0 = (known[k, 0] - new[0]) * slope[i, 0]
                s1 = (known[k, 1] - new[1]) * slope[i, 1]
                s2 = (known[k, 2] - new[2]) * slope[i, 2]
                length = max(s0 * s0 + s1 * s1 + s2 * s2, 1e-12)
                at = min(max(-(d0 * s0 + d1 * s1 + d2 * s2) / length, 0.0), 1.0)
                e0, e1, e2 = d0 + at * s0, d1 + at * s1, d2 + at * s2
                done = e0 * e0 + e1 * e1 + e2 * e2 <= most
                k += 1
            if done:
                total += amounts[i]
        out[t] = total


@njit(cache=True, nogil=True)
def smooth(pixels: NDArray[np.float32], reach: int, alike: float, out: NDArray[np.float32]) -> None:
    """Average each pixel with those around it that are alike, the more so the more alike they are.

    Parameters
    ----------
    pixels : ndarray of float32, shape (rows, width, 3)
        Codes.
    reach : int
        How far around. [pixels]
    alike : float
        Distance from which on pixels have no part. [codes]
    out : ndarray of float32, shape (rows, width, 3)
        Filled.
    """
    rows, width = pixels.shape[:2]
    share = 1.0 / (alike * alike)
    for y in range(rows):
        for x in range(width):
            red, green, blue = pixels[y, x, 0], pixels[y, x, 1], pixels[y, x, 2]
            s0, s1, s2, total = 0.0, 0.0, 0.0, 0.0
            for v in range(max(0, y - reach), min(rows, y + reach + 1)):
                for u in range(max(0, x - reach), min(width, x + reach + 1)):
                    d0, d1, d2 = pixels[v, u, 0] - red, pixels[v, u, 1] - green, pixels[v, u, 2] - blue
                    part = 1.0 - (d0 * d0 + d1 * d1 + d2 * d2) * share
                    if part > 0.0:
                        part *= part
                        s0 += part * pixels[v, u, 0]
                        s1 += part * pixels[v, u, 1]
                        s2 += part * pixels[v, u, 2]
                        total += part
            out[y, x, 0], out[y, x, 1], out[y, x, 2] = s0 / total, s1 / total, s2 / total


@njit(cache=True, nogil=True)
def spread(
    places: NDArray[np.uint8],
    weights: NDArray[np.uint16],
    columns: NDArray[np.int64],
    out: NDArray[np.float64],
) -> None:
    """Add weights to the columns of a small map, shape (columns, n)."""
    rows, width = places.shape[:2]
    for y in range(rows):
        for x in range(width):
            for k in range(3):
                if weights[y, x, k] > 0:
                    out[columns[x], places[y, x, k]] += weights[y, x, k]


@njit(cache=True, nogil=True)
def borders(
    places: NDArray[np.uint8],
    weights: NDArray[np.uint16],
    above: NDArray[np.uint8],
    has_above: bool,
    lengths: NDArray[np.int64],
) -> None:
    """Count the sides of pixels at which two colours meet, each pixel taken for its largest share.

    Parameters
    ----------
    places, weights : ndarray, shape (rows, width, 3)
        From `unmix`.
    above : ndarray of uint8, shape (width,)
        Largest shares of the row above; becomes that of the last row.
    has_above : bool
        Whether there is such a row.
    lengths : ndarray of int64, shape (n, n)
        Added to, on both sides of the diagonal alike.
    """
    rows, width = places.shape[:2]
    for y in range(rows):
        left = 0
        for x in range(width):
            own = 0
            for k in range(1, 3):
                if weights[y, x, k] > weights[y, x, own]:
                    own = k
            colour = places[y, x, own]
            if x > 0 and colour != left:
                lengths[colour, left] += 1
                lengths[left, colour] += 1
            if (y > 0 or has_above) and colour != above[x]:
                lengths[colour, above[x]] += 1
                lengths[above[x], colour] += 1
            left = colour
            above[x] = colour
