"""Warnings of marks without room, told together: one for each kind, not one for each piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from strikeoff.base.problems import Problem

_NAMED = 3


def told_together(problems: Sequence[Problem]) -> tuple[Problem, ...]:
    """Return one warning for all places that lack room for one kind of mark; it names the first three.

    Parameters
    ----------
    problems : sequence of Problem
        As `place_marks` returns them.

    Examples
    --------
    >>> many = [Problem("warning", f"P{k}", "no room", f"P{k + 1} in the way", "4 mm") for k in range(40)]
    >>> print(told_together(many)[0])
    warning: P0, P1, P2 and 37 more: no room (found P0: P1 in the way; expected 4 mm)
    """
    kinds: dict[tuple[str, str], list[Problem]] = {}
    for problem in problems:
        kinds.setdefault((problem.severity, problem.message), []).append(problem)
    return tuple(_together(same) for same in kinds.values())


def _together(same: list[Problem]) -> Problem:
    first = same[0]
    if len(same) == 1:
        return first
    where = ", ".join(problem.where for problem in same[:_NAMED])
    where += f" and {len(same) - _NAMED} more" if len(same) > _NAMED else ""
    return replace(first, where=where, found=f"{first.where}: {first.found}")
