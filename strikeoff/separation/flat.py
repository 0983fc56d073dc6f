"""Flat artwork to ink planes: each palette colour by its own recipe, edges by tints of what meets there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.unmix import Unmixer
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import Band, check_rows
from strikeoff.separation.named import laid_together

_FULL = 65535


@dataclass(frozen=True)
class FlatSource:
    """Ink planes of flat artwork: uint16, 0 none, 65535 full tone; the artwork's pitch is kept.

    Attributes
    ----------
    unmixer : Unmixer
        The artwork.
    tables : tuple of ndarray of uint16, shape (65536, n_inks)
        For each palette colour its inks by weight; weight 0 has none.
    weights : tuple of float
        Weight of each ink in the total. [-]
    limit : float
        Total ink, 1 = one full ink. [-]
    """

    unmixer: Unmixer
    tables: tuple[NDArray[np.uint16], ...]
    weights: tuple[float, ...]
    limit: float

    def __post_init__(self) -> None:
        shapes = {table.shape for table in self.tables}
        if len(self.tables) != len(self.unmixer.palette.linear) or shapes != {(65536, self.channels)}:
            raise InputError("tint tables do not fit the palette", found=sorted(shapes))

    @property
    def height(self) -> int:
        """Rows."""
        return self.unmixer.source.height

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return self.unmixer.source.width

    @property
    def channels(self) -> int:
        """Inks."""
        return len(self.weights)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return np.dtype(np.uint16)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch (across, along) [mm]."""
        return self.unmixer.source.pitch_mm

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        _, made = self.unmixer.read(y0, y1)
        total = np.zeros((y1 - y0, self.width, self.channels), np.uint16)
        for slot in range(3):
            for k, table in enumerate(self.tables):
                own = (made.places[..., slot] == k) & (made.weights[..., slot] > 0)
                if own.any():
                    added = table[made.weights[..., slot][own]]
                    summed = total[own].astype(np.uint32) + added
                    total[own] = np.minimum(summed, _FULL).astype(np.uint16)
        return laid_together(np.zeros_like(total), total, self.weights, self.limit)
