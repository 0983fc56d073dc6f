"""Integer interpolation in colour tables: identical bytes on every machine.

A code goes through its shaper to a coordinate 0..65535; times ``g - 1`` it falls apart into a node
number and a fraction in units of 1/65535. The weights of a simplex's corners then sum to exactly
65535, every product sum fits in 32 bits, and one rounded division by 65535 ends it.

Pixels come as ``(n, channels)``, nodes flat as ``(n_nodes, n_inks)``. A pixel that equals the one
before it copies its result: flat artwork is mostly that. Indices are unsigned, which spares the
compiled code its test for negative ones.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

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
def tetrahedral_3d(
    pixels: NDArray[Any],
    shapers: NDArray[np.uint16],
    nodes: NDArray[np.uint16],
    grid: int,
    out: NDArray[np.uint16],
) -> None:
    """Interpolate in the six tetrahedra of a cube along its grey diagonal; pixels (n, 3)."""
    inks = nodes.shape[1]
    steps = np.uint32(grid - 1)
    stride_a = np.uint32(grid * grid)
    stride_b = np.uint32(grid)
    stride_c = _1
    for i in range(pixels.shape[0]):
        a, b, c = pixels[i, 0], pixels[i, 1], pixels[i, 2]
        if i > 0 and a == pixels[i - 1, 0] and b == pixels[i - 1, 1] and c == pixels[i - 1, 2]:
            for k in range(inks):
                out[i, k] = out[i - 1, k]
            continue
        place_a = np.uint32(np.uint32(shapers[0, a]) * steps)
        place_b = np.uint32(np.uint32(shapers[1, b]) * steps)
        place_c = np.uint32(np.uint32(shapers[2, c]) * steps)
        node_a, node_b, node_c = _over_65535(place_a), _over_65535(place_b), _over_65535(place_c)
        # The last node belongs to the last cell.
        node_a = np.uint32(node_a - np.uint32(node_a == steps))
        node_b = np.uint32(node_b - np.uint32(node_b == steps))
        node_c = np.uint32(node_c - np.uint32(node_c == steps))
        f1, s1 = np.uint32(place_a - node_a * _ONE), stride_a
        f2, s2 = np.uint32(place_b - node_b * _ONE), stride_b
        f3, s3 = np.uint32(place_c - node_c * _ONE), stride_c
        # Sort the fractions downward;.
        if f1 < f2:
            f1, f2, s1, s2 = f2, f1, s2, s1
        if f2 < f3:
            f2, f3, s2, s3 = f3, f2, s3, s2
        if f1 < f2:
            f1, f2, s1, s2 = f2, f1, s2, s1
        p0 = np.uint32(node_a * stride_a + node_b * stride_b + node_c)
        p1 = np.uint32(p0 + s1)
        p2 = np.uint32(p1 + s2)
        p3 = np.uint32(p2 + s3)
        w0, w1, w2 = np.uint32(_ONE - f1), np.uint32(f1 - f2), np.uint32(f2 - f3)
        for k in range(inks):
            total = np.uint32(
                w0 * np.uint32(nodes[p0, k])
                + w1 * np.uint32(nodes[p1, k])
                + w2 * np.uint32(nodes[p2, k])
                + f3 * np.uint32(nodes[p3, k])
                + _HALF
            )
            out[i, k] = np.uint16(_over_65535(total))


@njit(cache=True, nogil=True)
def simplex_4d(
    pixels: NDArray[Any],
    shapers: NDArray[np.uint16],
    nodes: NDArray[np.uint16],
    grid: int,
    out: NDArray[np.uint16],
) -> None:
    """Interpolate in the 24 simplices of a four-dimensional cell; pixels (n, 4)."""
    inks = nodes.shape[1]
    steps = np.uint32(grid - 1)
    stride_a = np.uint32(grid**3)
    stride_b = np.uint32(grid**2)
    stride_c = np.uint32(grid)
    stride_d = _1
    for i in range(pixels.shape[0]):
        a, b, c, d = pixels[i, 0], pixels[i, 1], pixels[i, 2], pixels[i, 3]
        if (
            i > 0
            and a == pixels[i - 1, 0]
            and b == pixels[i - 1, 1]
            and c == pixels[i - 1, 2]
            and d == pixels[i - 1, 3]
        ):
            for k in range(inks):
                out[i, k] = out[i - 1, k]
            continue
        place_a = np.uint32(np.uint32(shapers[0, a]) * steps)
        place_b = np.uint32(np.uint32(shapers[1, b]) * steps)
        place_c = np.uint32(np.uint32(shapers[2, c]) * steps)
        place_d = np.uint32(np.uint32(shapers[3, d]) * steps)
        node_a, node_b = _over_65535(place_a), _over_65535(place_b)
        node_c, node_d = _over_65535(place_c), _over_65535(place_d)
        node_a = np.uint32(node_a - np.uint32(node_a == steps))
        node_b = np.uint32(node_b - np.uint32(node_b == steps))
        node_c = np.uint32(node_c - np.uint32(node_c == steps))
        node_d = np.uint32(node_d - np.uint32(node_d == steps))
        f1, s1 = np.uint32(place_a - node_a * _ONE), stride_a
        f2, s2 = np.uint32(place_b - node_b * _ONE), stride_b
        f3, s3 = np.uint32(place_c - node_c * _ONE), stride_c
        f4, s4 = np.uint32(place_d - node_d * _ONE), stride_d
        if f1 < f2:
            f1, f2, s1, s2 = f2, f1, s2, s1
        if f3 < f4:
            f3, f4, s3, s4 = f4, f3, s4, s3
        if f1 < f3:
            f1, f3, s1, s3 = f3, f1, s3, s1
        if f2 < f4:
            f2, f4, s2, s4 = f4, f2, s4, s2
        if f2 < f3:
            f2, f3, s2, s3 = f3, f2, s3, s2
        p0 = np.uint32(node_a * stride_a + node_b * stride_b + node_c * stride_c + node_d)
        p1 = np.uint32(p0 + s1)
        p2 = np.uint32(p1 + s2)
        p3 = np.uint32(p2 + s3)
        p4 = np.uint32(p3 + s4)
        w0, w1 = np.uint32(_ONE - f1), np.uint32(f1 - f2)
        w2, w3 = np.uint32(f2 - f3), np.uint32(f3 - f4)
        for k in range(inks):
            total = np.uint32(
                w0 * np.uint32(nodes[p0, k])
                + w1 * np.uint32(nodes[p1, k])
                + w2 * np.uint32(nodes[p2, k])
                + w3 * np.uint32(nodes[p3, k])
                + f4 * np.uint32(nodes[p4, k])
                + _HALF
            )
            out[i, k] = np.uint16(_over_65535(total))
