"""Flat artwork in other colours: the palette is swapped and edges are mixed again in linear light."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.unmix import FromWeights
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import Band, check_rows

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class RecolouredSource(FromWeights):
    """Flat artwork whose palette was swapped: RGB of the artwork's own codes, or of a wider space.

    Attributes
    ----------
    linear : ndarray, shape (n, 3)
        New palette in linear light of ``space``.
    touched : tuple of bool
        Which colours change. Pixels that hold none of them keep their codes.
    space : LinearRgb
        Of what is given back. In another space than the artwork's nothing keeps its codes, so all colours
        count as touched.
    """

    linear: FloatArray
    touched: tuple[bool, ...]
    space: LinearRgb

    def __post_init__(self) -> None:
        count = len(self.unmixed.palette.linear)
        if self.linear.shape != (count, 3) or len(self.touched) != count:
            raise InputError("new palette of another size", found=self.linear.shape, expected=f"({count}, 3)")

    @property
    def channels(self) -> int:
        """Red, green, blue."""
        return 3

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint8 or uint16."""
        return np.dtype(np.uint8 if self.space.codes == 256 else np.uint16)

    @cached_property
    def _prepared(self) -> tuple[NDArray[np.bool_], NDArray[np.uint16], FloatArray, FloatArray]:
        inside = np.clip(self.linear, 0.0, 1.0)
        is_same = self.space is self.unmixed.space
        touched = np.array(self.touched) if is_same else np.ones(len(inside), np.bool_)
        middles = np.ascontiguousarray((self.space.curves[:, 1:] + self.space.curves[:, :-1]) / 2)
        return touched, self.space.encode(inside).astype(np.uint16), inside, middles

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        from strikeoff.artwork.kernels_flat import remix

        check_rows(self, y0, y1)
        codes, made = self.unmixed.read(y0, y1)
        out = np.empty(codes.shape, np.uint16)
        remix(codes, made.places, made.weights, *self._prepared, out)
        return out.astype(self.dtype)
