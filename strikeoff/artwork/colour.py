"""From artwork codes to CIELAB D50, the profile connection space."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.artwork.records import CHANNELS, Artwork, Kind
from strikeoff.base.errors import InputError
from strikeoff.colour.adaptation import adaptation_matrix
from strikeoff.colour.cielab import xyz_to_lab

FloatArray = NDArray[np.float64]

#: ICC.1 illuminant D50.
D50 = np.array([0.9642, 1.0, 0.8249])

#: Rendering intents by number, ICC.1 clause "Rendering intent".
INTENTS = {"perceptual": 0, "relative": 1, "saturation": 2, "absolute": 3}

_SPACE = {"rgb": "rgb", "grey": "gray", "cmyk": "cmyk"}
_SIGNATURE = {"rgb": b"RGB ", "grey": b"GRAY", "cmyk": b"CMYK", "lab": b"Lab "}
# Full range of Lab samples, 8 bits and more: L* 0-100, a* and b* -128 to 127.
_LAB_SCALE, _LAB_OFFSET = np.array([100.0, 255.0, 255.0]), np.array([0.0, 128.0, 128.0])
_SRGB_PRIMARIES_XY = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
_SRGB_WHITE_XY = (0.3127, 0.3290)


def srgb_to_linear(values: ArrayLike) -> FloatArray:
    """Return linear light of sRGB values, both 0-1.

    References
    ----------
    IEC 61966-2-1:1999, clause 5.2.

    Examples
    --------
    >>> round(float(srgb_to_linear(0.5)), 6)
    0.214041
    """
    v = np.asarray(values, dtype=np.float64)
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0.04045) + 0.055) / 1.055) ** 2.4)


def srgb_to_lab(values: ArrayLike) -> FloatArray:
    """Return CIELAB D50 of sRGB values: Bradford-adapted, white exactly 100, 0, 0.

    Parameters
    ----------
    values : array_like, shape (..., 3)
        sRGB, 0-1. [-]

    Returns
    -------
    ndarray, shape (..., 3)
        CIELAB under D50, 2 degrees.

    References
    ----------
    IEC 61966-2-1:1999 (primaries, white, curve); ICC.1:2022 annex E (Bradford adaptation).

    Examples
    --------
    >>> srgb_to_lab([1, 0, 0]).round(2).tolist()
    [54.29, 80.81, 69.89]
    """
    return xyz_to_lab(srgb_to_linear(values) @ _srgb_matrix().T, D50)


def _srgb_matrix() -> FloatArray:
    white = _xy_to_xyz(_SRGB_WHITE_XY)
    primaries = np.stack([_xy_to_xyz(xy) for xy in _SRGB_PRIMARIES_XY], axis=1)
    matrix = adaptation_matrix(white, D50) @ (primaries * np.linalg.solve(primaries, white))
    return np.asarray(matrix, dtype=np.float64)


def _xy_to_xyz(xy: tuple[float, float]) -> FloatArray:
    return np.array([xy[0] / xy[1], 1.0, (1 - xy[0] - xy[1]) / xy[1]])


def profile_fault(profile: bytes, kind: Kind) -> str | None:
    """Say why a profile cannot describe pixels of this kind, or return None when it can.

    The header is read as in ICC.1:2022 clause 7.2, then one colour is sent through the profile.
    """
    if len(profile) < 132 or profile[36:40] != b"acsp":
        return "it is not an ICC profile"
    if int.from_bytes(profile[0:4], "big") > len(profile):
        return f"it is cut off at {len(profile)} of {int.from_bytes(profile[0:4], 'big')} bytes"
    if profile[12:16] == b"link":
        return "it is a device link"
    space = profile[16:20]
    if space != _SIGNATURE[kind]:
        return f"it is for {space.decode('latin-1').strip()!r} and the pixels are {kind}"
    try:
        profile_to_lab(profile, kind, np.full((1, CHANNELS[kind]), 0.5))
    except InputError as error:
        return error.message
    return None


def profile_to_lab(
    profile: bytes | None, kind: Kind, values: ArrayLike, intent: str = "relative"
) -> FloatArray:
    """Return CIELAB D50 of artwork values.

    Parameters
    ----------
    profile : bytes or None
        ICC profile of the pixels. None takes sRGB for RGB, and for grey the sRGB curve on the D50 neutral.
    kind : {"rgb", "grey", "cmyk", "lab"}
        What the channels mean; Lab is its own profile.
    values : array_like, shape (n, channels)
        0-1; CMYK 0 is no ink; Lab: L* over 100, a* and b* plus 128 over 255. [-]
    intent : {"perceptual", "relative", "saturation", "absolute"}
        Which of the profile's tables is read.

    Returns
    -------
    ndarray, shape (n, 3)
        CIELAB of the profile connection space, D50, 2 degrees.

    Raises
    ------
    InputError
        For CMYK without a profile, a profile that the engine refuses, values outside 0-1 or NaN.
    """
    data = np.asarray(values, dtype=np.float64)
    if data.ndim != 2 or data.shape[1] != CHANNELS[kind]:
        raise InputError("bad shape of colour values", found=data.shape, expected=f"(n, {CHANNELS[kind]})")
    if not (np.isfinite(data).all() and (data >= 0).all() and (data <= 1).all()):
        raise InputError("colour values outside their range or NaN", expected="0-1")
    if intent not in INTENTS:
        raise InputError("unknown rendering intent", found=intent, expected=", ".join(INTENTS))
    if kind == "lab":
        return np.asarray(data * _LAB_SCALE - _LAB_OFFSET)
    if profile is not None:
        return _through_profile(profile, kind, data, INTENTS[intent])
    if kind == "cmyk":
        raise InputError(
            "CMYK artwork without a profile has no known colour",
            advice="Name the profile that it was made for, or ask the customer for it",
        )
    return srgb_to_lab(data if kind == "rgb" else np.repeat(data, 3, axis=1))


def require_known_colour(artwork: Artwork) -> None:
    """Refuse CMYK artwork without a profile.

    Raises
    ------
    InputError
        Says how a profile is named.
    """
    if artwork.kind == "cmyk" and artwork.profile is None:
        raise InputError(
            "CMYK artwork without a profile has no known colour",
            path=artwork.path,
            expected="an embedded profile, or one that is named",
            advice="Give --assume-profile FILE.icc, the profile that it was made for",
        )


def _through_profile(profile: bytes, kind: Kind, data: FloatArray, intent: int) -> FloatArray:
    import imagecodecs

    # The precalculated link of the engine is off by up to 12 of 255 codes; NOOPTIMIZE keeps the tables.
    flags = imagecodecs.CMS.FLAGS.NOOPTIMIZE | imagecodecs.CMS.FLAGS.NOCACHE
    # Floating-point CMYK is 0-100 in this engine, all else 0-1.
    scaled = np.ascontiguousarray(data * (100.0 if kind == "cmyk" else 1.0))
    pixels: Any = scaled[None] if kind != "grey" else scaled[None, :, 0]
    try:
        lab = imagecodecs.cms_transform(
            pixels,
            profile,
            # A version 4 Lab profile would switch on black point compensation for perceptual.
            imagecodecs.cms_profile("lab2"),
            colorspace=_SPACE[kind],
            outcolorspace="lab",
            outdtype=np.float64,
            intent=intent,
            flags=flags,
        )
    except (imagecodecs.CmsError, ValueError, RuntimeError) as error:
        raise InputError(
            "the colour engine refuses the profile", found=error, advice="Embed an intact ICC profile"
        ) from error
    result = np.asarray(lab, dtype=np.float64).reshape(len(data), 3)
    if not np.isfinite(result).all():
        raise InputError(
            "the profile gives colours that are no numbers", advice="Embed an intact ICC profile"
        )
    return result
