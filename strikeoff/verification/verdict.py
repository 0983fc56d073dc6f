"""What a verdict holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

Outcome = Literal["pass", "fail", "undecided"]


@dataclass(frozen=True)
class VerdictItem:
    """One line of a verdict.

    Attributes
    ----------
    name : str
        As in the tolerance set.
    value : float or None
        The statistic as measured; None where the readings hold no such patches.
    uncertainty : float or None
        Expanded uncertainty U of the value, same unit.
    noise_bias : float
        What noise alone adds to the value: a difference cannot be negative, so noise makes it larger.
    limit : float
        Same unit.
    outcome : {"pass", "fail", "undecided"}
        Pass when value + U < limit; fail when value - noise_bias - U > limit.
    formula : str
        As shown, for example ``CIEDE2000``.
    statistic : str
        ``mean``, ``percentile-95`` or ``max``.
    patches : tuple of str
        Sample ids that went in, the worst first.
    more_readings : int or None
        For undecided items, further readings of each patch that would decide; None when no practical
        number can, because the uncertainty of the aims or of the instrument straddles the limit.
    """

    name: str
    value: float | None
    uncertainty: float | None
    noise_bias: float
    limit: float
    outcome: Outcome
    formula: str
    statistic: str
    patches: tuple[str, ...]
    more_readings: int | None = None

    @property
    def advice(self) -> str:
        """What to do next, in one line."""
        if self.value is None:
            return "No such patches were read: print and read them"
        if self.outcome == "pass":
            return "Nothing to do"
        if self.outcome == "fail":
            return f"Look at patch {self.patches[0]} first"
        if self.more_readings is None:
            return "More readings cannot decide: the aim or the instrument is too uncertain for this limit"
        word = "reading" if self.more_readings == 1 else "readings"
        return f"Take {self.more_readings} more {word} of each patch"

    def as_record(self) -> dict[str, Any]:
        """Return the item for JSON output."""
        return {
            "name": self.name,
            "value": self.value,
            "uncertainty": self.uncertainty,
            "noise_bias": self.noise_bias,
            "limit": self.limit,
            "outcome": self.outcome,
            "formula": self.formula,
            "statistic": self.statistic,
            "patches": list(self.patches),
            "more_readings": self.more_readings,
            "advice": self.advice,
        }


@dataclass(frozen=True)
class Verdict:
    """All items, the outcome over them and how it was reached.

    Attributes
    ----------
    items : tuple of VerdictItem
        In the order of the tolerance set.
    outcome : {"pass", "fail", "undecided"}
        See `overall`.
    setup : str
        Illuminant, observer, measuring mode, guard and noise in one line.
    counts : dict of str to int
        ``patches``, ``readings``, ``repeat_freedom`` and patches per role.
    tolerances, origin : str
        Name of the tolerance set and where its limits come from.
    not_judged : tuple of str
        Optional items for which the readings hold no patches.
    """

    items: tuple[VerdictItem, ...]
    outcome: Outcome
    setup: str
    counts: dict[str, int] = field(default_factory=dict)
    tolerances: str = ""
    origin: str = ""
    not_judged: tuple[str, ...] = ()

    def as_record(self) -> dict[str, Any]:
        """Return the verdict for JSON output."""
        return {
            "outcome": self.outcome,
            "tolerances": self.tolerances,
            "origin": self.origin,
            "setup": self.setup,
            "counts": dict(self.counts),
            "not_judged": list(self.not_judged),
            "items": [item.as_record() for item in self.items],
        }


def overall(outcomes: Iterable[Outcome]) -> Outcome:
    """Return fail if any failed, else undecided if any is, else pass.

    Examples
    --------
    >>> overall(["pass", "undecided"]), overall(["undecided", "fail"]), overall(["pass"])
    ('undecided', 'fail', 'pass')
    """
    seen = set(outcomes)
    return "fail" if "fail" in seen else "undecided" if "undecided" in seen or not seen else "pass"
