"""Artwork over cloth that is not its white: bare where there is nothing, ink by coverage at soft edges."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.raster.artwork_kernels import COMPILED, ArtworkKernels
from strikeoff.raster.bands import Band, BandSource, FramedSource, check_rows
from strikeoff.raster.tables import NO_DIFFERENCE, InkTable

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
    Totals only fall. Where the cloth is of another colour than the recipe, its drops come to lie beside each
    other as the tone thins, and the colour is off that of a part of the area; a veil makes up for it.
    """
    whole = np.uint64(np.iinfo(cover.dtype).max)
    return ((inks * cover.astype(np.uint64) + whole // np.uint64(2)) // whole).astype(np.uint16)


@dataclass(frozen=True)
class Cover:
    """How much of the cloth artwork covers, and what colours that cover it in part take.

    Attributes
    ----------
    source : BandSource
        uint8 or uint16, one channel: 0 nothing, full all.
    veil : InkTable, optional
        From three samples of the artwork and coverage to half of what is added to inks times coverage,
        counted from `NO_DIFFERENCE`; nothing is added without it.
    kernels : ArtworkKernels
        How ``veil`` is computed.
    """

    source: BandSource
    veil: InkTable | None = None
    kernels: ArtworkKernels = field(default=COMPILED, repr=False)

    def laid(self, inks: NDArray[np.uint16], samples: Band, y0: int) -> NDArray[np.uint16]:
        """Return the inks of a band that starts at row ``y0`` as they lie on the cloth.

        Parameters
        ----------
        inks : ndarray of uint16, shape (rows, width, n_inks)
            Of the artwork as if it were opaque throughout.
        samples : ndarray of uint8 or uint16, shape (rows, width, 1 or 3)
            What they were made from.
        y0 : int
            First row.
        """
        cover = self.source.read(y0, y0 + inks.shape[0])
        out = covered(inks, cover)
        part = (cover[..., 0] > 0) & (cover[..., 0] < np.iinfo(cover.dtype).max)
        if self.veil is None or not part.any():
            return out
        colour = np.broadcast_to(_wide(samples[part]), (int(part.sum()), self.veil.channels - 1))
        codes = np.concatenate([colour, _wide(cover[part])], axis=1)
        added = 2 * (
            self.kernels.interpolate(codes[None], self.veil, None)[0].astype(np.int64) - NO_DIFFERENCE
        )
        out[part] = np.clip(out[part] + added, 0, 65535).astype(np.uint16)
        return out


def _wide(samples: NDArray[Any]) -> NDArray[np.uint16]:
    """Return 16-bit codes of samples."""
    return samples.astype(np.uint16) * np.uint16(257 if samples.dtype == np.uint8 else 1)


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
