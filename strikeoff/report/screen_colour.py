"""Colours for a screen: CIELAB under a light to sRGB."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError
from strikeoff.colour.adaptation import adapt
from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab

FloatArray = NDArray[np.float64]

# D65, 2 degrees, and the matrix of IEC 61966-2-1:1999, Y = 100 for white.
_D65 = np.array([95.0456, 100.0, 108.9058])
_TO_LINEAR = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])


def xyz_to_linear_srgb(xyz: ArrayLike, white: ArrayLike) -> FloatArray:
    """Return linear sRGB of XYZ seen under a white; the white becomes 1, 1, 1. Not limited to 0-1.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        Y = 100 for the perfect diffuser.
    white : array_like, shape (3,)
        XYZ of the light.

    Returns
    -------
    ndarray, shape (..., 3)

    References
    ----------
    IEC 61966-2-1:1999; adaptation by Bradford (ICC.1:2022, annex E).
    """
    linear = adapt(xyz, white, _D65) / 100.0 @ _TO_LINEAR.T
    # The rounded matrix leaves white 0.0001 off; a white page must stay white.
    return np.asarray(linear / (_D65 / 100.0 @ _TO_LINEAR.T), dtype=np.float64)


def encode_srgb(linear: FloatArray) -> NDArray[np.uint8]:
    """Return 8-bit sRGB of linear values; what the screen cannot show is set to its nearest limit."""
    return np.asarray(np.round(encode_linear(linear) * 255.0), dtype=np.uint8)


def encode_linear(linear: FloatArray) -> FloatArray:
    """Return coded sRGB, 0-1, of linear values, limited to what the screen can show.

    Examples
    --------
    >>> encode_linear(np.array([-0.1, 0.214, 2.0])).round(2).tolist()
    [0.0, 0.5, 1.0]
    """
    value = np.clip(linear, 0.0, 1.0)
    return np.where(value <= 0.0031308, 12.92 * value, 1.055 * np.power(value, 1 / 2.4) - 0.055)


def decode_srgb(coded: ArrayLike) -> FloatArray:
    """Return linear values of coded sRGB, both 0-1.

    Examples
    --------
    >>> decode_srgb([0.0, 0.5, 1.0]).round(3).tolist()
    [0.0, 0.214, 1.0]
    """
    value = np.asarray(coded, dtype=np.float64)
    return np.where(value <= 0.04045, value / 12.92, ((np.maximum(value, 0.0) + 0.055) / 1.055) ** 2.4)


def srgb_to_lab(coded: ArrayLike) -> FloatArray:
    """Return CIELAB under D65 of coded sRGB, 0-1, shape (..., 3).

    Examples
    --------
    >>> srgb_to_lab([[1.0, 1.0, 1.0], [119 / 255] * 3])[:, 0].round(0).tolist()
    [100.0, 50.0]
    """
    white = _D65 / 100.0 @ _TO_LINEAR.T
    return xyz_to_lab(100.0 * (decode_srgb(coded) * white) @ np.linalg.inv(_TO_LINEAR).T, _D65)


def lab_to_srgb(lab: ArrayLike, white: ArrayLike) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Return 8-bit sRGB of CIELAB and which colours lie outside what the screen can show.

    Parameters
    ----------
    lab : array_like, shape (..., 3)
        Absolute L*, a*, b*.
    white : array_like, shape (3,)
        XYZ of the light under which they hold.

    Returns
    -------
    rgb : ndarray of uint8, shape (..., 3)
    outside : ndarray of bool, shape (...)

    Raises
    ------
    InputError
        For values that are not finite.

    Examples
    --------
    >>> rgb, outside = lab_to_srgb([[100, 0, 0], [50, 0, 0]], [96.422, 100, 82.521])
    >>> rgb.tolist(), outside.tolist()
    ([[255, 255, 255], [119, 119, 119]], [False, False])
    """
    values = np.asarray(lab, dtype=np.float64)
    if not np.isfinite(values).all():
        raise InputError("colour is not finite", expected="L*, a*, b*")
    linear = xyz_to_linear_srgb(lab_to_xyz(values, white), white)
    outside = np.asarray(((linear < -0.001) | (linear > 1.001)).any(axis=-1), dtype=np.bool_)
    return encode_srgb(linear), outside


def hex_colour(lab: ArrayLike, white: ArrayLike) -> str:
    """Return the screen colour of one CIELAB colour as ``#rrggbb``, the nearest that the screen can show.

    Examples
    --------
    >>> hex_colour([50, 0, 0], [96.422, 100, 82.521])
    '#777777'
    """
    rgb, _ = lab_to_srgb(lab, white)
    return "#" + "".join(f"{int(v):02x}" for v in rgb)
