"""How long work tells that it is alive, and hears that it should stop."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Called with a stage name and the fraction done; raises to cancel the work."""

    def __call__(self, stage: str, fraction: float) -> None:
        """Report that ``stage`` has come to ``fraction`` (0-1)."""


def silent(stage: str, fraction: float) -> None:
    """Report to nobody."""
