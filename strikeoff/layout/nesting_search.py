"""The search of nesting: lengths bisected, the order of pieces annealed, on whole numbers."""

from __future__ import annotations

import math
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.progress import Progress
from strikeoff.layout.nesting_blocks import joined, places_of, single_blocks, sizes_of

_THREADS = 2
_BEST_SCORE = 8
_FEW = 40
_FEW_FOR_BLOCKS = 64
_MOST_JOINED = 0.6
_FIRST_STEPS = 500
_HEAT = 0.0003
_STEPS_OF_LENGTH = 4000
_SECONDS_A_CALL = 1.0

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Job:
    """Sizes in whole units of unfinished cloth, gaps within, shape (2, n): upright, and turned or 0."""

    wide: Ints
    tall: Ints
    by_width: Ints
    fault_start: Ints
    fault_end: Ints
    width: int
    bound: int
    area: int
    straight: bool = False


@dataclass(frozen=True)
class Places:
    """Where pieces lie, in those units, the order that put them there, and the area left out."""

    x: Ints
    y: Ints
    turned: NDArray[np.bool_]
    order: Ints
    left_out: int

    def top(self, job: Job) -> int:
        """Return how long the layout is."""
        return int((self.y + np.where(self.turned, job.tall[1], job.tall[0])).max())


def _run(job: Job, order: Ints, height: int, steps: int, seed: int, enough: int = _BEST_SCORE) -> Places:
    from strikeoff.layout.kernels_nesting import search

    n = len(order)
    x, y, turned = np.empty(n, np.int64), np.zeros(n, np.int64), np.zeros(n, np.bool_)
    order = order.copy()
    slack = max(0, job.width * height - job.area)
    left_out = search(
        order, job.wide, job.tall, job.by_width, job.fault_start, job.fault_end,
        job.width, height, slack, steps, _HEAT * job.area, seed, x, y, turned, job.straight, enough,
    )  # fmt: skip
    return Places(x, y, turned, order, int(left_out))


def _run_blocks(job: Job, number: int, height: int, steps: int, seed: int) -> Places:
    """As `_run` of the plain order of that number, with pieces that share a side joined by lot."""
    random = np.random.default_rng(seed)
    n = job.wide.shape[1]
    joins = int(random.uniform(0, _MOST_JOINED) * n)
    singles = single_blocks(job.wide, job.tall)
    blocks = joined(singles, joins=joins, width=job.width, height=height, random=random)
    wide, tall = sizes_of(blocks)
    narrow = np.where(wide[1] > 0, np.minimum(wide[0], wide[1]), wide[0])
    of_blocks = replace(job, wide=wide, tall=tall, by_width=np.argsort(narrow, kind="stable"))
    orders = _orders(of_blocks)
    found = _run(of_blocks, orders[number % len(orders)], height, steps, seed)
    if found.left_out:
        return found
    return Places(*places_of(blocks, found.x, found.y, found.turned, found.order), 0)


def _orders(job: Job) -> list[Ints]:
    w, h = job.wide[0], job.tall[0]
    return [np.argsort(-key, kind="stable") for key in (w * h, h, w, w + h, np.maximum(w, h))]


def first(job: Job, seconds: float) -> tuple[Places, float]:
    """Return the best of plain orders, and the time of one of them. [s]."""
    room = int(np.maximum(job.tall[0], job.tall[1]).sum())
    faults = int((job.fault_end - job.fault_start).sum()) + int(job.tall.max()) * len(job.fault_start)
    if job.straight:
        # So much room that every cut goes across first: nothing can be left out.
        room += int(job.tall.max()) * (job.width // max(1, int(job.wide[job.wide > 0].min())) + 1)
    made: list[Places] = []
    each = math.inf
    begun = time.monotonic()
    for order in _orders(job):
        started = time.monotonic()
        if made and started - begun > seconds / 2:
            break
        made.append(_run(job, order, room + faults, 0, 1))
        # The least: the first may have waited for the compiler.
        each = min(each, time.monotonic() - started)
    return min(made, key=lambda places: places.top(job)), each


def shorter(job: Job, best: Places, each: float, end: float, seed: int, progress: Progress) -> Places:
    """Bisect the length, with more steps each time that nothing shorter is found."""
    turn, low = 0, job.bound
    pool = [*_orders(job), best.order]
    begun = end - time.monotonic()
    steps = _FIRST_STEPS
    with ThreadPoolExecutor(_THREADS) as threads:
        while (top := best.top(job)) > job.bound and (rest := end - time.monotonic()) > 0:
            progress(f"nest: {100 * (top / job.bound - 1):.2f} % above the bound", 1 - rest / begun)
            target = min((low + top) // 2, top - 1)
            found = None
            for order in pool:
                turn += 1
                # Steps that fail end early: this many take no longer, and people can stop in between.
                rest = max(0.0, end - time.monotonic())
                within = max(1, min(steps, int(min(_SECONDS_A_CALL, rest) / each)))
                # Scores keep some layouts of few pieces from being found: every third time one thread goes
                # by the order alone.
                plain = len(order) <= _FEW and turn % 3 == 1
                number = 10_007 * seed + 101 * turn
                calls = [threads.submit(_run, job, order, target, within, number)]
                if plain:
                    calls.append(threads.submit(_run, job, order, target, within, number + 1, 0))
                elif len(order) <= _FEW_FOR_BLOCKS:
                    calls.append(threads.submit(_run_blocks, job, turn, target, within, number + 1))
                else:
                    calls.append(threads.submit(_run, job, order, target, within, number + 1))
                fits = [places for call in calls if (places := call.result()).left_out == 0]
                found = min(fits, key=lambda places: places.top(job), default=None)
                if found is not None or time.monotonic() > end:
                    break
            if found is not None:
                best = found
                pool[-1] = found.order
            else:
                low = target + 1
                if top - low < max(1, top // _STEPS_OF_LENGTH):
                    low, steps = job.bound, 2 * steps
    return best
