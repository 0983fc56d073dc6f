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


@njit(cache=True, nogil=True)
def bounded_steps(
    hessian: FloatArray,
    gradient: FloatArray,
    inks: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    ink_weights: FloatArray,
    total: float,
    step: FloatArray,
) -> None:
    """Minimise g.d + d.H.d / 2 for each point, within box and weighted total, by an active set.

    The points are legal and the Hessians positive definite. Every turn solves for the free inks
    with the held ones and, where it binds, the total kept; goes there or to the first limit in the
    way, which is then held; and lets go the limit whose multiplier is most wrong. The objective
    never rises, and stopping early still leaves a legal step (Nocedal & Wright, algorithm 16.3).
    """
    m, count = gradient.shape
    held = np.zeros(count, np.int64)
    a = np.empty((count + 1, count + 2))
    d = np.empty(count)
    slope = np.empty(count)
    index = np.empty(count, np.int64)
    for i in range(m):
        binds = False
        used = 0.0
        largest = 0.0
        for k in range(count):
            d[k] = 0.0
            held[k] = 0
            slope[k] = gradient[i, k]
            largest = max(largest, abs(slope[k]))
            used += ink_weights[k] * inks[i, k]
            if inks[i, k] <= lower[k] and (slope[k] > 0 or upper[k] <= lower[k]):
                held[k] = -1
            elif inks[i, k] >= upper[k] and slope[k] < 0:
                held[k] = 1
        for _ in range(12 * count + 20):
            free = 0
            for k in range(count):
                if held[k] == 0:
                    index[free] = k
                    free += 1
            if free == 0:
                binds = False
            size = free + 1 if binds else free
            for r in range(free):
                k = index[r]
                for c in range(free):
                    a[r, c] = hessian[i, k, index[c]]
                a[r, size] = -slope[k]
                if binds:
                    a[r, free] = ink_weights[k]
                    a[free, r] = ink_weights[k]
            if binds:
                a[free, free] = 0.0
                a[free, size] = 0.0
            _solve(a, size)
            share = 1.0
            way = -1
            rise = 0.0
            for r in range(free):
                k = index[r]
                move = a[r, size]
                rise += ink_weights[k] * move
                bound = upper[k] if move > 0 else lower[k]
                gap = bound - inks[i, k] - d[k]
                if abs(move) * share > abs(gap):
                    share = gap / move
                    way = k
            if not binds and rise > 0.0 and rise * share > total - used:
                share = max(total - used, 0.0) / rise
                way = count
            for r in range(free):
                k = index[r]
                move = share * a[r, size]
                d[k] += move
                for j in range(count):
                    slope[j] += hessian[i, j, k] * move
            used += share * rise
            if way == count:
                binds = True
                continue
            if way >= 0:
                up = inks[i, way] + d[way] - lower[way] > upper[way] - inks[i, way] - d[way]
                held[way] = 1 if up else -1
                continue
            multiplier = a[free, size] if binds else 0.0
            release = -1
            wrong = 1e-12 * largest
            if binds and -multiplier > wrong:
                wrong = -multiplier
                release = count
            for k in range(count):
                if held[k] == 0 or upper[k] <= lower[k]:
                    continue
                pull = slope[k] + multiplier * ink_weights[k]
                against = -pull if held[k] < 0 else pull
                if against > wrong:
                    wrong = against
                    release = k
            if release < 0:
                break
            if release == count:
                binds = False
            else:
                held[release] = 0
        used = 0.0
        for k in range(count):
            d[k] = min(max(d[k], lower[k] - inks[i, k]), upper[k] - inks[i, k])
            used += ink_weights[k] * (inks[i, k] + d[k])
        if used > total:
            # Rounding only: shrink towards the lower bounds.
            reach = 0.0
            for k in range(count):
                reach += ink_weights[k] * (inks[i, k] + d[k] - lower[k])
            scale = max(1.0 - (used - total) / reach, 0.0) if reach > 0 else 1.0
            for k in range(count):
                d[k] = lower[k] + (inks[i, k] + d[k] - lower[k]) * scale - inks[i, k]
        for k in range(count):
            step[i, k] = d[k]


@njit(cache=True, nogil=True)
def _solve(a: FloatArray, size: int) -> Any:
    """Solve the augmented system in place, with partial pivoting; a zero pivot gives a zero unknown."""
    for c in range(size):
        pivot = c
        for r in range(c + 1, size):
            if abs(a[r, c]) > abs(a[pivot, c]):
                pivot = r
        if pivot != c:
            for k in range(c, size + 1):
                swap = a[c, k]
                a[c, k] = a[pivot, k]
                a[pivot, k] = swap
        if abs(a[c, c]) < 1e-14:
            continue
        for r in range(c + 1, size):
            factor = a[r, c] / a[c, c]
            for k in range(c, size + 1):
                a[r, k] -= factor * a[c, k]
    for c in range(size - 1, -1, -1):
        total = a[c, size]
        for k in range(c + 1, size):
            total -= a[c, k] * a[k, size]
        a[c, size] = total / a[c, c] if abs(a[c, c]) >= 1e-14 else 0.0
