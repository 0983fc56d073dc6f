"""A few long calculations side by side, left alone as soon as someone wants to stop."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from concurrent.futures import CancelledError, ThreadPoolExecutor
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")


def side_by_side(
    work: Callable[[Item, Callable[[], None]], Result],
    items: Iterable[Item],
    workers: int,
    told: Callable[[int], None] = lambda done: None,
) -> list[Result]:
    """Return the results of ``work`` on each item, in order.

    Whatever is raised here, a KeyboardInterrupt above all, goes on at once: work that has begun is not
    waited for, as leaving a pool would. It ends when it next looks whether it is still wanted.

    Parameters
    ----------
    work : callable
        Called in one of the threads with an item, and with what to call every now and then: it raises
        when nobody wants the result any more. Work must write nothing but its own result.
    items : iterable
        What it is called with.
    workers : int
        Number of threads.
    told : callable
        Told the number of items done; may raise to cancel.

    Examples
    --------
    >>> side_by_side(lambda item, wanted: abs(item), [-1, 2, -3], 2)
    [1, 2, 3]
    """
    unwanted = threading.Event()

    def wanted() -> None:
        if unwanted.is_set():
            raise CancelledError

    pool = ThreadPoolExecutor(workers)
    results: list[Result] = []
    try:
        futures = [pool.submit(work, item, wanted) for item in items]
        for future in futures:
            results.append(future.result())
            told(len(results))
    except BaseException:
        unwanted.set()
        raise
    finally:
        pool.shutdown(wait=not unwanted.is_set(), cancel_futures=True)
    return results
