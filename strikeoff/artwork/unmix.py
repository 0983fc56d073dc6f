"""Flat artwork as mixtures of its palette: which colours meet in a pixel, and how much of each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import Band, BandSource

FloatArray = NDArray[np.float64]

#: Most colours of a palette.
MOST_COLOURS = 40
#: How far around a pixel the colours that may meet in it are looked for. [pixels]
REACH = 2
#: What a second colour, a third, and a colour not seen nearby must be worth, in squared units of noise.
PENALTIES = (6.0, 6.0, 25.0)
_FULL = 65535
_PURE = 4.0


@dataclass(frozen=True)
class Palette:
    """The colours of flat artwork.

    Attributes
    ----------
    linear : ndarray, shape (n, 3)
        Linear light in the artwork's RGB space, 0-1. [-]
    noise : float
        Standard deviation of a code about its flat colour. [share of the code range]
    mixing : {"linear", "encoded"}
        Whether the edges of the artwork are mixed in linear light or in its codes.
    """

    linear: FloatArray
    noise: float
    mixing: str


@dataclass(frozen=True)
class Weights:
    """What pixels are mixed from.

    Attributes
    ----------
    places : ndarray of uint8, shape (rows, width, 3)
        Palette colours.
    weights : ndarray of uint16, shape (rows, width, 3)
        Share of each, adding up to 65535.
    rest : ndarray of float32, shape (rows, width)
        What the mixture leaves over. [standard deviations of the noise]
    """

    places: NDArray[np.uint8]
    weights: NDArray[np.uint16]
    rest: NDArray[np.float32]


class Unmixed(Protocol):
    """Artwork that is read as what its pixels are mixed from."""

    @property
    def source(self) -> BandSource:
        """Its RGB."""

    @property
    def space(self) -> LinearRgb:
        """Space of its codes."""

    @property
    def palette(self) -> Palette:
        """Its colours."""

    def read(self, y0: int, y1: int) -> tuple[NDArray[np.uint16], Weights]:
        """Return the codes and weights of rows ``y0`` to ``y1`` (exclusive)."""


@dataclass(frozen=True)
class FromWeights:
    """What a band source made from mixing weights takes over from the artwork.

    Attributes
    ----------
    unmixed : Unmixed
        The artwork.
    """

    unmixed: Unmixed

    @property
    def height(self) -> int:
        """Rows."""
        return self.unmixed.source.height

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return self.unmixed.source.width

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch (across, along) [mm]."""
        return self.unmixed.source.pitch_mm


@dataclass(frozen=True)
class Unmixer:
    """Unmixes bands of one artwork.

    Attributes
    ----------
    source : BandSource
        RGB.
    space : LinearRgb
        Of its codes.
    palette : Palette
        Its colours.
    """

    source: BandSource
    space: LinearRgb
    palette: Palette

    def __post_init__(self) -> None:
        count = len(self.palette.linear)
        if not 1 <= count <= MOST_COLOURS:
            raise InputError("palette of another size", found=count, expected=f"1-{MOST_COLOURS} colours")

    @cached_property
    def curves(self) -> FloatArray:
        """Mixing value of each code, shape (3, codes)."""
        return mixing_curves(self.space, self.palette.mixing)

    @cached_property
    def slopes(self) -> FloatArray:
        """How far a code moves for a step of the mixing value, shape (3, codes)."""
        return code_slopes(self.curves)

    @cached_property
    def colours(self) -> FloatArray:
        """Mixing values of the palette, shape (n, 3)."""
        return mixing_values(self.space, self.palette.linear, self.palette.mixing)

    @property
    def pure(self) -> float:
        """Distance within which a pixel is a palette colour, as a share of the code range."""
        return max(_PURE * self.palette.noise, 0.6 / 255)

    def padded(self, y0: int, y1: int) -> tuple[NDArray[np.uint16], int]:
        """Return rows with those around them, and where they start in them."""
        above = min(y0, REACH + 1)
        below = min(self.source.height - y1, REACH + 1)
        band = self.source.read(y0 - above, y1 + below)
        return np.ascontiguousarray(band, dtype=np.uint16), above

    def read(self, y0: int, y1: int) -> tuple[NDArray[np.uint16], Weights]:
        """Return the codes and weights of rows ``y0`` to ``y1`` (exclusive)."""
        from strikeoff.artwork import kernels_flat as kernels

        codes, top = self.padded(y0, y1)
        labels = np.empty(codes.shape[:2], np.uint8)
        kernels.label(codes, self.curves, self.slopes, self.colours, self.pure, labels)
        shape = (y1 - y0, codes.shape[1])
        made = Weights(
            np.empty((*shape, 3), np.uint8), np.empty((*shape, 3), np.uint16), np.empty(shape, np.float32)
        )
        kernels.unmix(
            codes, labels, top, REACH, self.curves, self.slopes, self.colours, self.palette.noise,
            np.array(PENALTIES), made.places, made.weights, made.rest,
        )  # fmt: skip
        return codes[top : top + y1 - y0], made


