"""Compiled steps on flat artwork: labels, mixing weights, and colours from weights."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

NONE = 255
_FULL = 65535
_MOST = 40


@njit(cache=True, nogil=True)
def label(
    codes: NDArray[np.uint16],
    curves: NDArray[np.float64],
    slopes: NDArray[np.float64],
    palette: NDArray[np.float64],
    most: float,
    out: NDArray[np.uint8],
) -> None:
    """Name each pixel by the nearest palette colour, or NONE when none is within ``most``.

    Parameters
    ----------
    codes : ndarray of uint16, shape (rows, width, 3)
        Pixels.
    curves, slopes : ndarray, shape (3, codes)
        Mixing value of each code; how far the code moves for a step of it.
    palette : ndarray, shape (n, 3)
        Mixing values of the palette.
    most : float
        Largest distance. [share of the code range]
    out : ndarray of uint8, shape (rows, width)
        Filled.
    """
    rows, width = out.shape
    n = palette.shape[0]
    for y in range(rows):
        for x in range(width):
            if (
                x > 0
                and codes[y, x, 0] == codes[y, x - 1, 0]
                and codes[y, x, 1] == codes[y, x - 1, 1]
                and codes[y, x, 2] == codes[y, x - 1, 2]
            ):
                out[y, x] = out[y, x - 1]
                continue
            best, found = most * most, NONE
            for k in range(n):
                d = 0.0
                for c in range(3):
                    code = codes[y, x, c]
                    step = (curves[c, code] - palette[k, c]) * slopes[c, code]
                    d += step * step
                if d <= best:
                    best, found = d, k
            out[y, x] = found


@njit(cache=True, nogil=True)
def unmix(
    codes: NDArray[np.uint16],
    labels: NDArray[np.uint8],
    top: int,
    reach: int,
    curves: NDArray[np.float64],
    slopes: NDArray[np.float64],
    palette: NDArray[np.float64],
    noise: float,
    penalties: NDArray[np.float64],
    places: NDArray[np.uint8],
    weights: NDArray[np.uint16],
    rest: NDArray[np.float32],
) -> None:
    """Find which of one, two or three palette colours each pixel is mixed from, and how much of each.

    Parameters
    ----------
    codes : ndarray of uint16, shape (rows + margins, width, 3)
        Pixels, with rows above and below the band where there are any.
    labels : ndarray of uint8, shape (rows + margins, width)
        From `label`.
    top : int
        First row of the band in them.
    reach : int
        How far around a pixel colours are looked for. [pixels]
    curves, slopes, palette : ndarray
        As for `label`.
    noise : float
        Standard deviation of a code. [share of the code range]
    penalties : ndarray, shape (3,)
        What a second colour, a third, and one that is not seen nearby must be worth.
    places, weights : ndarray of uint8 and uint16, shape (rows, width, 3)
        Filled: palette colours and their weights, which add up to 65535.
    rest : ndarray of float32, shape (rows, width)
        Filled: what the mixture leaves over, in units of noise.
    """
    rows, width = rest.shape
    high = labels.shape[0]
    n = palette.shape[0]
    value, slope = np.empty(3), np.empty(3)
    near = np.empty(n, np.bool_)
    offset = np.empty((n, 3))
    present = np.empty(n, np.int64)
    for y in range(rows):
        for x in range(width):
            own = labels[y + top, x]
            seen = True
            for v in range(max(0, y + top - 1), min(high, y + top + 2)):
                for u in range(max(0, x - 1), min(width, x + 2)):
                    if labels[v, u] != own:
                        seen = False
            same = seen and own != NONE
            for c in range(3):
                places[y, x, c] = 0
                weights[y, x, c] = 0
                code = codes[y + top, x, c]
                value[c] = curves[c, code]
                slope[c] = slopes[c, code] / noise
            if same:
                d = 0.0
                for c in range(3):
                    step = (value[c] - palette[own, c]) * slope[c]
                    d += step * step
                places[y, x, 0] = own
                weights[y, x, 0] = _FULL
                rest[y, x] = np.sqrt(d)
                continue
            near[:] = False
            for v in range(max(0, y + top - reach), min(high, y + top + reach + 1)):
                for u in range(max(0, x - reach), min(width, x + reach + 1)):
                    k = labels[v, u]
                    if k == NONE or near[k]:
                        continue
                    alike = 0
                    for below in range(max(0, v - 1), min(high, v + 2)):
                        for beside in range(max(0, u - 1), min(width, u + 2)):
                            if labels[below, beside] == k:
                                alike += 1
                    near[k] = alike > 2
            m = 0
            for k in range(n):
                for c in range(3):
                    offset[k, c] = (palette[k, c] - value[c]) * slope[c]
                if near[k]:
                    present[m] = k
                    m += 1
            best, left = 1e30, 0.0
            a0, a1, a2, w1, w2 = 0, 0, 0, 0.0, 0.0
            for i in range(n):
                d = 0.0
                for c in range(3):
                    d += offset[i, c] * offset[i, c]
                cost = d + (0.0 if near[i] else penalties[2])
                if cost < best:
                    best, left, a0, a1, a2, w1, w2 = cost, d, i, 0, 0, 0.0, 0.0
            for i in range(n):
                for j in range(i + 1, n):
                    fine = penalties[0]
                    if not near[i]:
                        fine += penalties[2]
                    if not near[j]:
                        fine += penalties[2]
                    if fine >= best:
                        continue
                    dot, length = 0.0, 0.0
                    for c in range(3):
                        along = offset[j, c] - offset[i, c]
                        dot -= offset[i, c] * along
                        length += along * along
                    if length <= 0.0 or dot <= 0.0 or dot >= length:
                        continue
                    t = dot / length
                    d = 0.0
                    for c in range(3):
                        e = offset[i, c] + t * (offset[j, c] - offset[i, c])
                        d += e * e
                    if d + fine < best:
                        best, left, a0, a1, a2, w1, w2 = d + fine, d, i, j, 0, t, 0.0
            fine = penalties[0] + penalties[1]
            for p in range(m):
                for q in range(p + 1, m):
                    for r in range(q + 1, m):
                        if fine >= best:
                            break
                        i, j, k = present[p], present[q], present[r]
                        uu, uv, vv, ud, vd = 0.0, 0.0, 0.0, 0.0, 0.0
                        for c in range(3):
                            first, second = offset[j, c] - offset[i, c], offset[k, c] - offset[i, c]
                            uu += first * first
                            uv += first * second
                            vv += second * second
                            ud -= first * offset[i, c]
                            vd -= second * offset[i, c]
                        det = uu * vv - uv * uv
                        if det <= 1e-9 * uu * vv:
                            continue
                        s = (ud * vv - vd * uv) / det
                        t = (vd * uu - ud * uv) / det
                        if s <= 0.0 or t <= 0.0 or s + t >= 1.0:
                            continue
                        d = 0.0
                        for c in range(3):
                            e = (
                                offset[i, c]
                                + s * (offset[j, c] - offset[i, c])
                                + t * (offset[k, c] - offset[i, c])
                            )
                            d += e * e
                        if d + fine < best:
                            best, left, a0, a1, a2 = d + fine, d, i, j, k
                            w1, w2 = s, t
            second = np.uint16(np.floor(w1 * _FULL + 0.5))
            third = np.uint16(np.floor(w2 * _FULL + 0.5))
            places[y, x, 0], places[y, x, 1], places[y, x, 2] = a0, a1, a2
            weights[y, x, 0] = _FULL - second - third
            weights[y, x, 1] = second
            weights[y, x, 2] = third
            rest[y, x] = np.sqrt(left)


@njit(cache=True, nogil=True)
def remix(
    codes: NDArray[np.uint16],
    places: NDArray[np.uint8],
    weights: NDArray[np.uint16],
    touched: NDArray[np.bool_],
    solid: NDArray[np.uint16],
    linear: NDArray[np.float64],
    middles: NDArray[np.float64],
    out: NDArray[np.uint16],
) -> None:
    """Give pixels the colours that new palette colours mix to; leave those that hold no changed one.

    Parameters
    ----------
    codes : ndarray of uint16, shape (rows, width, 3)
        Pixels as they are.
    places, weights : ndarray, shape (rows, width, 3)
        From `unmix`.
    touched : ndarray of bool, shape (n,)
        Which palette colours change.
    solid : ndarray of uint16, shape (n, 3)
        Codes of the new palette.
    linear : ndarray, shape (n, 3)
        Its linear light.
    middles : ndarray, shape (3, codes - 1)
        Linear light half-way between a code and the next.
    out : ndarray of uint16, shape (rows, width, 3)
        Filled.
    """
    rows, width = out.shape[:2]
    for y in range(rows):
        for x in range(width):
            change = False
            for k in range(3):
                if weights[y, x, k] > 0 and touched[places[y, x, k]]:
                    change = True
            if not change:
                for c in range(3):
                    out[y, x, c] = codes[y, x, c]
            elif weights[y, x, 0] == _FULL:
                for c in range(3):
                    out[y, x, c] = solid[places[y, x, 0], c]
            else:
                for c in range(3):
                    light = 0.0
                    for k in range(3):
                        light += weights[y, x, k] * linear[places[y, x, k], c]
                    out[y, x, c] = np.searchsorted(middles[c], light / _FULL)
