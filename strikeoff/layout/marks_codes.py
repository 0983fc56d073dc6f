"""Codes of pieces: text with a check character, as a Data Matrix for cameras.

References
----------
ISO/IEC 7064:2003, MOD 37-2: one check character, 0-9, A-Z or ``*``, that finds every single wrong
character and every swap of two neighbours. ISO/IEC 16022:2006, Data Matrix.
"""

from __future__ import annotations

import unicodedata

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError

_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_LONGEST_JOB = 12
_QUIET = 2


def check_character(text: str) -> str:
    """Return the check character of letters and digits, ISO/IEC 7064 MOD 37-2; hyphens do not count.

    Raises
    ------
    UsageError
        A character other than 0-9, A-Z and the hyphen, or none at all.

    Examples
    --------
    >>> check_character("G123498654321")
    'H'
    """
    letters = text.replace("-", "")
    total = 0
    for letter in letters:
        value = _ALPHABET.find(letter)
        if not 0 <= value < 36:
            raise UsageError("letter cannot be in a code", found=letter, expected="0-9, A-Z and hyphens")
        total = (total + value) * 2 % 37
    if not letters:
        raise UsageError("code is empty", found=text, expected="letters or digits")
    return _ALPHABET[(1 - total) % 37]


def piece_code(job: str, number: int) -> str:
    """Return job, number and check character of a piece; the job keeps its first 12 letters and digits.

    Examples
    --------
    >>> piece_code("Fern 3", 12)
    'FERN3-0012-M'
    """
    plain = unicodedata.normalize("NFKD", job).upper()
    short = "".join(letter for letter in plain if letter in _ALPHABET[:36])[:_LONGEST_JOB] or "JOB"
    body = f"{short}-{number:04d}"
    return f"{body}-{check_character(body)}"


def read_piece_code(text: str) -> tuple[str, int]:
    """Return job and number of a piece code.

    Raises
    ------
    InputError
        Not such a code, or misread: the check character does not agree.

    Examples
    --------
    >>> read_piece_code("FERN3-0012-M")
    ('FERN3', 12)
    """
    parts = text.strip().upper().split("-")
    whole = len(parts) == 3 and parts[0].isalnum() and parts[1].isdigit() and len(parts[2]) == 1
    if not whole or not text.isascii():
        raise InputError("not the code of a piece", found=text[:60], expected="JOB-NUMBER-CHECK")
    if check_character(f"{parts[0]}-{parts[1]}") != parts[2]:
        raise InputError("code of a piece is misread", found=text, advice="Read it again, or type it")
    return parts[0], int(parts[1])


def data_matrix(text: str) -> NDArray[np.bool_]:
    """Return a square Data Matrix with a quiet zone of two modules.

    Parameters
    ----------
    text : str
        What it says, ASCII.

    Returns
    -------
    ndarray, shape (modules, modules)
        True where ink falls.

    Raises
    ------
    UsageError
        Without the extra ``marks``.
    """
    try:
        from ppf.datamatrix import DataMatrix
    except ImportError as error:
        raise UsageError("piece codes need the extra 'marks'", advice="Install it") from error
    modules = np.array(DataMatrix(text).matrix, dtype=bool)
    return np.pad(modules, _QUIET)
