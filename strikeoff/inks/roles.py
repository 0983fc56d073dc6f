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


def process_channels(ink_names: Sequence[str], lightness: Sequence[float] | None = None) -> dict[str, int]:
    """Return the channels of the process inks C, M, Y and K, as far as they are there.

    Of several inks of one letter, as with light inks C and c that are calibrated each on its own, the
    darkest solid is the process ink; where no solids are known, the first whose name starts with a capital.

    Parameters
    ----------
    ink_names : sequence of str
        Names in channel order.
    lightness : sequence of float, optional
        Of each ink's solid. [L*]

    Examples
    --------
    >>> process_channels(["k", "c", "C", "Orange", "K"])
    {'C': 2, 'K': 4}
    >>> process_channels(["k", "C", "K"], [30.0, 55.0, 60.0])
    {'C': 1, 'K': 0}
    """
    found = {}
    for letter in "CMYK":
        alike = [channel for channel, name in enumerate(ink_names) if process_role(name) == letter]
        if alike and lightness is not None:
            found[letter] = min(alike, key=lambda channel: float(lightness[channel]))
        elif alike:
            found[letter] = min(alike, key=lambda channel: not ink_names[channel][0].isupper())
    return found


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
    return process_channels(ink_names).get("K", len(ink_names) - 1)


def names_of_columns(columns: Sequence[str], named: Sequence[str] = ()) -> tuple[str, ...]:
    """Return ink names by columns: ``CMYK_C`` is C; numbers are named elsewhere, or stay.

    Parameters
    ----------
    columns : sequence of str
        Ink columns in channel order.
    named : sequence of str
        Names in the same order, for columns that are numbered; not used where they do not fit.

    Examples
    --------
    >>> names_of_columns(["3CLR_1", "3CLR_2", "3CLR_3"], ["C", "Orange", "K"])
    ('C', 'Orange', 'K')
    >>> names_of_columns(["2CLR_1", "2CLR_2"], ["C"]), names_of_columns(["CMYK_C", "CMYK_M"], ["Cyan", "Red"])
    (('1', '2'), ('C', 'M'))
    """
    endings = tuple(column.split("_", 1)[-1] for column in columns)
    fits = len(named) == len(set(named)) == len(columns) and all(map(str.isprintable, named))
    return tuple(named) if fits and any(ending.isdigit() for ending in endings) else endings


def ink_names_text(names: Sequence[str]) -> str:
    """Return names as the keyword INK_NAMES of readings holds them, blanks between names only.

    Examples
    --------
    >>> ink_names_text(["C", "Opaque White"])
    'C Opaque-White'
    """
    return " ".join("-".join(name.split()) for name in names)
