"""Compiled loops of the model. Each has a plain NumPy counterpart that tests compare it with."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_BLOCK = 256


@njit(cache=True, nogil=True, fastmath=True, error_model="numpy", inline="always")
def _decay(q: float) -> Any:
    """Return exp(-q) for q >= 0: a polynomial of q/256, squared eight times, without calls or branches."""
    t = min(q, 64.0) * (1.0 / 256.0)
    p = 1.0 / 6.0 - t * (1.0 / 24.0 - t * (1.0 / 120.0 - t * (1.0 / 720.0 - t / 5040.0)))
    p = 1.0 - t * (1.0 - t * (0.5 - t * p))
    p *= p
    p *= p
    p *= p
    p *= p
    p *= p
    p *= p
    p *= p
    p *= p
    return p


@njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def matern_sums(
    x: FloatArray,
    centres: FloatArray,
    weights: FloatArray,
    fine: FloatArray,
    slopes: bool,
    value: FloatArray,
    slope: FloatArray,
) -> None:
    """Sum the smooth and the fine part of the kernel over centres, with slopes on request.

    ``x`` (m, d) and ``centres`` (d, n) are divided by the length scales; ``weights`` is
    (n_outputs, n); ``fine`` holds variance and ratio of the fine part; ``value`` (m, n_outputs) and
    ``slope`` (m, n_outputs, d), in scaled units, are filled.
    """
    count, n = centres.shape
    outputs = weights.shape[0]
    s = np.empty(_BLOCK)
    shape = np.empty(_BLOCK)
    fall = np.empty(_BLOCK)
    variance = fine[0]
    ratio = fine[1]
    narrow = np.sqrt(5.0 / 7.0) / ratio
    steep = variance * 5.0 / (3.0 * ratio * ratio)
    # Weights times centres, then the weights, side by side for each centre: slopes are sums of these.
    columns = outputs * (count + 1)
    moments = np.empty((n, columns))
    if slopes:
        for j in range(n):
            for o in range(outputs):
                moments[j, o * (count + 1) + count] = weights[o, j]
                for k in range(count):
                    moments[j, o * (count + 1) + k] = weights[o, j] * centres[k, j]
    sums = np.empty(columns)
    for i in range(x.shape[0]):
        for o in range(outputs):
            value[i, o] = 0.0
        sums[:] = 0.0
        for start in range(0, n, _BLOCK):
            size = min(_BLOCK, n - start)
            for j in range(size):
                s[j] = 0.0
            for k in range(count):
                at = x[i, k]
                row = centres[k, start : start + size]
                for j in range(size):
                    gap = at - row[j]
                    s[j] += gap * gap
            for j in range(size):
                q = np.sqrt(7.0 * s[j])
                e = _decay(q)
                s[j] = q
                shape[j] = e * (1.0 + q * (1.0 + q * (0.4 + q / 15.0)))
                fall[j] = -7.0 / 15.0 * e * (3.0 + q * (3.0 + q))
            if variance > 0.0:
                for j in range(size):
                    q = narrow * s[j]
                    e = _decay(q)
                    shape[j] += variance * e * (1.0 + q * (1.0 + q / 3.0))
                    fall[j] -= steep * e * (1.0 + q)
            for o in range(outputs):
                share = weights[o, start : start + size]
                total = 0.0
                for j in range(size):
                    total += share[j] * shape[j]
                value[i, o] += total
            if slopes:
                block = moments[start : start + size]
                for j in range(size):
                    f = fall[j]
                    for c in range(columns):
                        sums[c] += f * block[j, c]
        for o in range(outputs):
            first = o * (count + 1)
            for k in range(count):
                slope[i, o, k] = x[i, k] * sums[first + count] - sums[first + k]


@njit(cache=True, nogil=True)
def demichel_weights(coverage: FloatArray, replaced: int, weights: FloatArray) -> None:
    """Fill Demichel weights (m, 2 ** d), bit k of the column for ink k; one ink's factors may be -1 and 1.

    ``coverage`` is (m, d); ``replaced`` is the ink whose factors are those of the derivative, or -1.
    """
    for i in range(coverage.shape[0]):
        weights[i, 0] = 1.0
        size = 1
        for k in range(coverage.shape[1]):
            within = coverage[i, k]
            without = 1.0 - within
            if k == replaced:
                within = 1.0
                without = -1.0
            for j in range(size):
                weights[i, size + j] = weights[i, j] * within
                weights[i, j] *= without
            size *= 2


@njit(cache=True, nogil=True)
def cubic_table(
    inks: FloatArray,
    nodes: FloatArray,
    strides: NDArray[np.int64],
    size: int,
    value: FloatArray,
    slope: FloatArray,
) -> None:
    """Interpolate a table by Catmull-Rom cubics along every axis, with slopes.

    ``nodes`` is (total, n_outputs) with ``size`` nodes per axis that stand at
    -1, 0, ..., size - 2 steps of 1 / (size - 3); ``inks`` (m, d) lie in 0-1.
    """
    count = inks.shape[1]
    outputs = nodes.shape[1]
    w = np.empty((count, 4))
    dw = np.empty((count, 4))
    rows = 4 ** (count - 1)
    # Folding one axis after another, the last first: the value, then the slopes of the axes folded.
    sums = np.empty((rows, count + 1, outputs))
    steps = size - 3
    for i in range(inks.shape[0]):
        base = 0
        for k in range(count):
            u = inks[i, k] * steps
            cell = min(max(int(np.floor(u)), 0), steps - 1)
            f = u - cell
            base += cell * strides[k]
            w[k, 0] = f * (-0.5 + f * (1.0 - 0.5 * f))
            w[k, 1] = 1.0 + f * f * (1.5 * f - 2.5)
            w[k, 2] = f * (0.5 + f * (2.0 - 1.5 * f))
            w[k, 3] = f * f * (0.5 * f - 0.5)
            dw[k, 0] = (-0.5 + f * (2.0 - 1.5 * f)) * steps
            dw[k, 1] = f * (4.5 * f - 5.0) * steps
            dw[k, 2] = (0.5 + f * (4.0 - 4.5 * f)) * steps
            dw[k, 3] = f * (1.5 * f - 1.0) * steps
        last = count - 1
        for row in range(rows):
            at = base
            rest = row
            for k in range(last - 1, -1, -1):
                at += (rest & 3) * strides[k]
                rest >>= 2
            for o in range(outputs):
                first, second = nodes[at, o], nodes[at + 1, o]
                third, fourth = nodes[at + 2, o], nodes[at + 3, o]
                sums[row, 0, o] = (
                    w[last, 0] * first + w[last, 1] * second + w[last, 2] * third + w[last, 3] * fourth
                )
                sums[row, 1, o] = (
                    dw[last, 0] * first + dw[last, 1] * second + dw[last, 2] * third + dw[last, 3] * fourth
                )
        left = rows
        for k in range(last - 1, -1, -1):
            left //= 4
            folded = last - k
            for row in range(left):
                for o in range(outputs):
                    rise = 0.0
                    for tap in range(4):
                        rise += dw[k, tap] * sums[4 * row + tap, 0, o]
                    for part in range(folded + 1):
                        total = 0.0
                        for tap in range(4):
                            total += w[k, tap] * sums[4 * row + tap, part, o]
                        sums[row, part, o] = total
                    sums[row, folded + 1, o] = rise
        for o in range(outputs):
            value[i, o] = sums[0, 0, o]
            for k in range(count):
                slope[i, o, k] = sums[0, count - k, o]
