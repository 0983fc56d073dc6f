"""Laid-down ink in 8 bits, for presses that screen by themselves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from strikeoff.raster.bands import Band, RepeatingSource


@dataclass(frozen=True)
class ContoneSource(RepeatingSource):
    """Planes of uint16 rounded to uint8: 0 none, 255 full tone."""

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint8)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, inks)``."""
        band = self.source.read(y0, y1)
        # Rounded v / 257 in whole numbers, exact for every 16-bit v.
        return np.asarray((band.astype(np.uint32) * 255 + 32895) >> 16, dtype=np.uint8)
