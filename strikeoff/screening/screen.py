"""Ink planes to drops by threshold masks whose phase belongs to the roll, not to the repeat.

A drop level falls where the share of pixels that are to have it passes the pixel's threshold. That share
never falls with the ink, so the comparison is made with the ink itself: for every threshold the most ink
that does not pass it is looked up once. All levels of an ink share their thresholds, so that a larger drop
stands where the smaller one would, first on the most evenly spread of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import lcm
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.inks.tables import Codes, full_table, straight_curves
from strikeoff.raster.bands import Band, BandSource, RepeatingSource, by_line, canonical_rows, check_rows
from strikeoff.screening.masks import InkMasks
from strikeoff.screening.pixel_kernels import COMPILED, PixelKernels

_STEP = 32


def level_limits(values: NDArray[np.uint16], drops: Codes) -> NDArray[np.uint16]:
    """Return the most ink that does not pass each threshold.

    Parameters
    ----------
    values : ndarray of uint16, shape (inks, h, w)
        Thresholds.
    drops : ndarray of uint16, shape (inks, levels, NODES)
        Share of the pixels with at least each level, by laid-down ink.

    Returns
    -------
    ndarray of uint16, shape (inks, levels, h, w)
        Never less for a larger level.

    Raises
    ------
    InputError
        When a larger level is to fall on more pixels than a smaller one.

    Examples
    --------
    >>> level_limits(np.array([[[10, 300]]], np.uint16), straight_curves(1)[None]).tolist()
    [[[[10, 300]]]]
    """
    if (np.diff(drops.astype(np.int64), axis=1) > 0).any():
        raise InputError("more pixels with at least a larger drop than with a smaller one", where="drops")
    found = [
        [np.searchsorted(full_table(curve), ink, side="right") - 1 for curve in curves]
        for ink, curves in zip(values, drops, strict=True)
    ]
    return np.asarray(found, dtype=np.uint16)


@dataclass(frozen=True)
class ScreenedSource(RepeatingSource):
    """Drop levels of a roll, uint8: 0 no drop, then the drop of that size, read in bands.

    Parameters
    ----------
    source : BandSource
        Laid-down planes, uint16.
    masks : InkMasks
        Thresholds, uint16; a drop falls where its share > threshold.
    drops : ndarray of uint16, shape (channels, levels, NODES), optional
        Share of the pixels with at least each level; one level as large as the ink by default.
    kernels : PixelKernels
        Who computes them.
    """

    source: BandSource
    masks: InkMasks
    drops: Codes | None = None
    kernels: PixelKernels = field(default=COMPILED, repr=False)

    def __post_init__(self) -> None:
        if self.source.dtype != np.uint16:
            raise UsageError("only 16-bit planes can be screened", found=self.source.dtype, expected="uint16")
        inks = len(self.masks.thresholds)
        if inks != self.source.channels:
            raise UsageError("one mask per ink is needed", found=inks, expected=self.source.channels)
        if self.drops is not None and (self.drops.ndim != 3 or len(self.drops) != inks):
            raise UsageError("drop curves for each ink are needed", found=self.drops.shape)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint8)

    @property
    def levels(self) -> int:
        """Sizes of drops."""
        return 1 if self.drops is None else self.drops.shape[1]

    @cached_property
    def _limits(self) -> NDArray[np.uint16]:
        """Limits (inks, levels, h, w), their columns repeated until the kernels' step goes into them."""
        values = self.masks.thresholds
        drops = np.repeat(straight_curves(1)[None], self.channels, axis=0)
        limits = level_limits(values, drops if self.drops is None else self.drops)
        wide = limits.shape[3]
        return np.ascontiguousarray(np.tile(limits, (1, 1, 1, lcm(wide, _STEP) // wide)))

    @cached_property
    def _limits_of_three(self) -> NDArray[np.uint16]:
        """Limits of three levels; those that no head has are never passed."""
        limits = np.full((self.channels, 3, *self._limits.shape[2:]), 65535, np.uint16)
        limits[:, : self.levels] = self._limits
        return limits

    @cached_property
    def _plane_rows(self) -> NDArray[np.int64]:
        return canonical_rows(self.source)

    @cached_property
    def row_map(self) -> NDArray[np.int64]:
        """Canonical row of every row: equal where the planes are and the mask stands at the same row."""
        high = self.masks.thresholds.shape[1]
        key = self._plane_rows * high + self.masks.rows(0, self.height)
        _, index, inverse = np.unique(key, return_index=True, return_inverse=True)
        return np.asarray(index[inverse], np.int64)

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that holds the same drops as row ``y``."""
        return int(self.row_map[y])

    def affinity(self, y: int) -> int:
        """Return the row of the planes that row ``y`` is made from: rows of equal value share work."""
        return int(self._plane_rows[y])

    def read_packed(self, y0: int, y1: int, bits: int = 1) -> NDArray[np.uint8]:
        """Return levels packed, first pixel topmost, shape ``(channels, y1 - y0, ceil(width * bits / 8))``.

        One bit holds one level, two hold three.
        """
        if bits not in (1, 2) or self.levels > 2**bits - 1:
            raise UsageError("levels do not fit the bits", found=f"{self.levels} levels in {bits} bits")
        check_rows(self, y0, y1)
        band = by_line(self.source.read(y0, y1))
        limits = self._limits if bits == 1 else self._limits_of_three
        return self.kernels.packed(band, limits, self.masks.rows(y0, y1), bits)

    def read(self, y0: int, y1: int) -> Band:
        """Return levels, shape ``(y1 - y0, width, channels)``."""
        check_rows(self, y0, y1)
        band = by_line(self.source.read(y0, y1))
        return np.moveaxis(self.kernels.levels(band, self._limits, self.masks.rows(y0, y1)), 1, 2)


def screened(source: BandSource, masks: InkMasks, drops: Codes | None = None) -> ScreenedSource:
    """Return the drops of ink planes; see ScreenedSource."""
    return ScreenedSource(source, masks, drops)


def screen_plain(
    samples: Band, masks: InkMasks, y0: int = 0, drops: Codes | None = None
) -> NDArray[np.uint8]:
    """Screen samples, shape ``(rows, width, inks)``, by the definition: the reference of the fast path.

    Examples
    --------
    >>> from strikeoff.screening.masks import plain_masks
    >>> mask = plain_masks(np.array([[[10, 20], [30, 40]]], np.uint16))
    >>> screen_plain(np.full((1, 3, 1), 15, np.uint16), mask)[0, :, 0].tolist()
    [1, 0, 1]
    """
    rows, width, inks = samples.shape
    x = np.arange(width) % masks.thresholds.shape[2]
    limits = np.moveaxis(masks.thresholds[:, masks.rows(y0, y0 + rows)[:, None], x[None, :]], 0, 2)
    if drops is None:
        return (samples > limits).astype(np.uint8)
    found = np.zeros(samples.shape, np.uint8)
    for ink in range(inks):
        for curve in drops[ink]:
            found[..., ink] += full_table(curve)[samples[..., ink]] > limits[..., ink]
    return found
