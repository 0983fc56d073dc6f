"""Problems found while reading: collected, never lost, never fatal by themselves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from strikeoff.base.errors import InputError

Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True)
class Problem:
    """One thing that a reader or a check noticed.

    Attributes
    ----------
    severity : {"error", "warning", "note"}
        An error means that the value cannot be trusted; a warning that it was repaired or is unusual.
    where : str
        Line, field, patch or page, for example ``line 212``.
    message : str
        What is wrong, in one line.
    found, expected, advice : str, optional
        The value, the rule and the way out.
    cause : str, optional
        `title` of the problem that explains this one.
    """

    severity: Severity
    where: str
    message: str
    found: str | None = None
    expected: str | None = None
    advice: str | None = None
    cause: str | None = None

    @property
    def title(self) -> str:
        """Place and message, by which other problems name this one as their cause."""
        return f"{self.where}: {self.message}"

    def __str__(self) -> str:
        facts = "; ".join(
            f"{word} {value}"
            for word, value in (("found", self.found), ("expected", self.expected))
            if value is not None
        )
        text = f"{self.severity}: {self.where}: {self.message}" + (f" ({facts})" if facts else "")
        return f"{text}. {self.advice}" if self.advice else text

    def as_record(self) -> dict[str, str | None]:
        """Return the problem as a record for JSON output."""
        return {
            "severity": self.severity,
            "where": self.where,
            "message": self.message,
            "found": self.found,
            "expected": self.expected,
            "advice": self.advice,
            "cause": self.cause,
        }


def raise_first_error(problems: Iterable[Problem], path: object) -> None:
    """Raise the first error among the problems, naming how many more there are.

    What another problem explains is neither raised nor counted: a cause is as severe as what it explains.
    """
    errors = [p for p in problems if p.severity == "error" and p.cause is None]
    if not errors:
        return
    first = errors[0]
    more = f" ({len(errors) - 1} more)" if len(errors) > 1 else ""
    raise InputError(
        first.message + more,
        path=path,
        where=first.where,
        found=first.found,
        expected=first.expected,
        advice=first.advice,
    )
