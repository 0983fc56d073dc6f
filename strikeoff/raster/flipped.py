"""A band source mirrored left to right, top to bottom, or both, which turns it by 180 degrees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from strikeoff.raster.bands import Band, BandSource, FramedSource, check_rows


@dataclass(frozen=True)
class FlippedSource(FramedSource):
    """A mirrored source.

    Attributes
    ----------
    flips : tuple of bool
        Left to right, and top to bottom.
    """

    flips: tuple[bool, bool]

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return self.source.dtype

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, channels)``."""
        check_rows(self, y0, y1)
        across, along = self.flips
        band = (
            self.source.read(self.height - y1, self.height - y0)[::-1] if along else self.source.read(y0, y1)
        )
        return band[:, ::-1] if across else band


def flipped(source: BandSource, flips: tuple[bool, bool]) -> BandSource:
    """Return a source mirrored left to right, top to bottom; itself when neither.

    Examples
    --------
    >>> from strikeoff.raster.bands import ArraySource
    >>> flipped(ArraySource(np.array([[[1], [2]], [[3], [4]]])), (True, True)).read(0, 1)[..., 0].tolist()
    [[4, 3]]
    """
    return FlippedSource(source, flips) if any(flips) else source
