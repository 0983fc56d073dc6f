"""Laid-down ink in 8 bits, for presses that screen by themselves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.raster.bands import Band, BandSource, canonical_rows


@dataclass(frozen=True)
class ContoneSource:
    """Planes of uint16 rounded to uint8: 0 none, 255 full tone."""

    source: BandSource

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
        """Rows that repeat together; 0 when nothing repeats."""
        return int(getattr(self.source, "row_block", 0))

    @property
    def row_map(self) -> NDArray[np.int64]:
        """Canonical row of every row."""
        return canonical_rows(self.source)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, inks)``."""
        band = self.source.read(y0, y1)
        # Rounded v / 257 in whole numbers, exact for every 16-bit v.
        return np.asarray((band.astype(np.uint32) * 255 + 32895) >> 16, dtype=np.uint8)
