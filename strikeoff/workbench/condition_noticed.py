"""What was noticed while a condition was made: told then and in its report, elsewhere only counted."""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.base.problems import Problem
from strikeoff.base.words import counted


def noticed_line(problems: Sequence[Problem], place: str) -> tuple[str, ...]:
    """Return one line that counts what was noticed and says where it stands, or none.

    Parameters
    ----------
    problems : sequence of Problem
        Of a condition; errors keep one from being made.
    place : str
        Where they stand in full.

    Examples
    --------
    >>> noticed_line([Problem("note", "file", "harmless"), Problem("warning", "line 3", "odd")], "the report")
    ('noticed while it was made: 1 warning, 1 note; in full in the report',)
    >>> noticed_line([], "the report")
    ()
    """
    kinds = [problem.severity for problem in problems]
    counts = [counted(kinds.count(kind), kind) for kind in ("error", "warning", "note") if kind in kinds]
    return (f"noticed while it was made: {', '.join(counts)}; in full in {place}",) if counts else ()
