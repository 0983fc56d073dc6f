"""Laid-down ink to drop levels: single drops, or several sizes where the heads have them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.inks.tables import Codes, full_table
from strikeoff.raster.bands import Band, BandSource
from strikeoff.screening.screen import ScreenedSource


@dataclass(frozen=True)
class LevelsSource:
    """Drop levels of a roll, uint8: 0 no drop, then the drop of that size, read in bands.

    A pixel's threshold is the same for all levels of an ink, so that a larger drop stands where the
    smaller one would.

    Attributes
    ----------
    source : BandSource
        Laid-down planes, uint16.
    masks : ndarray, shape (channels, h, w)
        Thresholds, uint16.
    drops : ndarray of uint16, shape (channels, levels, NODES)
        Share of the pixels with at least each level.
    """

    source: BandSource
    masks: NDArray[np.uint16]
    drops: Codes

    @cached_property
    def _levels(self) -> tuple[ScreenedSource, ...]:
        levels = np.moveaxis(self.drops, 1, 0)
        return tuple(
            ScreenedSource(self.source, self.masks, np.stack([full_table(curve) for curve in level]))
            for level in levels
        )

    @property
    def height(self) -> int:
        """Rows."""
        return self.source.height

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return self.source.width

    @property
    def channels(self) -> int:
        """Inks."""
        return self.source.channels

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint8)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch, across and along, in millimetres."""
        return self.source.pitch_mm

    @property
    def row_block(self) -> int:
        """Rows that repeat together in the planes; 0 when nothing repeats."""
        return self._levels[0].row_block

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that holds the same drops as row ``y``."""
        return self._levels[0].canonical_row(y)

    def affinity(self, y: int) -> int:
        """Return the row of the planes that row ``y`` is made from."""
        return self._levels[0].affinity(y)

    def read(self, y0: int, y1: int) -> Band:
        """Return levels, shape ``(y1 - y0, width, channels)``."""
        band = self._levels[0].read(y0, y1)
        for level in self._levels[1:]:
            band = band + level.read(y0, y1)
        return band
