"""Compiled loops of nesting: rectangles dropped on a skyline in some order, and a search over orders.

Whole numbers only, so that what fits, fits exactly.

References
----------
Burke, Kendall & Whitwell (2004), A new placement heuristic for the orthogonal stock-cutting problem: fill
the lowest gap with the piece that fits it best. Leung, Zhang & Sim (2011), A two-stage intelligent search
algorithm for the two-dimensional strip packing problem: scores for pieces that end level with the walls of
the gap, then annealing over the order.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from strikeoff.layout.kernels_guillotine import fill_straight

Ints = NDArray[np.int64]


@njit(cache=True, nogil=True)
def fill(
    order: Ints,
    wide: Ints,
    tall: Ints,
    by_width: Ints,
    fault_start: Ints,
    fault_end: Ints,
    width: int,
    height: int,
    most_waste: int,
    enough: int,
    x: Ints,
    y: Ints,
    turned: NDArray[np.bool_],
    work: Ints,
) -> int:
    """Drop pieces and return the area of those left out; -1 once more than ``most_waste`` is lost.

    ``wide`` and ``tall``, shape (2, n), are sizes as they lie: upright, and turned by 90 degrees (0 where a
    piece may not be). ``by_width`` sorts pieces by the narrower of them. Pieces that are left out have
    x = -1. The first piece of a score of ``enough`` is taken: 8 is the best there is, 0 takes the first that
    fits. ``work`` has room for 3 n + 6 numbers.
    """
    n = order.size
    ways = 1
    for i in range(n):
        if wide[1, i] > 0:
            ways = 2
            break
    rest = work[:n]
    corner = work[n : 2 * n + 3]
    level = work[2 * n + 3 :]
    for i in range(n):
        rest[i] = order[i]
        x[i] = -1
    left_over = n
    corner[0], level[0], corner[1] = 0, 0, width
    parts = 1
    waste = 0
    narrowest = 0
    fault = 0
    while left_over > 0:
        k = 0
        for s in range(1, parts):
            if level[s] < level[k]:
                k = s
        floor = level[k]
        if floor >= height:
            break
        left = corner[k]
        gap = corner[k + 1] - left
        left_wall = height if k == 0 else level[k - 1]
        right_wall = height if k == parts - 1 else level[k + 1]
        while x[by_width[narrowest]] >= 0:
            narrowest += 1
        slimmest = by_width[narrowest]
        least = wide[0, slimmest]
        if wide[1, slimmest] > 0 and wide[1, slimmest] < least:
            least = wide[1, slimmest]
        while fault < fault_start.size and fault_end[fault] <= floor:
            fault += 1
        ceiling = height
        if fault < fault_start.size and fault_start[fault] < ceiling:
            ceiling = fault_start[fault]
        best, chosen, way, at_right = -1000, -1, 0, False
        if gap >= least:
            for r in range(left_over):
                i = rest[r]
                for t in range(ways):
                    across = wide[t, i]
                    top = floor + tall[t, i]
                    if across == 0 or across > gap or top > ceiling:
                        continue
                    right = False
                    if across == gap:
                        score = 4
                        if top == left_wall:
                            score += 2
                        if top == right_wall:
                            score += 2
                    else:
                        score = 0
                        if top == left_wall:
                            score = 3
                            right = top == right_wall and right_wall > left_wall
                        elif top == right_wall:
                            score = 3
                            right = True
                        else:
                            right = right_wall > left_wall
                    if score > best:
                        best, chosen, way, at_right = score, r, t, right
                if best >= enough:
                    break
        if chosen < 0:
            up = min(left_wall, right_wall)
            if fault < fault_start.size and fault_end[fault] < up:
                up = fault_end[fault]
            waste += (up - floor) * gap
            if waste > most_waste:
                return -1
            level[k] = up
        else:
            i = rest[chosen]
            left_over -= 1
            for r in range(chosen, left_over):
                rest[r] = rest[r + 1]
            across = wide[way, i]
            turned[i] = way == 1
            y[i] = floor
            if across == gap:
                x[i] = left
                level[k] = floor + tall[way, i]
            else:
                for s in range(parts + 1, k + 1, -1):
                    corner[s] = corner[s - 1]
                    level[s] = level[s - 1]
                parts += 1
                if at_right:
                    x[i] = left + gap - across
                    corner[k + 1] = x[i]
                    k += 1
                    level[k] = floor + tall[way, i]
                else:
                    x[i] = left
                    corner[k + 1] = left + across
                    level[k + 1] = floor
                    level[k] = floor + tall[way, i]
        if k + 1 < parts and level[k + 1] == level[k]:
            for s in range(k + 1, parts):
                corner[s] = corner[s + 1]
                level[s] = level[s + 1]
            parts -= 1
        if k > 0 and level[k - 1] == level[k]:
            for s in range(k, parts):
                corner[s] = corner[s + 1]
                level[s] = level[s + 1]
            parts -= 1
    area = 0
    for r in range(left_over):
        area += wide[0, rest[r]] * tall[0, rest[r]]
    return area


@njit(cache=True, nogil=True)
def _number(
    state: NDArray[np.uint64],
) -> float:
    """Return a number from 0 to 1: Marsaglia's xorshift (2003)."""
    s = state[0]
    s ^= s << np.uint64(13)
    s ^= s >> np.uint64(7)
    s ^= s << np.uint64(17)
    state[0] = s
    return float((s >> np.uint64(11)) * (1.0 / 9007199254740992.0))


