"""Resampling of a repeat tile to whole press pixels, joined to itself on all four sides.

Enlarging uses cubic convolution; reducing widens the same kernel by the scale, so that nothing
finer than the new pitch is left to alias.

References
----------
R. G. Keys, IEEE Trans. Acoustics, Speech, Signal Processing 29 (1981), 1153-1160, a = -1/2.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.progress import Progress, silent
from strikeoff.raster.artwork_kernels import COMPILED, ArtworkKernels
from strikeoff.raster.bands import BandSource
from strikeoff.raster.lattice import Lattice, as_lattice
from strikeoff.raster.neighbours import laid_out

_CHUNK_ROWS = 64
_LANES = 8
_SCANNED_SAMPLES = 8 << 20


def cubic_keys_1981(distance: NDArray[np.float64]) -> NDArray[np.float64]:
    """Cubic convolution kernel with a = -1/2, by distance in samples.

    Examples
    --------
    >>> cubic_keys_1981(np.array([0.0, 0.5, 1.0, 1.5, 2.0])).tolist()
    [1.0, 0.5625, 0.0, -0.0625, 0.0]
    """
    x = np.abs(distance)
    inner = (1.5 * x - 2.5) * x * x + 1.0
    outer = ((-0.5 * x + 2.5) * x - 4.0) * x + 2.0
    return np.where(x < 1, inner, np.where(x < 2, outer, 0.0))


def tap_weights(source: int, target: int) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return where each of ``target`` pixels starts to read and its normalised weights.

    Pixel centres are placed by exact fractions, so that pixels a whole number of both pitches
    apart have the same weights to the last bit.

    Parameters
    ----------
    source, target : int
        Samples of one period before and after.

    Returns
    -------
    start : ndarray, shape (target,)
        First sample read; may be negative or run past the end: samples are periodic.
    weights : ndarray, shape (target, taps)
        Sum 1 in every row.
    """
    pixel = np.arange(target, dtype=np.int64)
    centre = (2 * pixel + 1) * source - target
    whole, part = np.divmod(centre, 2 * target)
    scale = max(1.0, source / target)
    reach = int(np.ceil(2 * scale))
    taps = np.arange(1 - reach, reach + 1)
    weights = cubic_keys_1981((taps - part[:, None] / (2 * target)) / scale)
    return whole + 1 - reach, weights / weights.sum(axis=1, keepdims=True)


@dataclass(frozen=True)
class InkLimits:
    """The most that a pixel may hold of each ink and of all inks together, 65535 being full tone."""

    each: tuple[int, ...]
    total: int


