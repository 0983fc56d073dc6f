"""Integer interpolation in colour tables: identical bytes on every machine.

A code goes through its shaper to a coordinate 0..65535; times ``g - 1`` it falls apart into a node
number and a fraction in units of 1/65535. The weights of a simplex's corners then sum to exactly
65535, every product sum fits in 32 bits, and one rounded division by 65535 ends it.

Pixels come as ``(n, channels)``, nodes flat as ``(n_nodes, lanes)``: inks and, in three and four dimensions,
empty lanes up to a multiple of LANES, which are worked on together. Indices are unsigned, which spares the
compiled code its test for negative ones.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from strikeoff.raster.kernels_vector import blend_4, blend_5

#: Inks worked on together.
LANES = 8
_BLOCK = 256

_ONE = np.uint32(65535)
_HALF = np.uint32(32767)
_1 = np.uint32(1)
_16 = np.uint32(16)


@njit(cache=True, nogil=True, inline="always")
def _over_65535(x: np.uint32) -> np.uint32:
    """Return x // 65535, exact for every x up to 65535 * 65535 + 32767, without a division."""
    return np.uint32((x + _1 + (x >> _16)) >> _16)


@njit(cache=True, nogil=True)
def linear_1d(
    pixels: NDArray[Any],
    shapers: NDArray[np.uint16],
    nodes: NDArray[np.uint16],
    grid: int,
    out: NDArray[np.uint16],
) -> None:
    """Interpolate linearly along one axis; pixels (n, 1) to out (n, n_inks)."""
    inks = nodes.shape[1]
    steps = np.uint32(grid - 1)
    for i in range(pixels.shape[0]):
        if i > 0 and pixels[i, 0] == pixels[i - 1, 0]:
            for k in range(inks):
                out[i, k] = out[i - 1, k]
            continue
        place = np.uint32(np.uint32(shapers[0, pixels[i, 0]]) * steps)
        node = _over_65535(place)
        high = np.uint32(place - node * _ONE)
        if node == steps:
            node = np.uint32(node - _1)
            high = _ONE
        low = np.uint32(_ONE - high)
        after = np.uint32(node + _1)
        for k in range(inks):
            total = np.uint32(low * np.uint32(nodes[node, k]) + high * np.uint32(nodes[after, k]) + _HALF)
            out[i, k] = np.uint16(_over_65535(total))


@njit(cache=True, nogil=True)
def _corners_3d(
    codes: NDArray[np.uint32],
    strides: NDArray[np.uint32],
    places: NDArray[np.uint32],
    weights: NDArray[np.uint32],
) -> None:
    """Return the corners of the tetrahedra and their weights, both (4, pixels), of codes (3, pixels)."""
    s_a, s_b, s_c = strides[0], strides[1], strides[2]
    whole = np.uint32(s_a + s_b + s_c)
    c_a, c_b, c_c = codes[0], codes[1], codes[2]
    p0, p1, p2, p3 = places[0], places[1], places[2], places[3]
    w0, w1, w2, w3 = weights[0], weights[1], weights[2], weights[3]
    for i in range(c_a.shape[0]):
        f_a, f_b, f_c = np.uint32(c_a[i] & _ONE), np.uint32(c_b[i] & _ONE), np.uint32(c_c[i] & _ONE)
        n_a, n_b, n_c = np.uint32(c_a[i] >> _16), np.uint32(c_b[i] >> _16), np.uint32(c_c[i] >> _16)
        low = np.uint32(np.uint32(n_a * s_a) + np.uint32(n_b * s_b) + np.uint32(n_c * s_c))
        most = max(max(f_a, f_b), f_c)
        least = min(min(f_a, f_b), f_c)
        middle = np.uint32(np.uint32(f_a + f_b) + f_c - np.uint32(most + least))
        # Of equal fractions any may come first: the corner between them weighs nothing.
        first = s_a if f_a == most else (s_b if f_b == most else s_c)
        last = s_c if f_c == least else (s_b if f_b == least else s_a)
        p0[i], p1[i], p2[i], p3[i] = low, low + first, low + whole - last, low + whole
        w0[i], w1[i], w2[i], w3[i] = _ONE - most, most - middle, middle - least, least


