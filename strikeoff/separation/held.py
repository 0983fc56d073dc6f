"""Ink planes held under the total after something was laid under or over them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.raster.bands import Band, BandSource, FramedSource, check_rows
from strikeoff.separation.named import laid_together


@dataclass(frozen=True)
class HeldSource(FramedSource):
    """Ink planes under the total: other inks than the spared ones give way first, in one proportion.

    Attributes
    ----------
    source : BandSource
        uint16 ink planes.
    spared : tuple of int
        Channels that keep their amounts as long as the others can make room.
    weights : tuple of float
        Weight of each ink in the total. [-]
    limit : float
        Total ink, 1 = one full ink. [-]
    counts : ndarray, shape (n_inks, 65536), optional
        What each code of each ink counts in the total, in place of weights. [-]
    """

    source: BandSource
    spared: tuple[int, ...]
    weights: tuple[float, ...]
    limit: float
    counts: NDArray[np.float64] | None = field(default=None, repr=False, compare=False)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return self.source.dtype

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        yielding = np.array(self.source.read(y0, y1))
        firm = np.zeros_like(yielding)
        firm[..., list(self.spared)] = yielding[..., list(self.spared)]
        yielding[..., list(self.spared)] = 0
        return laid_together(yielding, firm, self.weights, self.limit, self.counts)