def limits_of(source: BandSource, *, progress: Progress = silent) -> InkLimits:
    """Return the most that any pixel of a source holds: sharpening at edges must not pass it.

    Separated artwork keeps the ink limits of its condition; held to these limits, its enlargement does too.

    Parameters
    ----------
    source : BandSource
        All of it is read.
    progress : Progress
        Told after each band.
    """
    each = np.zeros(source.channels, np.int64)
    total = 0
    rows = max(1, min(256, _SCANNED_SAMPLES // (source.width * source.channels)))
    for y in range(0, source.height, rows):
        band = source.read(y, min(y + rows, source.height))
        # Whole lines first, then channel by channel: reductions over a few neighbours are slow.
        most = band.reshape(len(band), -1).max(axis=0).reshape(source.width, source.channels)
        each = np.maximum(each, most.max(axis=0))
        heavy = np.zeros(band.shape[:2], np.uint32)
        for channel in range(source.channels):
            heavy += band[..., channel]
        total = max(total, int(heavy.max()))
        progress("read artwork", min(1.0, (y + rows) / source.height))
    return InkLimits(tuple(int(v) for v in each), total)


@dataclass(frozen=True)
class PeriodicTile:
    """A tile resampled to ``height`` x ``width`` pixels; rows outside wrap around.

    Overshoot of the kernel at hard edges is held at 0 and at ``limits``; where all samples under
    the kernel are zero the result is zero, and a constant stays as it is.

    Parameters
    ----------
    source : BandSource
        One repeat, uint16.
    height, width : int
        One repeat in press pixels.
    lattice : str or Lattice
        What the kernel sees beyond the edges. Where the tile does not repeat, its last samples go on.
    limits : InkLimits, optional
        Most of each ink and of all together; default full tone.
    columns : tuple of int, optional
        First pixel of a row that is read, and the one after the last; all of them when None.
    kernels : ArtworkKernels
        How it is computed.
    """

    source: BandSource
    height: int
    width: int
    lattice: str | Lattice = "straight"
    limits: InkLimits | None = None
    columns: tuple[int, int] | None = None
    kernels: ArtworkKernels = field(default=COMPILED, repr=False)

    def __post_init__(self) -> None:
        if self.source.dtype != np.uint16:
            raise UsageError(
                "only 16-bit planes can be resampled", found=self.source.dtype, expected="uint16"
            )
        if min(self.height, self.width, self.source.height, self.source.width) < 1:
            raise UsageError("a tile needs at least one pixel", found=f"{self.width} x {self.height}")

    @property
    def channels(self) -> int:
        """Samples in a pixel."""
        return self.source.channels

    @property
    def _seen(self) -> tuple[int, int]:
        return self.columns or (0, self.width)

    @cached_property
    def _rows(self) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
        start, weights = tap_weights(self.source.height, self.height)
        return start, weights.astype(np.float32)

    @cached_property
    def _columns(self) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float32]]:
        """Source column of every place that the kernel touches, first place and weights of every pixel.

        Places may lie outside the tile; pixels go on to a whole number of lanes.
        """
        first, last = self._seen
        start, weights = (part[first:last] for part in tap_weights(self.source.width, self.width))
        lowest = int(start.min())
        places = np.arange(lowest, int(start.max()) + weights.shape[1])
        more = -(last - first) % _LANES
        offset = np.asarray(np.pad(start - lowest, (0, more), mode="edge"), dtype=np.int64)
        return places, offset, np.pad(weights, ((0, more), (0, 0)), mode="edge").astype(np.float32)

    def read(self, y0: int, y1: int) -> NDArray[np.uint16]:
        """Return rows ``y0`` to ``y1``, any integers, shape ``(y1 - y0, columns, channels)``.

        In memory they stand line by line and channel by channel.
        """
        start, weights = self._rows
        places, column_start, column_weights = self._columns
        limits = self.limits or InkLimits((65535,) * self.channels, 65535 * self.channels)
        caps = np.zeros(-(-self.channels // _LANES) * _LANES, np.float32)
        caps[: self.channels] = limits.each
        left, right = self._seen
        out = np.empty((y1 - y0, self.channels, right - left), np.uint16)
        top = y0
        while top < y1:
            row = top % self.height
            rows = min(_CHUNK_ROWS, y1 - top, self.height - row)
            first = start[row : row + rows]
            last = int(first[-1]) + weights.shape[1]
            band, index = laid_out(self.source, as_lattice(self.lattice), int(first[0]), last, places)
            target = out[top - y0 : top - y0 + rows]
            down = first - first[0], weights[row : row + rows]
            across = column_start, column_weights
            self.kernels.resample(band, down, index, across, caps, limits.total, target)
            top += rows
        return np.moveaxis(out, 1, 2)


def resample_plain(tile: NDArray[Any], height: int, width: int) -> NDArray[np.float64]:
    """Resample a periodic tile in floating point, by the definition: the reference of PeriodicTile.

    Parameters
    ----------
    tile : ndarray, shape (h, w, channels)
        One period, 0-65535.
    height, width : int
        Pixels of one period afterwards.

    Returns
    -------
    ndarray, shape (height, width, channels)
        0-65535, not rounded.
    """

    def matrix(source: int, target: int) -> NDArray[np.float64]:
        start, weights = tap_weights(source, target)
        full = np.zeros((target, source))
        for k in range(weights.shape[1]):
            np.add.at(full, (np.arange(target), (start + k) % source), weights[:, k])
        return full

    rows, columns = matrix(tile.shape[0], height), matrix(tile.shape[1], width)
    result = np.einsum("yh,xw,hwc->yxc", rows, columns, tile.astype(np.float64), optimize=True)
    return np.asarray(np.clip(result, 0.0, 65535.0))