@njit(cache=True, nogil=True)
def _move(
    order: Ints,
    start: int,
    end: int,
) -> None:
    piece = order[start]
    if start < end:
        for j in range(start, end):
            order[j] = order[j + 1]
    else:
        for j in range(start, end, -1):
            order[j] = order[j - 1]
    order[end] = piece


@njit(cache=True, nogil=True)
def _fill(
    straight: bool,
    order: Ints,
    wide: Ints,
    tall: Ints,
    by_width: Ints,
    fault_start: Ints,
    fault_end: Ints,
    width: int,
    height: int,
    most_waste: int,
    enough: int,
    x: Ints,
    y: Ints,
    turned: NDArray[np.bool_],
    work: Ints,
) -> int:
    if straight:
        left_out = fill_straight(
            order, wide, tall, fault_start, fault_end, width, height, most_waste, x, y, turned, work
        )
    else:
        left_out = fill(
            order, wide, tall, by_width, fault_start, fault_end, width, height, most_waste, enough,
            x, y, turned, work,
        )  # fmt: skip
    return int(left_out)


@njit(cache=True, nogil=True)
def search(
    order: Ints,
    wide: Ints,
    tall: Ints,
    by_width: Ints,
    fault_start: Ints,
    fault_end: Ints,
    width: int,
    height: int,
    slack: int,
    steps: int,
    heat: float,
    seed: int,
    x: Ints,
    y: Ints,
    turned: NDArray[np.bool_],
    straight: bool,
    enough: int,
) -> int:
    """Anneal the order until every piece lies below ``height``; return the area left out at best.

    With ``straight``, pieces can be cut free from edge to edge. ``enough`` is that of ``fill``.

    ``order`` and the places become those of the best order. ``slack`` is the area that may be lost.
    """
    n = order.size
    state = np.empty(1, np.uint64)
    state[0] = np.uint64(seed * 2654435761 + 88172645463325252)
    for _ in range(5):
        _number(state)
    now_x, now_y, now_turned = np.empty(n, np.int64), np.empty(n, np.int64), np.zeros(n, np.bool_)
    work = np.empty(5 * n + 4 * fault_start.size + 8, np.int64)
    now = order.copy()
    any_waste = np.int64(1) << 62
    cost = _fill(
        straight, now, wide, tall, by_width, fault_start, fault_end, width, height, any_waste, enough,
        now_x, now_y, now_turned, work,
    )  # fmt: skip
    best = cost
    x[:], y[:], turned[:] = now_x, now_y, now_turned
    for step in range(steps):
        if best == 0:
            break
        limit = cost + np.int64(-np.log(1e-12 + _number(state)) * heat * (1.0 - step / steps))
        a, b = int(_number(state) * n), int(_number(state) * n)
        if a == b:
            continue
        swap = _number(state) < 0.5
        if swap:
            now[a], now[b] = now[b], now[a]
        else:
            _move(now, a, b)
        new = _fill(
            straight, now, wide, tall, by_width, fault_start, fault_end, width, height, limit + slack, enough,
            now_x, now_y, now_turned, work,
        )  # fmt: skip
        if 0 <= new <= limit:
            cost = new
            if new < best:
                best = new
                order[:] = now
                x[:], y[:], turned[:] = now_x, now_y, now_turned
        elif swap:
            now[a], now[b] = now[b], now[a]
        else:
            _move(now, b, a)
    return int(best)
