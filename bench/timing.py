"""How long work takes, when other work may share the machine."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median


def seconds(work: Callable[[], object], times: int = 7) -> float:
    """Return the median wall time after a first run that does not count."""
    work()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return median(found)


def core_seconds(work: Callable[[], object], times: int = 7) -> float:
    """Return the median time that this thread had a core, after a first run that does not count."""
    work()
    found = []
    for _ in range(times):
        start = time.thread_time()
        work()
        found.append(time.thread_time() - start)
    return median(found)
