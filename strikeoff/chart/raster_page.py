"""A page as ink planes, read in bands, so that no page is ever held whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import RangeError, UsageError
from strikeoff.base.units import MM_PER_INCH
from strikeoff.chart.drawing import Page, Rect, Text

_MOST_PIXELS = 400_000
_LEAST_DPI, _MOST_DPI = 10, 10_000
_FULL = 65535


@dataclass(frozen=True)
class PageSource:
    """A band source of a page.

    Parameters
    ----------
    page : Page
        What is printed.
    dpi : tuple of float
        Addressability, across and along. [dots per inch]
    bits : {8, 16}
        Bits per sample.
    lay_down : callable, optional
        From calibrated ink, uint16, shape (n, n_inks), to the inks that are written, in the same type.
    total : float, optional
        Total ink limit: recipes next to it are rounded down, others to the nearest step. [-]
    """

    page: Page
    dpi: tuple[float, float]
    bits: int = 16
    lay_down: Callable[[NDArray[np.uint16]], NDArray[np.uint16]] | None = None
    total: float | None = None

    def __post_init__(self) -> None:
        if self.bits not in (8, 16):
            raise UsageError("charts are written with 8 or 16 bits", found=self.bits)
        if not all(_LEAST_DPI <= dpi <= _MOST_DPI for dpi in self.dpi):
            raise RangeError(
                "addressability cannot be",
                found=" x ".join(f"{dpi:g}" for dpi in self.dpi),
                expected=f"{_LEAST_DPI} to {_MOST_DPI:,} dpi",
            )
        if max(self.width, self.height) > _MOST_PIXELS or min(self.width, self.height) < 1:
            raise RangeError(
                "page has no size that can be printed",
                found=f"{self.width} x {self.height} pixels",
                expected=f"1 to {_MOST_PIXELS} each way",
            )

    @property
    def height(self) -> int:
        """Rows."""
        return round(self.page.height_mm * self.dpi[1] / MM_PER_INCH)

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return round(self.page.width_mm * self.dpi[0] / MM_PER_INCH)

    @property
    def channels(self) -> int:
        """Inks that are written."""
        return int(self._samples.shape[1])

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint16 if self.bits == 16 else np.uint8)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch, across and along. [mm]."""
        return MM_PER_INCH / self.dpi[0], MM_PER_INCH / self.dpi[1]

    @cached_property
    def _rows(self) -> NDArray[np.int64]:
        """First and last row of every item, shape (n, 2)."""
        return np.array([self._span(item) for item in self.page.items], dtype=np.int64).reshape(-1, 2)

    @cached_property
    def _samples(self) -> NDArray[Any]:
        """Sample values of every item, shape (n, n_inks)."""
        amounts = np.array([item.inks for item in self.page.items]).reshape(-1, len(self.page.ink_names))
        nearest, below = np.rint(amounts * _FULL), np.floor(amounts * _FULL + 1e-6)
        limit = np.inf if self.total is None else self.total
        near = amounts.sum(axis=1, keepdims=True) > limit - amounts.shape[1] / 255
        codes = np.where(near, below, nearest).astype(np.uint16)
        if self.lay_down is not None:
            codes = self.lay_down(codes)
        if self.bits == 16:
            return codes
        return np.where(near, codes // 257, np.rint(codes / 257.0)).astype(np.uint8)

    def _span(self, item: Rect | Text) -> tuple[int, int]:
        if isinstance(item, Rect):
            return self._row(item.y_mm), self._row(item.y_mm + item.height_mm)
        middle = self._row(item.y_mm)
        rows = text_mask(item.text, item.size_mm, *self.dpi).shape[0]
        return middle - rows // 2, middle - rows // 2 + rows

    def _row(self, y_mm: float) -> int:
        return int(np.floor(y_mm * self.dpi[1] / MM_PER_INCH + 0.5))

    def _column(self, x_mm: float) -> int:
        return int(np.floor(x_mm * self.dpi[0] / MM_PER_INCH + 0.5))

    def read(self, y0: int, y1: int) -> NDArray[Any]:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        band = np.zeros((y1 - y0, self.width, self.channels), dtype=self.dtype)
        rows = self._rows
        for index in np.flatnonzero((rows[:, 0] < y1) & (rows[:, 1] > y0)):
            item, (top, bottom) = self.page.items[index], rows[index]
            first, last = max(int(top), y0), min(int(bottom), y1)
            if isinstance(item, Rect):
                left, right = self._column(item.x_mm), self._column(item.x_mm + item.width_mm)
                band[first - y0 : last - y0, max(left, 0) : max(right, 0)] = self._samples[index]
            else:
                self._letter(band, item, self._samples[index], int(top), first, last, y0)
        return band

    def _letter(
        self, band: NDArray[Any], item: Text, sample: NDArray[Any], top: int, first: int, last: int, y0: int
    ) -> None:
        mask = text_mask(item.text, item.size_mm, *self.dpi)[first - top : last - top]
        left = self._column(item.x_mm) - (mask.shape[1] // 2 if item.centred else 0)
        start, stop = max(left, 0), min(left + mask.shape[1], self.width)
        if start < stop:
            part = mask[:, start - left : stop - left]
            band[first - y0 : last - y0, start:stop][part] = sample


@lru_cache(maxsize=4096)
def text_mask(text: str, size_mm: float, dpi_x: float, dpi_y: float) -> NDArray[np.bool_]:
    """Return where letters fall, shape (rows, columns), read-only; an empty line is one empty pixel."""
    from PIL import Image, ImageDraw, ImageFont

    dpi = max(dpi_x, dpi_y)
    font = ImageFont.load_default(max(1.0, size_mm * dpi / MM_PER_INCH))
    size = (max(1, int(np.ceil(font.getlength(text))) + 1), max(1, round(1.3 * size_mm * dpi / MM_PER_INCH)))
    # Drawn in grey and cut at half: letters drawn as single dots are spaced more widely than measured.
    image = Image.new("L", size)
    ImageDraw.Draw(image).text((0, size[1] // 2), text, fill=255, font=font, anchor="lm")
    target = (max(1, round(size[0] * dpi_x / dpi)), max(1, round(size[1] * dpi_y / dpi)))
    if target != size:
        image = image.resize(target, Image.Resampling.NEAREST)
    mask = np.array(image) >= 128
    mask.setflags(write=False)
    return mask
