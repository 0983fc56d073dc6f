"""Compiled loop of nesting for straight cuts: every piece can be cut free from edge to edge.

References
----------
Jylänki (2010), A thousand ways to pack the bin (from memory): free rectangles that are split in two when a
piece goes into a corner, so that the larger of what is left stays whole.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Ints = NDArray[np.int64]


@njit(cache=True, nogil=True)
def fill_straight(
    order: Ints,
    wide: Ints,
    tall: Ints,
    fault_start: Ints,
    fault_end: Ints,
    width: int,
    height: int,
    most_waste: int,
    x: Ints,
    y: Ints,
    turned: NDArray[np.bool_],
    work: Ints,
) -> int:
    """Lay pieces into the corners of free rectangles, the smaller rectangle first; else as ``fill``.

    ``work`` has room for 5 n + 4 f + 8 numbers, f faults.
    """
    n = order.size
    rest = work[:n]
    free = work[n : n + 4 * (n + fault_start.size + 2)].reshape(-1, 4)
    for i in range(n):
        rest[i] = order[i]
        x[i] = -1
    left_over = n
    # Stretches between faults, the first on top of the stack.
    parts = 0
    high = height
    for f in range(fault_start.size - 1, -1, -1):
        if fault_end[f] < high:
            free[parts, 0], free[parts, 1] = 0, fault_end[f]
            free[parts, 2], free[parts, 3] = width, high - fault_end[f]
            parts += 1
        high = min(high, max(0, fault_start[f]))
    if high > 0:
        free[parts, 0], free[parts, 1], free[parts, 2], free[parts, 3] = 0, 0, width, high
        parts += 1
    waste = 0
    while left_over > 0 and parts > 0:
        parts -= 1
        left, top, room, rise = free[parts]
        best, chosen, way = -1, -1, 0
        for r in range(left_over):
            i = rest[r]
            for t in range(2):
                if wide[t, i] == 0 or wide[t, i] > room or tall[t, i] > rise:
                    continue
                score = (1 if wide[t, i] == room else 0) + (1 if tall[t, i] == rise else 0)
                if score > best:
                    best, chosen, way = score, r, t
            if best == 2:
                break
        if chosen < 0:
            waste += room * rise
            if waste > most_waste:
                return -1
            continue
        i = rest[chosen]
        left_over -= 1
        for r in range(chosen, left_over):
            rest[r] = rest[r + 1]
        x[i], y[i], turned[i] = left, top, way == 1
        across, along = wide[way, i], tall[way, i]
        # Cut across first: beside it as high as the piece, below it the full width; or along first.
        across_first = max(room * (rise - along), (room - across) * along) >= max(
            (room - across) * rise, across * (rise - along)
        )
        beside = along if across_first else rise
        below = room if across_first else across
        first, second = (room - across) * beside, below * (rise - along)
        for k in range(2):
            # The larger is pushed first.
            if (k == 0) == (first > second):
                if first > 0:
                    free[parts, 0], free[parts, 1] = left + across, top
                    free[parts, 2], free[parts, 3] = room - across, beside
                    parts += 1
            elif second > 0:
                free[parts, 0], free[parts, 1] = left, top + along
                free[parts, 2], free[parts, 3] = below, rise - along
                parts += 1
    area = 0
    for r in range(left_over):
        area += wide[0, rest[r]] * tall[0, rest[r]]
    return area