def mixing_curves(space: LinearRgb, mixing: str) -> FloatArray:
    """Return the value in which edges are mixed, of each code: its light, or itself."""
    if mixing == "linear":
        return space.curves
    return np.tile(np.linspace(0.0, 1.0, space.codes), (3, 1))


def mixing_values(space: LinearRgb, linear: FloatArray, mixing: str) -> FloatArray:
    """Return that value of colours in linear light, shape (n, 3)."""
    if mixing == "linear":
        return np.ascontiguousarray(linear)
    at = np.linspace(0.0, 1.0, space.codes)
    return np.stack([np.interp(linear[:, c], space.curves[c], at) for c in range(3)], axis=-1)


def code_slopes(curves: FloatArray) -> FloatArray:
    """Return how far codes move for a step of the mixing value, over a fiftieth of the range."""
    codes = curves.shape[1]
    around = max(1, codes // 100)
    at = np.arange(codes)
    low, high = np.maximum(at - around, 0), np.minimum(at + around, codes - 1)
    return np.asarray((high - low) / (codes - 1.0) / (curves[:, high] - curves[:, low]))


def unmix_reference(unmixer: Unmixer, y0: int, y1: int) -> Weights:
    """Return what `Unmixer.read` returns, pixel by pixel in plain Python."""
    codes, top = unmixer.padded(y0, y1)
    curves, slopes, colours = unmixer.curves, unmixer.slopes, unmixer.colours
    value = np.stack([curves[c][codes[..., c]] for c in range(3)], axis=-1)
    slope = np.stack([slopes[c][codes[..., c]] for c in range(3)], axis=-1)
    far = (((value[..., None, :] - colours) * slope[..., None, :]) ** 2).sum(axis=-1)
    nearest = far.shape[-1] - 1 - far[..., ::-1].argmin(axis=-1)
    labels = np.where(far.min(axis=-1) <= unmixer.pure**2, nearest, 255)
    shape = (y1 - y0, codes.shape[1])
    places, weights = np.zeros((*shape, 3), np.uint8), np.zeros((*shape, 3), np.uint16)
    rest = np.zeros(shape, np.float32)
    for y, x in np.ndindex(shape):
        metric = slope[y + top, x] / unmixer.palette.noise
        offset = (colours - value[y + top, x]) * metric
        who, share, left = _one_pixel(labels, y + top, x, offset)
        for slot, (k, w) in enumerate(zip(who, share, strict=True)):
            places[y, x, slot], weights[y, x, slot] = k, np.uint16(np.floor(w * _FULL + 0.5))
        weights[y, x, 0] = _FULL - int(weights[y, x, 1]) - int(weights[y, x, 2])
        rest[y, x] = left
    return Weights(places, weights, rest)


def _around(labels: Band, y: int, x: int, reach: int) -> Band:
    return labels[max(0, y - reach) : y + reach + 1, max(0, x - reach) : x + reach + 1]


def _one_pixel(
    labels: Band, y: int, x: int, offset: FloatArray
) -> tuple[tuple[int, ...], tuple[float, ...], float]:
    own = labels[y, x]
    if own != 255 and (_around(labels, y, x, 1) == own).all():
        return (int(own),), (1.0,), float(np.linalg.norm(offset[own]))
    near = set()
    for v in range(max(0, y - REACH), min(labels.shape[0], y + REACH + 1)):
        for u in range(max(0, x - REACH), min(labels.shape[1], x + REACH + 1)):
            k = int(labels[v, u])
            if k != 255 and (_around(labels, v, u, 1) == k).sum() > 2:
                near.add(k)
    count = len(offset)
    tried: list[tuple[float, float, tuple[int, ...], tuple[float, ...]]] = []
    for size in (1, 2, 3):
        for who in combinations(range(count) if size < 3 else sorted(near), size):
            base, span = offset[who[0]], offset[list(who[1:])] - offset[who[0]]
            share = np.linalg.solve(span @ span.T, -span @ base) if _is_open(span) else np.zeros(0)
            if len(share) != size - 1 or (share <= 0).any() or share.sum() >= 1:
                continue
            left = float(((base + share @ span) ** 2).sum())
            fine = sum(PENALTIES[: size - 1]) + PENALTIES[2] * sum(k not in near for k in who)
            tried.append((left + fine, left, who, (1.0 - float(share.sum()), *map(float, share))))
    _, left, who, found = min(tried, key=lambda one: one[0])
    return who, found, float(np.sqrt(left))


def _is_open(span: FloatArray) -> bool:
    gram = span @ span.T
    return len(span) < 2 or bool(np.linalg.det(gram) > 1e-9 * gram[0, 0] * gram[1, 1])
