"""Type on paper: how wide words are, and where lines break."""

from __future__ import annotations

from functools import cache
from typing import Any

MM_PER_POINT = 25.4 / 72
#: Sizes of text, of tables and notes, and of headings. [points]
BODY, SMALL, HEAD = 9.0, 8.0, 14.0
#: Line height over type size.
LEADING = 1.42
# At which letters are measured. [points]
_SIZE = 100.0


def line_mm(size: float) -> float:
    """Return the height in mm of a line of a type size in points."""
    return size * MM_PER_POINT * LEADING


def text_width_mm(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of a line in mm.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Type size. [points]
    bold : bool
        Whether it is bold.
    """
    return sum(_letter_em(letter, bold) for letter in text) * size * MM_PER_POINT


def wrapped(text: str, width_mm: float, size: float, *, bold: bool = False) -> list[str]:
    """Return lines that fit a width; words that are wider break after a plus, else where they must.

    Parameters
    ----------
    text : str
        Words with single spaces between.
    width_mm : float
        Room. [mm]
    size : float
        Type size. [points]
    bold : bool
        Whether it is bold.

    Examples
    --------
    >>> wrapped("one two", 1000.0, 9.0), len(wrapped("x" * 40, 30.0, 9.0))
    (['one two'], 3)
    """
    lines, line = [], ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if text_width_mm(longer, size, bold=bold) <= width_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        line = ""
        for letter in word:
            if line and text_width_mm(line + letter, size, bold=bold) > width_mm:
                end = line.rfind("+") + 1 or len(line)
                lines.append(line[:end])
                line = line[end:]
            line += letter
    return [*lines, line] if line or not lines else lines


@cache
def _letter_em(letter: str, bold: bool) -> float:
    # At so large a size hinting moves nothing.
    return float(_face(bold).load_char(ord(letter)).linearHoriAdvance) / 65536.0 / _SIZE


@cache
def _face(bold: bool) -> Any:
    from matplotlib.font_manager import FontProperties, findfont
    from matplotlib.ft2font import FT2Font

    # One of our own: drawing changes the size of those that matplotlib keeps.
    face = FT2Font(findfont(FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal")))
    face.set_size(_SIZE, 72.0)
    return face
