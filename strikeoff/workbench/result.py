"""What every use case gives back."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from strikeoff.base.problems import Problem

Outcome = Literal["done", "pass", "fail", "undecided"]


@dataclass(frozen=True)
class Result:
    """Numbers for programs, lines for people, and the files that were written.

    Attributes
    ----------
    results : dict of str to Any
        What was found, as values that JSON can hold; names carry their units.
    problems : tuple of Problem
        What was noticed on the way; none of them stopped the work.
    outputs : tuple of Path
        Files written, in the order of writing.
    outcome : {"done", "pass", "fail", "undecided"}
        ``done`` for work, one of the others for a verdict.
    lines : tuple of str
        The same for a person at a terminal, one sentence or table row each.
    """

    results: dict[str, Any] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    outputs: tuple[Path, ...] = ()
    outcome: Outcome = "done"
    lines: tuple[str, ...] = ()
