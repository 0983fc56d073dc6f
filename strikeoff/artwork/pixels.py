"""From samples as stored to plain grey, RGB or CMYK: turning, inverting, palettes, alpha."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.raster.bands import Band, BandSource


@dataclass(frozen=True)
class MappedSource:
    """A band source whose pixels go through a function that keeps rows and columns.

    ``pitch_mm`` is the pixel pitch (across, along). [mm]
    """

    inner: BandSource
    change: Callable[[Band], Band]
    channels: int
    dtype: np.dtype[Any]
    pitch_mm: tuple[float, float]

    @property
    def height(self) -> int:
        """Rows."""
        return self.inner.height

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return self.inner.width

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        return self.change(self.inner.read(y0, y1))


#: Orientation number (EXIF, TIFF 6.0) to (transpose first, then upside down, then mirrored).
ORIENTATIONS: dict[int, tuple[bool, bool, bool]] = {
    1: (False, False, False),
    2: (False, False, True),
    3: (False, True, True),
    4: (False, True, False),
    5: (True, False, False),
    6: (True, False, True),
    7: (True, True, True),
    8: (True, True, False),
}


def turn(array: Band, orientation: int) -> Band:
    """Return an image in memory turned as its orientation number asks.

    References
    ----------
    TIFF 6.0, tag 274; the same numbers in EXIF.

    Examples
    --------
    >>> turn(np.array([[[1], [2]]]), 6)[..., 0].tolist()
    [[1], [2]]
    >>> turn(np.array([[[1], [2]]]), 8)[..., 0].tolist()
    [[2], [1]]
    """
    transpose, upside_down, mirrored = ORIENTATIONS[orientation]
    if transpose:
        array = array.transpose(1, 0, 2)
    if upside_down:
        array = array[::-1]
    if mirrored:
        array = array[:, ::-1]
    return np.ascontiguousarray(array)


def with_pitch(source: BandSource, pitch_mm: tuple[float, float]) -> MappedSource:
    """Return the same pixels under another pitch in mm (across, along)."""
    return MappedSource(source, lambda band: band, source.channels, np.dtype(source.dtype), pitch_mm)


def inverted(band: Band) -> Band:
    """Return the samples counted from the other end: 0 becomes full."""
    return np.asarray(np.iinfo(band.dtype).max - band, dtype=band.dtype)


def over_cloth(colour: Band, alpha: Band, *, bare: ArrayLike, premultiplied: bool) -> Band:
    """Return colour samples laid over bare cloth.

    Parameters
    ----------
    colour : ndarray of uint8 or uint16, shape (rows, width, channels)
        Colour samples.
    alpha : ndarray of the same type, shape (rows, width)
        0 transparent, full opaque.
    bare : int or array_like, shape (channels,)
        Samples of bare cloth: full for grey and RGB, 0 for CMYK.
    premultiplied : bool
        Whether the colour is multiplied by alpha already (associated alpha).

    Notes
    -----
    Mixed in the encoded values, as page-description programs do. Rounded to the nearest code.

    Examples
    --------
    >>> colour, alpha = np.array([[[0, 100]]], np.uint8), np.array([[51]], np.uint8)
    >>> over_cloth(colour, alpha, bare=255, premultiplied=False)
    array([[[204, 224]]], dtype=uint8)
    """
    full = np.uint64(np.iinfo(colour.dtype).max)
    wide, cover = colour.astype(np.uint64), alpha[..., None].astype(np.uint64)
    part = wide * full if premultiplied else wide * cover
    mixed = (part + np.asarray(bare, dtype=np.uint64) * (full - cover) + full // 2) // full
    return np.asarray(np.minimum(mixed, full), dtype=colour.dtype)


def through_palette(band: Band, palette: NDArray[Any]) -> Band:
    """Return the palette's colours of an indexed band, shape (rows, width, palette channels)."""
    return np.take(palette, band[..., 0], axis=0)
