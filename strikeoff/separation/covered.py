"""Artwork over cloth that is not its white: bare where there is nothing, ink by coverage at soft edges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.raster.bands import Band, BandSource, FramedSource, check_rows

_LEAST = 1e-9


def without_white(colour: Band, cover: Band, white: tuple[int, ...]) -> Band:
    """Return the opaque colour of samples that lie over white.

    Parameters
    ----------
    colour : ndarray of uint8 or uint16, shape (rows, width, channels)
        Samples laid over white, in the encoded values.
    cover : ndarray of uint8 or uint16, shape (rows, width, 1)
        0 nothing, full opaque.
    white : tuple of int
        Samples of white.

    Returns
    -------
    ndarray of the type of ``colour``
        Rounded to the nearest code; white where there is nothing.

    Examples
    --------
    >>> colour, cover = np.array([[[204, 224, 255]]], np.uint8), np.array([[[51]]], np.uint8)
    >>> without_white(colour, cover, (255, 255, 255)).tolist()
    [[[0, 100, 255]]]
    """
    base = np.array(white, dtype=np.float64)
    share = cover / float(np.iinfo(cover.dtype).max)
    opaque = base + (colour - base) / np.maximum(share, _LEAST)
    # Codes that were rounded over white may pass the range by what the coverage magnifies.
    within = np.clip(np.rint(opaque), 0, np.iinfo(colour.dtype).max)
    return np.where(share > 0, within, base).astype(colour.dtype)


def covered(inks: NDArray[np.uint16], cover: Band) -> NDArray[np.uint16]:
    """Return inks, shape (rows, width, n_inks), times what is covered, shape (rows, width, 1).

    Notes
    -----
    A soft edge is the recipe on a part of the area and bare cloth on the rest; totals only fall.
    """
    whole = np.uint64(np.iinfo(cover.dtype).max)
    return ((inks * cover.astype(np.uint64) + whole // np.uint64(2)) // whole).astype(np.uint16)


def _check(source: BandSource, cover: BandSource) -> None:
    if cover.channels != 1 or (cover.height, cover.width) != (source.height, source.width):
        raise InputError(
            "coverage does not fit the artwork",
            found=f"{cover.width} x {cover.height} pixels, {cover.channels} channels",
            expected=f"{source.width} x {source.height} pixels, one channel",
        )


@dataclass(frozen=True)
class OpaqueSource(FramedSource):
    """Artwork whose first samples, laid over white, are given back as if it were opaque.

    Attributes
    ----------
    source : BandSource
        uint8 or uint16; process samples, then others that stay.
    cover : BandSource
        One channel, as many pixels.
    white : tuple of int
        Process samples of white.
    """

    source: BandSource
    cover: BandSource
    white: tuple[int, ...]

    def __post_init__(self) -> None:
        _check(self.source, self.cover)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type of the source."""
        return np.dtype(self.source.dtype)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        band = self.source.read(y0, y1)
        count = len(self.white)
        colour = without_white(band[..., :count], self.cover.read(y0, y1), self.white)
        return colour if count == band.shape[2] else np.concatenate([colour, band[..., count:]], axis=2)


@dataclass(frozen=True)
class CoveredSource(FramedSource):
    """Ink planes times the coverage of the artwork that they were made from: uint16."""

    source: BandSource
    cover: BandSource

    def __post_init__(self) -> None:
        _check(self.source, self.cover)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return np.dtype(np.uint16)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        return covered(self.source.read(y0, y1), self.cover.read(y0, y1))
