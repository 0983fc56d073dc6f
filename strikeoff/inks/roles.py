"""Which ink is a process ink, which one is special, and which one marks are printed in."""

from __future__ import annotations

import re
from collections.abc import Sequence

#: Roles of inks that are reached by name only: no colour is separated into them unless someone says so.
BY_NAME_ONLY = ("fluorescent", "white", "clear", "metallic")

_SPECIAL_NAMES = {
    "fluorescent": r"(?<![a-z])(fluo|neon)",
    "white": r"(?<![a-z])white(?![a-z])|^w$",
    "clear": r"(?<![a-z])(clear|varnish|gloss|coating|primer)(?![a-z])",
    "metallic": r"(?<![a-z])(metallic|silver|gold)(?![a-z])",
}
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


def special_role(ink_name: str) -> str | None:
    """Return the role of a white, clear, fluorescent or metallic ink that its name tells, else None.

    Examples
    --------
    >>> special_role("Opaque White"), special_role("fluo pink"), special_role("Golden_Yellow")
    ('white', 'fluorescent', None)
    """
    for role, pattern in _SPECIAL_NAMES.items():
        if re.search(pattern, ink_name, re.IGNORECASE):
            return role
    return None


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
