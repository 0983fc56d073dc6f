"""CIELAB and its cylindrical form."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.colour.weights import Illuminant, white_point

FloatArray = NDArray[np.float64]

# CIE 15:2018, 8.2.1: the exact fractions behind 0.008856 and 7.787.
_EDGE = 6.0 / 29.0
_SLOPE = 1.0 / (3.0 * _EDGE**2)
_OFFSET = 4.0 / 29.0


def xyz_to_lab(xyz: ArrayLike, white: ArrayLike) -> FloatArray:
    """Return CIELAB of XYZ.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        Tristimulus values in the white's scale; negative values continue the linear part.
    white : array_like, shape (3,) or (..., 3)
        XYZ of the white.

    Returns
    -------
    ndarray, shape (..., 3)
        L*, a*, b*.

    References
    ----------
    CIE 15:2018, 8.2.1; ISO/CIE 11664-4.

    Examples
    --------
    >>> xyz_to_lab([18.418651, 18.418651, 18.418651], [100, 100, 100]).round(4).tolist()
    [50.0, 0.0, 0.0]
    """
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white, dtype=np.float64)
    f = np.where(ratio > _EDGE**3, np.cbrt(ratio), _SLOPE * ratio + _OFFSET)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def lab_to_xyz(lab: ArrayLike, white: ArrayLike) -> FloatArray:
    """Return XYZ of CIELAB, the exact inverse of `xyz_to_lab`.

    Parameters
    ----------
    lab : array_like, shape (..., 3)
        L*, a*, b*.
    white : array_like, shape (3,) or (..., 3)
        XYZ of the white.

    Returns
    -------
    ndarray, shape (..., 3)
        XYZ in the white's scale.

    Examples
    --------
    >>> lab_to_xyz([50, 0, 0], [100, 100, 100]).round(4).tolist()
    [18.4187, 18.4187, 18.4187]
    """
    values = np.asarray(lab, dtype=np.float64)
    y = (values[..., 0] + 16.0) / 116.0
    f = np.stack([y + values[..., 1] / 500.0, y, y - values[..., 2] / 200.0], axis=-1)
    ratio = np.where(f > _EDGE, f**3, (f - _OFFSET) / _SLOPE)
    return np.asarray(ratio * np.asarray(white, dtype=np.float64), dtype=np.float64)


def lab_to_lch(lab: ArrayLike) -> FloatArray:
    """Return lightness, chroma and hue angle [degrees, 0-360) of CIELAB.

    Examples
    --------
    >>> lab_to_lch([50, 0, -20]).tolist()
    [50.0, 20.0, 270.0]
    """
    values = np.asarray(lab, dtype=np.float64)
    chroma = np.hypot(values[..., 1], values[..., 2])
    hue = np.degrees(np.arctan2(values[..., 2], values[..., 1])) % 360.0
    return np.stack([values[..., 0], chroma, hue], axis=-1)


def lch_to_lab(lch: ArrayLike) -> FloatArray:
    """Return CIELAB of lightness, chroma and hue angle [degrees].

    Examples
    --------
    >>> lch_to_lab([50, 20, 270]).round(6).tolist()
    [50.0, -0.0, -20.0]
    """
    values = np.asarray(lch, dtype=np.float64)
    hue = np.radians(values[..., 2])
    return np.stack([values[..., 0], values[..., 1] * np.cos(hue), values[..., 1] * np.sin(hue)], axis=-1)


def spectra_to_lab(
    spectra: ArrayLike, wavelengths_nm: ArrayLike, illuminant: Illuminant = "D50", observer: str = "2"
) -> FloatArray:
    """Return CIELAB of reflectance spectra, relative to the perfect diffuser under the same light.

    Parameters
    ----------
    spectra : array_like, shape (..., n_bands)
        Reflectance factor, 0-1. [-]
    wavelengths_nm : array_like, shape (n_bands,)
        Wavelengths of the bands. [nm]
    illuminant : str or (wavelengths, power)
        CIE illuminant or measured light.
    observer : {"2", "10"}
        Standard observer. [degrees]

    Returns
    -------
    ndarray, shape (..., 3)
        L*, a*, b*.

    Examples
    --------
    >>> bool(abs(spectra_to_lab([0.2] * 36, range(380, 731, 10), "FL11", "10")[1:]).max() < 1e-9)
    True
    """
    xyz = spectra_to_xyz(spectra, wavelengths_nm, illuminant, observer)
    return xyz_to_lab(xyz, white_point(illuminant, observer))
