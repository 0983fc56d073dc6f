"""Checks of the values in files that people edit: the key, what was found, what was expected."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from strikeoff.base.errors import InputError

_SHOWN = 40
_LONGEST_TEXT = 200


def check_keys(table: Any, keys: Collection[str], where: str) -> None:
    """Refuse what is no table, and keys that nobody knows.

    Raises
    ------
    InputError
    """
    if not isinstance(table, Mapping):
        raise InputError(
            "not a table of keys", where=where, found=shown(table), expected=", ".join(sorted(keys))
        )
    for key in table:
        if key not in keys:
            raise InputError("unknown key", where=where, found=key, expected=", ".join(sorted(keys)))


def number(value: Any, where: str, low: float, high: float) -> float:
    """Return a number within its range.

    Raises
    ------
    InputError
    """
    fits = isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high
    if not fits:
        raise InputError(
            "not such a number", where=where, found=shown(value), expected=f"{low:g} to {high:g}"
        )
    return float(value)


def whole(value: Any, where: str, low: int, high: int) -> int:
    """Return a whole number within its range.

    Raises
    ------
    InputError
    """
    if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
        raise InputError(
            "not such a whole number", where=where, found=shown(value), expected=f"{low} to {high}"
        )
    return value


def text(value: Any, where: str) -> str:
    """Return a text of one line, without blanks at its ends.

    Raises
    ------
    InputError
    """
    plain = value.strip() if isinstance(value, str) else ""
    if not plain or len(plain) > _LONGEST_TEXT or not plain.isprintable():
        raise InputError(
            "not such a text",
            where=where,
            found=shown(value),
            expected=f"words in quotes on one line, at most {_LONGEST_TEXT} letters",
            advice="Leave the key out where nothing is known",
        )
    return plain


def choice(value: Any, where: str, words: Sequence[str]) -> str:
    """Return one of some words.

    Raises
    ------
    InputError
    """
    if value not in words:
        raise InputError("unknown word", where=where, found=shown(value), expected=", ".join(words))
    return str(value)


def day(value: Any, where: str) -> date:
    """Return a date, given as such or in quotes.

    Raises
    ------
    InputError
    """
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError) as error:
        raise InputError(
            "not a date", where=where, found=shown(value), expected="year-month-day, such as 2031-03-01"
        ) from error


def shown(value: Any) -> str:
    """Return a value for a message, not too long.

    Examples
    --------
    >>> shown(-60.0), shown(True), shown([1, [2]]), shown({})
    ('-60.0', 'true', 'a list', 'a table')
    """
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return str(value)[:_SHOWN] if not isinstance(value, bool) else str(value).lower()
