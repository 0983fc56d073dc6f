"""RGB artwork as linear light: one curve a channel and a matrix to XYZ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.colour import D50, profile_to_lab, require_known_colour
from strikeoff.artwork.pixels import MappedSource
from strikeoff.artwork.records import Artwork
from strikeoff.artwork.wide_rgb import wide_rgb_profile
from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.raster.bands import Band, BandSource

FloatArray = NDArray[np.float64]

_NODES = 4096
_TRUE_DE = 0.5
_ROOM = 2e-3


@dataclass(frozen=True)
class LinearRgb:
    """An RGB space whose linear light mixes as light does.

    Attributes
    ----------
    curves : ndarray, shape (3, codes)
        Linear light of each code, 0-1, rising. [-]
    matrix : ndarray, shape (3, 3)
        Linear light to D50 XYZ, Y 1 for white: ``xyz = linear @ matrix``.
    profile : bytes or None
        ICC profile; None is sRGB.
    """

    curves: FloatArray
    matrix: FloatArray
    profile: bytes | None

    @property
    def codes(self) -> int:
        """Codes of a channel: 256 or 65536."""
        return int(self.curves.shape[1])

    def linear(self, codes: NDArray[np.integer]) -> FloatArray:
        """Return linear light of codes, shape (..., 3)."""
        return np.stack([self.curves[c][codes[..., c]] for c in range(3)], axis=-1)

    def lab(self, linear: FloatArray) -> FloatArray:
        """Return CIELAB D50 of linear light."""
        return xyz_to_lab(linear @ self.matrix, D50)

    def from_lab(self, lab: FloatArray) -> FloatArray:
        """Return linear light of CIELAB D50; outside 0-1 where the space does not hold it."""
        return np.asarray(lab_to_xyz(lab, D50) @ np.linalg.inv(self.matrix))

    def holds(self, linear: FloatArray) -> NDArray[np.bool_]:
        """Return which colours the space holds."""
        return np.asarray(((linear >= -_ROOM) & (linear <= 1 + _ROOM)).all(axis=-1))

    def encode(self, linear: FloatArray) -> NDArray[np.uint16]:
        """Return the codes whose light is nearest, shape (..., 3); uint8 for 256 codes."""
        out = np.empty(linear.shape, np.uint8 if self.codes == 256 else np.uint16)
        for c in range(3):
            middles = (self.curves[c][1:] + self.curves[c][:-1]) / 2
            out[..., c] = np.searchsorted(middles, linear[..., c])
        return out


def linear_rgb(profile: bytes | None, bits: int) -> LinearRgb | None:
    """Return the linear space of an RGB profile, or None when curves and a matrix do not describe it.

    Parameters
    ----------
    profile : bytes or None
        ICC profile; None for sRGB.
    bits : {8, 16}
        Of the codes.
    """
    ramp = np.linspace(0.0, 1.0, _NODES)
    curves, matrix = np.empty((3, 1 << bits)), np.empty((3, 3))
    for c in range(3):
        values = np.zeros((_NODES, 3))
        values[:, c] = ramp
        xyz = lab_to_xyz(profile_to_lab(profile, "rgb", values), D50)
        matrix[c] = xyz[-1] - xyz[0]
        # The channel that the light of this primary shows best in.
        best = int(np.argmax(matrix[c]))
        light = (xyz[:, best] - xyz[0, best]) / matrix[c, best]
        curves[c] = np.interp(np.linspace(0.0, 1.0, 1 << bits), ramp, np.maximum.accumulate(light))
    # Equal light of neighbouring codes would have no inverse.
    curves += np.linspace(0.0, 1e-9, 1 << bits)
    curves /= curves[:, -1:]
    if abs(np.linalg.det(matrix)) < 1e-6:
        return None
    found = LinearRgb(curves, matrix, profile)
    rng = np.random.default_rng(0)
    codes = rng.integers(0, 1 << bits, (200, 3))
    truth = profile_to_lab(profile, "rgb", codes / ((1 << bits) - 1.0))
    off = np.linalg.norm(found.lab(found.linear(codes)) - truth, axis=1)
    return found if off.max() <= _TRUE_DE else None


def flat_rgb(artwork: Artwork) -> tuple[BandSource, LinearRgb, str]:
    """Return artwork as RGB with its linear space, and how it got there: ``as it is`` or ``wide RGB``.

    Grey, CMYK, Lab, and RGB whose profile is no curves and matrix, go into a wide RGB space of 16 bits.

    Raises
    ------
    InputError
        For named colours, whose planes are no colours of a picture, and CMYK without a profile.
    """
    if artwork.named:
        raise InputError(
            "artwork with named colours keeps those in planes of their own",
            path=artwork.path,
            found=", ".join(artwork.named)[:200],
            advice="Give the names other swatches instead: 'condition spots', 'artwork separate --spots'",
        )
    require_known_colour(artwork)
    if artwork.kind == "rgb":
        space = linear_rgb(artwork.profile, artwork.bits)
        if space is not None:
            return artwork.source, space, "as it is"
    elif artwork.kind == "grey" and artwork.profile is None:
        space = linear_rgb(None, artwork.bits)
        assert space is not None
        source = artwork.source
        return (
            MappedSource(source, lambda b: np.repeat(b, 3, axis=2), 3, source.dtype, source.pitch_mm),
            space,
            "as it is",
        )
    wide = wide_space()
    full = float(np.iinfo(artwork.source.dtype).max)

    def change(band: Band) -> Band:
        flat = band.reshape(-1, band.shape[2])
        lab = profile_to_lab(artwork.profile, artwork.kind, flat / full)
        linear = wide.from_lab(lab)
        return wide.encode(np.clip(linear, 0.0, 1.0)).reshape(*band.shape[:2], 3)

    source = artwork.source
    return MappedSource(source, change, 3, np.dtype(np.uint16), source.pitch_mm), wide, "wide RGB"


def wide_space() -> LinearRgb:
    """Return the wide RGB space of 16 bits."""
    space = linear_rgb(wide_rgb_profile(), 16)
    assert space is not None
    return space
