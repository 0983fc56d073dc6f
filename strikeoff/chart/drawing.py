"""A page as a list of things that are printed: rectangles, polygons and lines of text, in millimetres."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from strikeoff.inks.roles import special_role

Inks = tuple[float, ...]
Point = tuple[float, float]

#: Height of capital letters over the nominal size of a font.
CAP_HEIGHT = 0.72
# Up to so much ink a patch cannot be told from the cloth around it; its corners are marked.
_BARE = 0.03
_TICK_MM, _TICK_SHARE, _TICK_LINE_MM, _TICK_INK = 1.5, 0.12, 0.25, 0.4


@dataclass(frozen=True)
class Rect:
    """A rectangle with its left upper corner; later items cover earlier ones.

    Attributes
    ----------
    x_mm, y_mm, width_mm, height_mm : float
        Place and size. [mm]
    inks : tuple of float
        Amount of each ink, 0-1. [-]
    """

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    inks: Inks

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom. [mm]."""
        return self.x_mm, self.y_mm, self.x_mm + self.width_mm, self.y_mm + self.height_mm


@dataclass(frozen=True)
class Text:
    """One line of text.

    Attributes
    ----------
    x_mm, y_mm : float
        Left (or middle, with ``centred``) end of the middle line. [mm]
    size_mm : float
        Nominal size of the font. [mm]
    text : str
        ASCII.
    inks : tuple of float
        Amount of each ink; zeros cut the letters out of what lies beneath. [-]
    centred : bool
        Whether ``x_mm`` is the middle.
    """

    x_mm: float
    y_mm: float
    size_mm: float
    text: str
    inks: Inks
    centred: bool = False


@dataclass(frozen=True)
class Page:
    """A page: later items cover earlier ones.

    Attributes
    ----------
    width_mm, height_mm : float
        Size. [mm]
    ink_names : tuple of str
        Inks in channel order.
    items : tuple of Rect or Text
        What is printed.
    """

    width_mm: float
    height_mm: float
    ink_names: tuple[str, ...]
    items: tuple[Rect | Text, ...] = field(default_factory=tuple)


def frame(
    x_mm: float, y_mm: float, width_mm: float, height_mm: float, line_mm: float, inks: Inks
) -> list[Rect]:
    """Return the four sides of a frame, drawn inwards."""
    right, bottom = x_mm + width_mm - line_mm, y_mm + height_mm - line_mm
    return [
        Rect(x_mm, y_mm, width_mm, line_mm, inks),
        Rect(x_mm, bottom, width_mm, line_mm, inks),
        Rect(x_mm, y_mm, line_mm, height_mm, inks),
        Rect(right, y_mm, line_mm, height_mm, inks),
    ]


def corner_ticks(
    x_mm: float, y_mm: float, side_mm: float, inks: Inks, dark: Inks, hidden: Collection[int] = ()
) -> list[Rect]:
    """Return ticks inside the corners of a patch that looks like cloth, far from any aperture.

    Parameters
    ----------
    x_mm, y_mm, side_mm : float
        Place and size of the patch. [mm]
    inks : tuple of float
        What the patch holds; one that is seen needs no ticks. [-]
    dark : tuple of float
        The darkest ink in full; ticks take part of it. [-]
    hidden : collection of int
        Channels of inks that may not be seen on the cloth.
    """
    if sum(amount for channel, amount in enumerate(inks) if channel not in hidden) > _BARE:
        return []
    arm, line = min(_TICK_MM, _TICK_SHARE * side_mm), _TICK_LINE_MM
    tint = tuple(_TICK_INK * v for v in dark)
    items = []
    for left, across in ((x_mm, x_mm), (x_mm + side_mm - arm, x_mm + side_mm - line)):
        for top, down in ((y_mm, y_mm), (y_mm + side_mm - arm, y_mm + side_mm - line)):
            items += [Rect(left, down, arm, line, tint), Rect(across, top, line, arm, tint)]
    return items


def hidden_channels(ink_names: Sequence[str]) -> frozenset[int]:
    """Return the channels of inks that light cloth hides: white and clear ones, by their names.

    Examples
    --------
    >>> sorted(hidden_channels(["C", "White", "Yellow", "clear"]))
    [1, 3]
    """
    return frozenset(i for i, name in enumerate(ink_names) if special_role(name) in ("white", "clear"))


def only(n_inks: int, channel: int, amount: float = 1.0) -> Inks:
    """Return one ink of many.

    Examples
    --------
    >>> only(3, 1)
    (0.0, 1.0, 0.0)
    """
    return tuple(amount if i == channel else 0.0 for i in range(n_inks))


def wrapped(text: str, width_mm: float, size_mm: float) -> list[str]:
    """Return text broken into lines that fit a width, by the mean width of letters.

    Examples
    --------
    >>> wrapped("the last step that is clean", 30.0, 4.0)
    ['the last step', 'that is clean']
    """
    room = max(8, int(width_mm / (0.56 * size_mm)))
    lines: list[str] = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > room:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def page_heading(title: str, number: int, count: int, width_mm: float, size_mm: float) -> list[str]:
    """Return the lines that say what a page is and which of how many.

    Examples
    --------
    >>> page_heading("Total ink | inks C M", 1, 2, 40.0, 3.0)
    ['Total ink | inks C M |', 'page 1 of 2']
    """
    return wrapped(letters(f"{title} | page {number} of {count}"), width_mm, size_mm)


def letters(text: str) -> str:
    """Return text in letters that every output has: accents go, others become question marks."""
    import unicodedata

    plain = unicodedata.normalize("NFKD", text)
    kept = (c for c in plain if not unicodedata.combining(c))
    return "".join(c if c.isascii() and c.isprintable() else "?" for c in kept)
