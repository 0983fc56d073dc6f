"""Linear algebra on one thread, so that sums are added up in the same order however many cores there are."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import threadpool_limits

Given = ParamSpec("Given")
Made = TypeVar("Made")


def one_thread(work: Callable[Given, Made]) -> Callable[Given, Made]:
    """Return a function that does its linear algebra on one thread.

    Where one colour has several recipes that are equally good, the last digit of a sum may decide between
    them: equal inputs then gave other inks on a machine with more cores. Small matrices are no slower so.

    Parameters
    ----------
    work : callable
        Must not run in several threads at once: the limit is the whole program's.

    Examples
    --------
    >>> one_thread(abs)(-3)
    3
    """

    @wraps(work)
    def limited(*args: Given.args, **kwargs: Given.kwargs) -> Made:
        with threadpool_limits(1, user_api="blas"):
            return work(*args, **kwargs)

    return limited
