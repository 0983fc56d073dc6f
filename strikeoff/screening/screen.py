"""Ink planes to single drops by a threshold mask whose phase belongs to the roll, not to the repeat."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import Band, BandSource, canonical_rows, check_rows

_FULL = 65535


@dataclass(frozen=True)
class ScreenedSource:
    """Drops (0 or 1) of a roll, read in bands.

    Parameters
    ----------
    source : BandSource
        Ink planes, uint16.
    masks : ndarray, shape (channels, h, w)
        Thresholds, uint16; a drop falls where ink > threshold.
    curves : ndarray, shape (channels, 65536), or None
        Laid-down ink for each calibrated ink value, uint16; None leaves the values as they are.
    """

    source: BandSource
    masks: NDArray[np.uint16]
    curves: NDArray[np.uint16] | None = None

    def __post_init__(self) -> None:
        if self.source.dtype != np.uint16:
            raise UsageError("only 16-bit planes can be screened", found=self.source.dtype, expected="uint16")
        if self.masks.ndim != 3 or len(self.masks) != self.source.channels:
            raise UsageError(
                "one mask per ink is needed", found=len(self.masks), expected=self.source.channels
            )
        if self.curves is not None and self.curves.shape != (self.source.channels, _FULL + 1):
            raise UsageError("one curve of 65,536 values per ink is needed", found=self.curves.shape)

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
        return int(getattr(self.source, "row_block", 0))

    @cached_property
    def _plane_rows(self) -> NDArray[np.int64]:
        return canonical_rows(self.source)

    @cached_property
    def _drop_rows(self) -> NDArray[np.int64]:
        """Rows are equal where the planes are and the mask stands at the same phase."""
        high = self.masks.shape[1]
        key = self._plane_rows * high + np.arange(self.height) % high
        _, index, inverse = np.unique(key, return_index=True, return_inverse=True)
        return np.asarray(index[inverse], np.int64)

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that holds the same drops as row ``y``."""
        return int(self._drop_rows[y])

    def affinity(self, y: int) -> int:
        """Return the row of the planes that row ``y`` is made from: rows of equal value share work."""
        return int(self._plane_rows[y])

    def read_packed(self, y0: int, y1: int) -> NDArray[np.uint8]:
        """Return drops, eight to a byte, shape ``(channels, y1 - y0, ceil(width / 8))``."""
        from strikeoff.screening.kernels import threshold_packed

        check_rows(self, y0, y1)
        band = np.ascontiguousarray(self.source.read(y0, y1))
        curves = np.zeros((0, 0), np.uint16) if self.curves is None else self.curves
        out = np.empty((self.channels, y1 - y0, -(-self.width // 8)), np.uint8)
        threshold_packed(band, self.masks, curves, y0, out)
        return out

    def read(self, y0: int, y1: int) -> Band:
        """Return drops, 0 or 1, shape ``(y1 - y0, width, channels)``."""
        bits = np.unpackbits(self.read_packed(y0, y1), axis=2, count=self.width)
        return np.ascontiguousarray(np.moveaxis(bits, 0, 2))


def screened(
    source: BandSource, masks: NDArray[np.uint16], curves: NDArray[np.uint16] | None = None
) -> ScreenedSource:
    """Return the drops of ink planes; see ScreenedSource."""
    return ScreenedSource(source, masks, curves)


def screen_plain(
    samples: Band, masks: NDArray[np.uint16], y0: int = 0, curves: NDArray[np.uint16] | None = None
) -> NDArray[np.uint8]:
    """Screen samples, shape ``(rows, width, inks)``, by the definition: the reference of the fast path.

    Examples
    --------
    >>> mask = np.array([[[10, 20], [30, 40]]], np.uint16)
    >>> screen_plain(np.full((1, 3, 1), 15, np.uint16), mask)[0, :, 0].tolist()
    [1, 0, 1]
    """
    rows, width, inks = samples.shape
    y = (y0 + np.arange(rows)) % masks.shape[1]
    x = np.arange(width) % masks.shape[2]
    if curves is not None:
        samples = np.stack([curves[ink][samples[..., ink]] for ink in range(inks)], axis=2)
    limits = np.moveaxis(masks[:, y[:, None], x[None, :]], 0, 2)
    return (samples > limits).astype(np.uint8)
