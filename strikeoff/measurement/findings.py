"""What checks found, with the rows that it rests on: causes come first, and what they explain last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

from strikeoff.base.problems import Problem, Severity

_WORST: tuple[Severity, ...] = ("error", "warning", "note")


class Rank(IntEnum):
    """How much a finding means: a wrong set-up spoils everything, one patch only itself."""

    SETUP = 0
    COLUMNS = 1
    RUN = 2
    GROUP = 3
    PATCH = 4


@dataclass(frozen=True)
class Finding:
    """A problem and what it has to do with others.

    Attributes
    ----------
    problem : Problem
        What to tell.
    rank : Rank
        Findings of a lower rank are told first.
    key : str
        What was found, and on what; equal for the same finding on other values.
    rows : frozenset of int
        Rows that it rests on; empty where no rows could explain it.
    share : float
        How much of its rows a cause must hold to explain it; 0 where one row is enough. [-]
    explains : frozenset of int
        Rows whose readings it explains.
    cures : frozenset of str
        Keys of findings that are gone once it is undone.
    """

    problem: Problem
    rank: Rank
    key: str
    rows: frozenset[int] = frozenset()
    share: float = 0.0
    explains: frozenset[int] = frozenset()
    cures: frozenset[str] = frozenset()

    def is_cause_of(self, other: Finding) -> bool:
        """Return whether this finding explains another."""
        if other.key in self.cures:
            return True
        held = len(self.explains & other.rows)
        return held > 0 and held >= other.share * len(other.rows)


def rows_explained(findings: Iterable[Finding]) -> frozenset[int]:
    """Return the rows that findings explain, all together."""
    return frozenset(row for finding in findings for row in finding.explains)


def problems_in_order(findings: Sequence[Finding]) -> list[Problem]:
    """Return the problems of findings: causes by rank, then what they explain.

    Parameters
    ----------
    findings : sequence of Finding
        As the checks gave them.

    Returns
    -------
    list of Problem
        All of them. What a cause explains names it in ``cause``, and the cause is as severe as the worst of
        what it explains.

    Examples
    --------
    >>> strip = Problem("warning", "patches a to c", "strip is read backwards")
    >>> patch = Problem("warning", "patch b", "patch does not fit its neighbours")
    >>> found = [
    ...     Finding(patch, Rank.PATCH, "neighbour 1", frozenset({1})),
    ...     Finding(strip, Rank.RUN, "reversed 0", explains=frozenset({0, 1, 2})),
    ... ]
    >>> [(problem.where, problem.cause) for problem in problems_in_order(found)]
    [('patches a to c', None), ('patch b', 'patches a to c: strip is read backwards')]
    """
    causes: list[Finding] = []
    explained: list[tuple[Finding, Problem]] = []
    # Runs of wrong rows may look like wrong columns; where columns look like rows, those were not sought.
    for finding in sorted(findings, key=lambda one: (one.rank != Rank.RUN, one.rank)):
        cause = next((cause for cause in causes if cause.is_cause_of(finding)), None)
        if cause is None:
            causes.append(finding)
        else:
            explained.append((cause, replace(finding.problem, cause=cause.problem.title)))
    told = []
    for cause in sorted(causes, key=lambda one: one.rank):
        worst = [cause.problem.severity, *(problem.severity for of, problem in explained if of is cause)]
        told.append(replace(cause.problem, severity=min(worst, key=_WORST.index)))
    return told + [problem for _, problem in explained]
