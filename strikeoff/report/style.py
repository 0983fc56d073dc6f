"""One look for everything that is shown: colours, type, badges."""

from __future__ import annotations

from html import escape
from typing import Literal

from strikeoff.base.errors import UsageError

Label = Literal["measured", "smoothed data", "reference engine", "simulated"]

#: Colours by use. Text on every ground has a contrast of 4.5 : 1 or more (WCAG 2.1, 1.4.3).
INK = "#16233a"
MUTED = "#55606f"
LINE = "#cfc8b8"
GRID = "#e6e1d5"
GROUND = "#f5f2ea"
PAPER = "#ffffff"
ACCENT = "#2b6ca3"
SECOND = "#a8500b"
PASS = "#1d6e3a"
FAIL = "#a61b1b"
UNDECIDED = "#8a5300"

OUTCOME_COLOURS = {"pass": PASS, "fail": FAIL, "undecided": UNDECIDED}

#: Type for pages and drawings: what the machine has, nothing fetched.
FONTS = "system-ui, 'Segoe UI', 'Noto Sans', 'DejaVu Sans', Arial, sans-serif"

#: What each label says in full.
LABELS: dict[str, tuple[str, str]] = {
    "measured": ("measured", "Read with an instrument on real prints"),
    "smoothed data": ("smoothed data", "Real readings that were averaged and smoothed before publication"),
    "reference engine": ("reference engine", "Computed by software that is not ours"),
    "simulated": ("simulated: not yet shown on cloth", "Computed by an invented press and finishing line"),
}


def badge(label: str) -> str:
    """Return the badge that every figure carries, as HTML.

    Raises
    ------
    UsageError
        Unknown label.

    Examples
    --------
    >>> "not yet shown on cloth" in badge("simulated")
    True
    """
    if label not in LABELS:
        raise UsageError("unknown label", found=label, expected=", ".join(LABELS))
    text, meaning = LABELS[label]
    kind = label.replace(" ", "-")
    return f'<span class="badge badge-{kind}" title="{escape(meaning)}">{escape(text)}</span>'
