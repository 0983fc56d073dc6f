"""Calibrated planes as laid-down planes: curves, light-ink split and the ink guard, band by band."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.inks.guard import InkGuard, ink_guard
from strikeoff.inks.spaces import InkSpaces
from strikeoff.raster.bands import Band, BandSource, RepeatingSource, by_line, check_rows
from strikeoff.screening.pixel_kernels import COMPILED, PixelKernels

_UNREAD = -1


@dataclass(frozen=True)
class LaidDownSource(RepeatingSource):
    """Laid-down ink of a roll, uint16, one channel for each physical ink, none above the total.

    Attributes
    ----------
    source : BandSource
        Calibrated planes, uint16.
    spaces : InkSpaces
        Curves, split and total.
    kernels : PixelKernels
        Who computes it.
    """

    source: BandSource
    spaces: InkSpaces
    kernels: PixelKernels = field(default=COMPILED, repr=False)
    _touched: NDArray[np.int64] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.source.dtype != np.uint16 or self.source.channels != len(self.spaces.channels):
            raise UsageError(
                "planes do not fit the ink spaces",
                found=f"{self.source.channels} channels of {self.source.dtype}",
                expected=f"{len(self.spaces.channels)} of uint16",
            )
        object.__setattr__(self, "_touched", np.full(self.source.height, _UNREAD, np.int64))

    @property
    def channels(self) -> int:
        """Physical inks."""
        return len(self.spaces.inks)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint16)

    @cached_property
    def _guard(self) -> InkGuard:
        return ink_guard(self.spaces)

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that holds the same samples as row ``y``."""
        return int(self.row_map[y])

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, inks)``."""
        check_rows(self, y0, y1)
        band = by_line(self.source.read(y0, y1))
        out = self.kernels.lay_down(band, self.spaces, self._guard, self._touched[y0:y1])
        return np.moveaxis(out, 1, 2)

    def share_touched(self) -> float:
        """Return the share of pixels from which the guard took ink.

        Raises
        ------
        RuntimeError
            When rows have not been read yet: a partial count is no count.
        """
        counts = np.where(self._touched == _UNREAD, self._touched[self.row_map], self._touched)
        if (counts == _UNREAD).any():
            raise RuntimeError(f"{int((counts == _UNREAD).sum())} rows were not read")
        return float(counts.sum()) / (self.height * self.width)