@njit(cache=True, nogil=True)
def _corners_4d(
    codes: NDArray[np.uint32],
    strides: NDArray[np.uint32],
    places: NDArray[np.uint32],
    weights: NDArray[np.uint32],
) -> None:
    """Return the same in four dimensions, (5, pixels) of codes (4, pixels).

    A fraction carries the number of its axis in its two lowest bits through the sorting.
    """
    two, three = np.uint32(2), np.uint32(3)
    s_0, s_1, s_2, s_3 = strides[0], strides[1], strides[2], strides[3]
    c_a, c_b, c_c, c_d = codes[0], codes[1], codes[2], codes[3]
    for i in range(c_a.shape[0]):
        a, b, c, d = c_a[i], c_b[i], c_c[i], c_d[i]
        low = np.uint32(np.uint32((a >> _16) * s_0) + np.uint32((b >> _16) * s_1))
        low = np.uint32(low + np.uint32((c >> _16) * s_2) + np.uint32((d >> _16) * s_3))
        k1, k2 = np.uint32((a & _ONE) << two), np.uint32((b & _ONE) << two | _1)
        k3, k4 = np.uint32((c & _ONE) << two | two), np.uint32((d & _ONE) << two | three)
        k1, k2 = max(k1, k2), min(k1, k2)
        k3, k4 = max(k3, k4), min(k3, k4)
        k1, k3 = max(k1, k3), min(k1, k3)
        k2, k4 = max(k2, k4), min(k2, k4)
        k2, k3 = max(k2, k3), min(k2, k3)
        places[0, i] = low
        low = np.uint32(low + strides[k1 & three])
        places[1, i] = low
        low = np.uint32(low + strides[k2 & three])
        places[2, i] = low
        low = np.uint32(low + strides[k3 & three])
        places[3, i] = low
        places[4, i] = np.uint32(low + strides[k4 & three])
        f1, f2, f3, f4 = k1 >> two, k2 >> two, k3 >> two, k4 >> two
        weights[0, i] = _ONE - f1
        weights[1, i] = f1 - f2
        weights[2, i] = f2 - f3
        weights[3, i] = f3 - f4
        weights[4, i] = f4


@njit(cache=True, nogil=True)
def simplex(
    pixels: NDArray[Any],
    shapers: NDArray[np.uint32],
    nodes: NDArray[np.uint16],
    strides: NDArray[np.uint32],
    out: NDArray[np.uint16],
) -> None:
    """Interpolate in the simplices of a cell along its grey diagonal; pixels (n, 3) or (n, 4).

    ``shapers`` (channels, codes) hold the number of the lower node, times 65536, and the fraction above
    it; ``strides`` (channels,) the distance to the next node. Worked in blocks, one step after the
    other, each of which the compiler can do several pixels at a time. Results go to ``out`` (n, inks)
    in eights, each pixel's spare lanes under the next pixel's first; the last pixels, without room for
    them, by way of a spare line.
    """
    inks = out.shape[1]
    channels = pixels.shape[1]
    lanes = nodes.shape[1]
    flat, target = nodes.reshape(-1), out.reshape(-1)
    spare = np.empty(lanes, np.uint16)
    room = target.shape[0] - lanes
    codes = np.empty((channels, _BLOCK), np.uint32)
    places = np.empty((channels + 1, _BLOCK), np.uint32)
    weights = np.empty((channels + 1, _BLOCK), np.uint32)
    for start in range(0, pixels.shape[0], _BLOCK):
        count = min(_BLOCK, pixels.shape[0] - start)
        for c in range(channels):
            shaper, code = shapers[c], codes[c]
            for i in range(count):
                code[i] = shaper[pixels[start + i, c]]
        if channels == 3:
            _corners_3d(codes[:, :count], strides, places[:, :count], weights[:, :count])
        else:
            _corners_4d(codes[:, :count], strides, places[:, :count], weights[:, :count])
        # The last eight first: their spare lanes fall on what the first eight then write.
        for lane in range(lanes - LANES, -1, -LANES):
            inside = min(count, max(0, room // inks + 1 - start))
            at = start * inks + lane
            if channels == 3:
                for i in range(inside):
                    blend_4(
                        flat, np.intp(places[0, i]) + lane, weights[0, i], np.intp(places[1, i]) + lane,
                        weights[1, i], np.intp(places[2, i]) + lane, weights[2, i],
                        np.intp(places[3, i]) + lane, weights[3, i], target, at,
                    )  # fmt: skip
                    at += inks
            else:
                for i in range(inside):
                    blend_5(
                        flat, np.intp(places[0, i]) + lane, weights[0, i], np.intp(places[1, i]) + lane,
                        weights[1, i], np.intp(places[2, i]) + lane, weights[2, i],
                        np.intp(places[3, i]) + lane, weights[3, i], np.intp(places[4, i]) + lane,
                        weights[4, i], target, at,
                    )  # fmt: skip
                    at += inks
        for i in range(min(count, max(0, room // inks + 1 - start)), count):
            _blend_plain(nodes, places[:, i], weights[:, i], spare)
            for k in range(inks):
                out[start + i, k] = spare[k]


@njit(cache=True, nogil=True)
def _blend_plain(
    nodes: NDArray[np.uint16],
    places: NDArray[np.uint32],
    weights: NDArray[np.uint32],
    out: NDArray[np.uint16],
) -> None:
    lanes = nodes.shape[1]
    for k in range(lanes):
        total = _HALF
        for corner in range(places.shape[0]):
            node = nodes[places[corner] // np.uint32(lanes), k]
            total = np.uint32(total + np.uint32(weights[corner] * np.uint32(node)))
        out[k] = np.uint16(_over_65535(total))
