"""Marks as dots at press pitch, with sizes exact to the pixel at unequal addressabilities."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.mark_records import Mark
from strikeoff.layout.marks_codes import data_matrix

_LARGEST_TEXT = 0.36
_HELD_MARKS = 64


@dataclass(frozen=True)
class MarkDots:
    """Dots of a mark: left upper pixel from the corner of the cuttable cloth, and where ink falls."""

    left_px: int
    top_px: int
    dots: NDArray[np.bool_]

    @property
    def height_px(self) -> int:
        """Rows."""
        return len(self.dots)


@dataclass(frozen=True)
class DrawnMark:
    """A mark at press pitch that is drawn when its dots are asked for: thousands of codes take no memory.

    Attributes
    ----------
    mark : Mark
        What to draw.
    dpi_x, dpi_y : float
        Addressability. [dots per inch]
    """

    mark: Mark
    dpi_x: float
    dpi_y: float

    @property
    def left_px(self) -> int:
        """Column of its left edge, from the corner of the cuttable cloth."""
        return round(self.mark.x_mm * self.dpi_x / MM_PER_INCH)

    @property
    def top_px(self) -> int:
        """Row of its upper edge."""
        return round(self.mark.y_mm * self.dpi_y / MM_PER_INCH)

    @property
    def height_px(self) -> int:
        """Rows."""
        return max(1, round(self.mark.height_mm * self.dpi_y / MM_PER_INCH))

    @property
    def dots(self) -> NDArray[np.bool_]:
        """Where ink falls."""
        return _drawn(replace(self.mark, x_mm=0.0, y_mm=0.0, piece=""), self.dpi_x, self.dpi_y)


@lru_cache(maxsize=_HELD_MARKS)
def _drawn(mark: Mark, dpi_x: float, dpi_y: float) -> NDArray[np.bool_]:
    return mark_dots(mark, dpi_x, dpi_y).dots


def mark_dots(mark: Mark, dpi_x: float, dpi_y: float) -> MarkDots:
    """Return a mark at press pitch; nothing lies outside the box of the mark rounded to pixels.

    Parameters
    ----------
    mark : Mark
        What to draw.
    dpi_x, dpi_y : float
        Addressability. [dots per inch]

    Raises
    ------
    UsageError
        The press is too coarse for the modules of a code.

    Examples
    --------
    >>> mark_dots(Mark("trim", 10.0, 20.0, 5.0, 0.5), 600, 300).dots.shape
    (6, 118)
    """
    across, along = dpi_x / MM_PER_INCH, dpi_y / MM_PER_INCH
    width, height = max(1, round(mark.width_mm * across)), max(1, round(mark.height_mm * along))
    if mark.kind == "trim":
        dots = np.ones((height, width), bool)
    elif mark.kind in ("cutter", "eyelet"):
        dots = _disc(width, height, 1.0)
    elif mark.kind == "fold":
        dots = _two_lines(width, height, mark.side in ("left", "right"))
    elif mark.kind == "register":
        dots = _target(width, height)
    else:
        dots = _code(mark, width, height, across, along)
    return MarkDots(round(mark.x_mm * across), round(mark.y_mm * along), dots)


def _disc(width: int, height: int, size: float) -> NDArray[np.bool_]:
    x = (np.arange(width) + 0.5) / width * 2 - 1
    y = (np.arange(height) + 0.5) / height * 2 - 1
    return np.asarray(x[None, :] ** 2 + y[:, None] ** 2 <= size**2)


def _two_lines(width: int, height: int, lying: bool) -> NDArray[np.bool_]:
    """Draw two lines a quarter of the box wide at its long edges; what is folded lies between."""
    dots = np.zeros((width, height) if lying else (height, width), bool)
    line = max(1, round(dots.shape[1] / 4))
    dots[:, :line] = dots[:, -line:] = True
    return dots.T if lying else dots


def _target(width: int, height: int) -> NDArray[np.bool_]:
    """Draw a cross over a ring, each line a twentieth of the box."""
    ring = _disc(width, height, 0.7) & ~_disc(width, height, 0.6)
    for axis, size in ((0, height), (1, width)):
        half = max(1, round(size / 40))
        line = slice(size // 2 - half, size - size // 2 + half)
        ring[(line, slice(None)) if axis == 0 else (slice(None), line)] = True
    return ring


def _code(mark: Mark, width: int, height: int, across: float, along: float) -> NDArray[np.bool_]:
    turned = mark.height_mm > mark.width_mm
    if turned:
        width, height, across, along = height, width, along, across
    dots = np.zeros((height, width), bool)
    short_mm = min(mark.width_mm, mark.height_mm)
    long_mm = max(mark.width_mm, mark.height_mm)
    symbol = data_matrix(mark.text)
    module_mm = short_mm / len(symbol)
    repeats = int(module_mm * along), int(module_mm * across)
    if min(repeats) < 1:
        raise UsageError("press is too coarse for codes", found=f"modules of {module_mm:.2f} mm")
    drawn = symbol.repeat(repeats[0], axis=0).repeat(repeats[1], axis=1)
    dots[: drawn.shape[0], : drawn.shape[1]] = drawn
    left = round(short_mm * across)
    _write_text(dots[:, left:], mark.text, long_mm - short_mm - 1.0, short_mm, across, along)
    return np.rot90(dots, -1) if turned else dots


def _write_text(
    dots: NDArray[np.bool_], text: str, room_mm: float, high_mm: float, across: float, along: float
) -> None:
    """Write one or two lines as large as the box allows; the number stands on its own line."""
    from PIL import Image, ImageDraw, ImageFont

    job, rest = text.split("-", 1) if "-" in text else ("", text)
    finest = max(across, along)
    size = high_mm * _LARGEST_TEXT * finest
    lines = (job, rest)
    longest = max(ImageFont.load_default(size).getlength(line) for line in lines)
    font = ImageFont.load_default(size * min(1.0, room_mm * finest / longest))
    rows, columns = round(dots.shape[0] * finest / along), round(dots.shape[1] * finest / across)
    image = Image.new("1", (columns, rows))
    draw = ImageDraw.Draw(image)
    for k, line in enumerate(lines):
        draw.text((0, rows * (0.28 + 0.44 * k)), line, fill=1, font=font, anchor="lm")
    dots[:] = np.array(image.resize((dots.shape[1], dots.shape[0]), Image.Resampling.NEAREST), bool)
