"""TOML that people edit, and what is wrong with it in our own words."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from strikeoff.base.errors import InputError

_SHOWN = 60


def parse_toml(data: bytes, path: str | Path, what: str) -> dict[str, Any]:
    """Return the document in some bytes.

    Parameters
    ----------
    data : bytes
        UTF-8, with or without a byte order mark.
    path : str or Path
        Where they come from, for messages.
    what : str
        What they should be, such as ``a swatch book``.

    Raises
    ------
    InputError
        When it is no UTF-8 or no TOML; the line is named and shown.

    Examples
    --------
    >>> parse_toml(b'name = "Autumn"', "book.toml", "a swatch book")
    {'name': 'Autumn'}
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"not {what}: no text in UTF-8",
            path=path,
            where=f"line {data[: error.start].count(10) + 1}",
            found=f"byte {data[error.start]:#04x}",
            expected="TOML in UTF-8",
        ) from error
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise InputError(f"not {what}: brackets in brackets without end", path=path) from error
    except tomllib.TOMLDecodeError as error:
        raise _no_toml(text, str(error), path, what) from error


def _no_toml(text: str, said: str, path: str | Path, what: str) -> InputError:
    """Return the fault, with the line that the parser names; it names none at the end of a document."""
    lines = text.splitlines() or [""]
    named = re.search(r"line (\d+)", said)
    number = min(int(named[1]), len(lines)) if named else len(lines)
    while number > 1 and not lines[number - 1].strip():
        number -= 1
    found = lines[number - 1].strip()
    if not found.isprintable():
        found = repr(found)
    return InputError(
        f"not {what}: this is no TOML",
        path=path,
        where=f"line {number}" if named else f"line {number}, the last",
        found=found[:_SHOWN] or "nothing",
        expected="key = value, text in quotes, every bracket and quote closed, each key once",
    )
