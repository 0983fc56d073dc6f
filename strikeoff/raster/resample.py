"""Resampling of a repeat tile to whole press pixels, joined to itself on all four sides.

Enlarging uses cubic convolution; reducing widens the same kernel by the scale, so that nothing
finer than the new pitch is left to alias.

References
----------
R. G. Keys, IEEE Trans. Acoustics, Speech, Signal Processing 29 (1981), 1153-1160, a = -1/2.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import Band, BandSource

_WEIGHT_ONE = 1 << 24
_BLOCK = 8
_CHUNK_ROWS = 32


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


def _fixed_point(weights: NDArray[np.float64]) -> NDArray[np.int32]:
    """Round weights to integers that add up to exactly one."""
    fixed = np.rint(weights * _WEIGHT_ONE).astype(np.int64)
    largest = np.argmax(fixed, axis=1)
    fixed[np.arange(len(fixed)), largest] += _WEIGHT_ONE - fixed.sum(axis=1)
    return fixed.astype(np.int32)


@dataclass(frozen=True)
class PeriodicTile:
    """A tile resampled to ``height`` x ``width`` pixels; rows outside wrap around.

    Overshoot of the kernel at hard edges is held at 0 and full tone; where all samples under the
    kernel are zero the result is zero, and a constant stays as it is.

    Parameters
    ----------
    source : BandSource
        One repeat, uint16.
    height, width : int
        One repeat in press pixels.
    """

    source: BandSource
    height: int
    width: int

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

    @cached_property
    def _rows(self) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
        start, weights = tap_weights(self.source.height, self.height)
        return start, _fixed_point(weights)

    @cached_property
    def _columns(self) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int32]]:
        start, weights = tap_weights(self.source.width, self.width)
        lowest = int(start.min())
        places = np.arange(lowest, int(start.max()) + weights.shape[1]) % self.source.width
        return places, start - lowest, _fixed_point(weights)

    def read(self, y0: int, y1: int) -> NDArray[np.uint16]:
        """Return rows ``y0`` to ``y1``, any integers, shape ``(y1 - y0, width, channels)``."""
        from strikeoff.raster.kernels_resample import resample_rows

        start, weights = self._rows
        places, column_start, column_weights = self._columns
        out = np.empty((y1 - y0, self.width, self.channels), np.uint16)
        for top in range(y0, y1, _CHUNK_ROWS):
            rows = np.arange(top, min(top + _CHUNK_ROWS, y1))
            period, row = np.divmod(rows, self.height)
            first = start[row] + period * self.source.height
            band = _wrapped(self.source, int(first[0]), int(first[-1]) + weights.shape[1])
            target = out[top - y0 : top - y0 + len(rows)]
            resample_rows(
                band, first - first[0], weights[row], places, column_start, column_weights, _BLOCK, target
            )
        return out


def _wrapped(source: BandSource, y0: int, y1: int) -> Band:
    """Read rows ``y0`` to ``y1`` of a source that repeats along its height."""
    pieces = []
    while y0 < y1:
        row = y0 % source.height
        rows = min(source.height - row, y1 - y0)
        pieces.append(source.read(row, row + rows))
        y0 += rows
    return np.ascontiguousarray(pieces[0] if len(pieces) == 1 else np.concatenate(pieces))


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
