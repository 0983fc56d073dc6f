"""Flat artwork in other colours: the palette is swapped and edges are mixed again in linear light."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.palette import bands_of
from strikeoff.artwork.unmix import Unmixer
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import Band, check_rows

FloatArray = NDArray[np.float64]

_FULL = 65535


@dataclass(frozen=True)
class RecolouredSource:
    """Flat artwork whose palette was swapped: RGB of the artwork's own codes, or of a wider space.

    Attributes
    ----------
    unmixer : Unmixer
        The artwork.
    linear : ndarray, shape (n, 3)
        New palette in linear light of ``space``.
    touched : tuple of bool
        Which colours change. Pixels that hold none of them keep their codes.
    space : LinearRgb
        Of what is given back. In another space than the artwork's nothing keeps its codes, so all colours
        count as touched.
    """

    unmixer: Unmixer
    linear: FloatArray
    touched: tuple[bool, ...]
    space: LinearRgb

    def __post_init__(self) -> None:
        count = len(self.unmixer.palette.linear)
        if self.linear.shape != (count, 3) or len(self.touched) != count:
            raise InputError("new palette of another size", found=self.linear.shape, expected=f"({count}, 3)")

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
        """Red, green, blue."""
        return 3

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint8 or uint16."""
        return np.dtype(np.uint8 if self.space.codes == 256 else np.uint16)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch (across, along) [mm]."""
        return self.unmixer.source.pitch_mm

    @cached_property
    def _prepared(self) -> tuple[NDArray[np.bool_], NDArray[np.uint16], FloatArray, FloatArray]:
        inside = np.clip(self.linear, 0.0, 1.0)
        is_same = self.space is self.unmixer.space
        touched = np.array(self.touched) if is_same else np.ones(len(inside), np.bool_)
        middles = np.ascontiguousarray((self.space.curves[:, 1:] + self.space.curves[:, :-1]) / 2)
        return touched, self.space.encode(inside).astype(np.uint16), inside, middles

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        from strikeoff.artwork.kernels_flat import remix

        check_rows(self, y0, y1)
        codes, made = self.unmixer.read(y0, y1)
        out = np.empty(codes.shape, np.uint16)
        remix(codes, made.places, made.weights, *self._prepared, out)
        return out.astype(self.dtype)


@dataclass(frozen=True)
class CoverMap:
    """A small map of flat artwork: how much of each palette colour its places hold.

    Attributes
    ----------
    cover : ndarray, shape (rows, columns, n)
        Shares, adding up to 1. [-]
    shares : ndarray, shape (n,)
        Of the whole artwork. [-]
    unexplained : float
        Share of pixels that the palette does not mix to. [-]
    """

    cover: FloatArray
    shares: FloatArray
    unexplained: float

    def linear(self, colours: FloatArray) -> FloatArray:
        """Return the map in any colours: averages in linear light, shape (rows, columns, 3)."""
        return np.asarray(self.cover @ colours)


def cover_map(unmixer: Unmixer, longer: int, odd: float = 6.0) -> CoverMap:
    """Return the map of an artwork, at most ``longer`` places a side; reads it once, in bands."""
    from strikeoff.artwork.kernels_flat import spread

    source = unmixer.source
    scale = min(1.0, longer / max(source.height, source.width))
    rows, columns = max(1, round(source.height * scale)), max(1, round(source.width * scale))
    at = np.minimum((np.arange(source.width) * columns) // source.width, columns - 1)
    count = len(unmixer.palette.linear)
    total = np.zeros((rows, columns, count))
    missed = 0
    for y0, y1 in bands_of(source):
        _, made = unmixer.read(y0, y1)
        missed += int((made.rest > odd).sum())
        for y in range(y0, y1):
            row = y * rows // source.height
            spread(made.places[y - y0 : y - y0 + 1], made.weights[y - y0 : y - y0 + 1], at, total[row])
    shares = total.sum(axis=(0, 1)) / (_FULL * source.height * source.width)
    cover = total / np.maximum(total.sum(axis=2, keepdims=True), 1.0)
    return CoverMap(cover, shares, missed / (source.height * source.width))
