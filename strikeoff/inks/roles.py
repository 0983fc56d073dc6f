"""Which ink is a process ink, and which one marks are printed in."""

from __future__ import annotations

from collections.abc import Sequence

_LONG_NAMES = {"cyan": "C", "magenta": "M", "yellow": "Y", "black": "K"}


def process_role(ink_name: str) -> str | None:
    """Return C, M, Y or K for a process ink under its short or long name, else None.

    Examples
    --------
    >>> process_role("Magenta"), process_role("K"), process_role("Orange")
    ('M', 'K', None)
    """
    name = _LONG_NAMES.get(ink_name.lower(), ink_name.upper())
    return name if name in ("C", "M", "Y", "K") else None


def darkest_ink(ink_names: Sequence[str]) -> int:
    """Return the channel that marks are printed in: black, else the last.

    Examples
    --------
    >>> darkest_ink(["C", "M", "Y", "K", "Orange"]), darkest_ink(["Red", "Blue"])
    (3, 1)
    """
    for channel, name in enumerate(ink_names):
        if process_role(name) == "K":
            return channel
    return len(ink_names) - 1
