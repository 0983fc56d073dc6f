"""Compiled steps of bounded least squares, many colours at once."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


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
def bounded_steps_each(
    hessian: FloatArray,
    gradient: FloatArray,
    inks: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    ink_weights: FloatArray,
    totals: FloatArray,
    step: FloatArray,
) -> None:
    """Do what `bounded_steps` does, each point with weights (m, d) and a total (m,) of its own."""
    for i in range(len(totals)):
        one = slice(i, i + 1)
        bounded_steps(
            hessian[one], gradient[one], inks[one], lower, upper, ink_weights[i], totals[i], step[one]
        )


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
