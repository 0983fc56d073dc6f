"""Artwork pixels to calibrated ink planes, with the ink use counted on the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.raster.artwork_kernels import COMPILED, ArtworkKernels
from strikeoff.raster.bands import Band, BandSource, FramedSource, check_rows
from strikeoff.raster.tables import InkTable

_FULL = 65535.0


@dataclass(frozen=True)
class InkUse:
    """What a set of planes needs in ink.

    Attributes
    ----------
    inks : tuple of str
        Ink names.
    mean_coverage : tuple of float
        Per ink, mean over all pixels, 0-1. [-]
    max_total : float
        Largest sum of inks in one pixel, 1 = one full ink; the limit where only rounding is above it. [-]
    share_over_limit : float
        Share of pixels whose sum is above the limit; 0 in sound separations. [-]
    limit : float, optional
        Total ink limit that was watched. [-]
    """

    inks: tuple[str, ...]
    mean_coverage: tuple[float, ...]
    max_total: float
    share_over_limit: float
    limit: float | None


@dataclass(frozen=True)
class SeparatedSource(FramedSource):
    """Ink planes of an artwork: uint16, 0 none, 65535 full tone; the artwork's pitch is kept."""

    table: InkTable
    workers: int | None = None
    kernels: ArtworkKernels = field(default=COMPILED, repr=False)

    @property
    def channels(self) -> int:
        """Inks."""
        return self.table.n_inks

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return np.dtype(np.uint16)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        return self.kernels.interpolate(self.source.read(y0, y1), self.table, self.workers)


def separated(artwork_source: BandSource, table: InkTable, *, workers: int | None = None) -> SeparatedSource:
    """Return an artwork's pixels as calibrated ink planes.

    Parameters
    ----------
    artwork_source : BandSource
        uint8 or uint16 pixels with as many channels as the table takes.
    table : InkTable
        From artwork codes to inks, made by a condition for this artwork's colour space.
    workers : int, optional
        Threads in a band; default one per core.

    Raises
    ------
    InputError
        When channels or sample type do not fit the table.
    """
    if artwork_source.channels != table.channels or artwork_source.dtype not in (np.uint8, np.uint16):
        raise InputError(
            "artwork does not fit the table",
            found=f"{artwork_source.channels} channels of {artwork_source.dtype}",
            expected=f"{table.channels} channels of uint8 or uint16",
        )
    return SeparatedSource(artwork_source, table, workers)


def counted(codes: NDArray[np.integer], counts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the sum of what codes, shape (..., n_inks), count by a table of every code."""
    total = counts[0][codes[..., 0]]
    for ink in range(1, codes.shape[-1]):
        total = total + counts[ink][codes[..., ink]]
    return np.asarray(total)


@dataclass(frozen=True)
class InkMeter(FramedSource):
    """Passes ink planes through and counts them; rows read twice count once.

    Attributes
    ----------
    source : BandSource
        uint16 ink planes.
    inks : sequence of str
        Ink names, one per channel.
    limit : float, optional
        Total ink limit to watch, 1 = one full ink. Half a code per ink is allowed for rounding, by what it
        counts where that is more.
    weights : tuple of float, optional
        Weight of each ink in that total; 1 by default. [-]
    counts : ndarray, shape (n_inks, 65536), optional
        What each code of each ink counts in that total, in place of weights. [-]
    """

    source: BandSource
    inks: Sequence[str]
    limit: float | None = None
    weights: tuple[float, ...] | None = None
    counts: NDArray[np.float64] | None = field(default=None, repr=False, compare=False)
    _sums: NDArray[np.uint64] = field(init=False, repr=False, compare=False)
    _tops: NDArray[np.float64] = field(init=False, repr=False, compare=False)
    _over: NDArray[np.uint32] = field(init=False, repr=False, compare=False)
    _seen: NDArray[np.bool_] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.source.dtype != np.uint16 or len(self.inks) != self.source.channels:
            raise InputError(
                "ink planes and ink names do not fit",
                found=f"{self.source.channels} channels of {self.source.dtype}",
                expected=f"{len(self.inks)} of uint16",
            )
        height = self.source.height
        object.__setattr__(self, "_sums", np.zeros((height, self.source.channels), np.uint64))
        object.__setattr__(self, "_tops", np.zeros(height))
        object.__setattr__(self, "_over", np.zeros(height, np.uint32))
        object.__setattr__(self, "_seen", np.zeros(height, np.bool_))

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return self.source.dtype

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        band = self.source.read(y0, y1)
        self._sums[y0:y1] = band.sum(axis=1, dtype=np.uint64)
        total: NDArray[Any]
        if self.counts is not None:
            total = _FULL * counted(band, self.counts)
        elif self.weights is not None and set(self.weights) != {1.0}:
            total = band @ np.asarray(self.weights)
        else:
            total = band[..., 0].astype(np.uint32)
            for ink in range(1, band.shape[2]):
                total += band[..., ink]
        self._tops[y0:y1] = total.max(axis=1, initial=0)
        if self.limit is not None:
            self._over[y0:y1] = np.count_nonzero(total > self._most(self.limit), axis=1)
        self._seen[y0:y1] = True
        return band

    def _most(self, limit: float) -> float:
        """Return the largest sum of codes that keeps a limit as far as codes can tell."""
        if self.counts is None:
            return limit * _FULL + 0.5 * self.channels
        steepest = _FULL * np.diff(self.counts, axis=1).max(axis=1)
        return limit * _FULL + 0.5 * float(np.maximum(steepest, 1.0).sum())

    def use(self) -> InkUse:
        """Return the count.

        Raises
        ------
        RuntimeError
            When rows have not been read yet: a partial count is no count.
        """
        if not self._seen.all():
            raise RuntimeError(f"{int((~self._seen).sum())} rows were not read")
        pixels = self.height * self.width
        highest = float(self._tops.max())
        if self.limit is not None and highest <= self._most(self.limit):
            highest = min(highest, self.limit * _FULL)
        return InkUse(
            inks=tuple(self.inks),
            mean_coverage=tuple(float(s) / _FULL / pixels for s in self._sums.sum(axis=0)),
            max_total=highest / _FULL,
            share_over_limit=float(self._over.sum(dtype=np.uint64)) / pixels,
            limit=self.limit,
        )
