"""Kinds of values on the command line, each with its own clear refusal."""

from __future__ import annotations

import math
import re
from pathlib import Path

import click

_PAIR = re.compile(r"([^x×]+)[x×]([^x×]+)")

INK_SCALE = click.Choice(["percent", "unit", "byte"])


def number(text: str) -> float:
    """Return a finite number with a decimal point.

    Examples
    --------
    >>> number("-5.5")
    -5.5
    """
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if "," in plain:
        raise click.BadParameter(f"{text!r} holds a comma; write decimals with a point, such as -5.5")
    try:
        value = float(plain)
    except ValueError:
        raise click.BadParameter(f"{text!r} is not a number") from None
    if not math.isfinite(value) or "_" in plain:
        raise click.BadParameter(f"{text!r} is not a number that can be used")
    return value


def size_mm(text: str) -> tuple[float, float]:
    """Return a size, across and along.

    Examples
    --------
    >>> size_mm("640x320.5")
    (640.0, 320.5)
    """
    found = _PAIR.fullmatch(text.lower())
    if not found:
        raise click.BadParameter(f"{text!r} is not a size such as 640x640, across x along in millimetres")
    return _positive(number(found[1]), number(found[2]), text)


def dpi(text: str) -> tuple[float, float]:
    """Return dots per inch across and along; one number stands for both.

    Examples
    --------
    >>> dpi("600x900"), dpi("600")
    ((600.0, 900.0), (600.0, 600.0))
    """
    found = _PAIR.fullmatch(text.lower())
    across, along = (found[1], found[2]) if found else (text, text)
    return _positive(number(across), number(along), text)


def names(text: str) -> tuple[str, ...]:
    """Return names that commas part.

    Examples
    --------
    >>> names("C, M,Orange")
    ('C', 'M', 'Orange')
    """
    found = tuple(part.strip() for part in text.split(","))
    if not all(found):
        raise click.BadParameter(f"{text!r} holds an empty name")
    return found


def ink_groups(text: str) -> tuple[tuple[str, ...], ...]:
    """Return combinations of inks: plus signs join, commas part.

    Examples
    --------
    >>> ink_groups("C+M,C+M+Y")
    (('C', 'M'), ('C', 'M', 'Y'))
    """
    groups = tuple(tuple(ink.strip() for ink in part.split("+")) for part in text.split(","))
    if not all(ink for group in groups for ink in group):
        raise click.BadParameter(f"{text!r} holds an empty name; write C+M,C+M+Y")
    return groups


def numbers(text: str) -> tuple[float, ...]:
    """Return numbers that commas part.

    Examples
    --------
    >>> numbers("150,200")
    (150.0, 200.0)
    """
    return tuple(number(part) for part in text.split(","))


def file_path(text: str) -> Path:
    """Return a path; whether it can be read or written is found out by doing so."""
    if not text.strip() or "\0" in text:
        raise click.BadParameter("the file name is empty")
    if text.startswith("--"):
        raise click.BadParameter(f"{text!r} looks like an option; write ./{text} if it is a file")
    return Path(text)


def written_path(text: str) -> Path:
    """Return the path of something that a command writes; what the command reads may not be it."""
    return file_path(text)


def renewed_path(text: str) -> Path:
    """Return the path of something that a command reads and may write anew under the same name."""
    return file_path(text)


def _positive(across: float, along: float, text: str) -> tuple[float, float]:
    if min(across, along) <= 0:
        raise click.BadParameter(f"{text!r} holds a number that is not above zero")
    return across, along
