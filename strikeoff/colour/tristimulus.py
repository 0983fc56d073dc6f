"""Spectra to CIE XYZ."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.colour.spectra import checked_spectra, checked_wavelengths
from strikeoff.colour.weights import Illuminant, weighting_factors

FloatArray = NDArray[np.float64]


def spectra_to_xyz(
    spectra: ArrayLike, wavelengths_nm: ArrayLike, illuminant: Illuminant = "D50", observer: str = "2"
) -> FloatArray:
    """Return XYZ of reflectance spectra under a light.

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
        XYZ, Y = 100 for the perfect diffuser.

    Raises
    ------
    InputError
        When a spectrum holds a value that is no number or the grid cannot be used.
    UsageError
        Unknown illuminant or observer.

    Examples
    --------
    >>> spectra_to_xyz([0.5] * 31, range(400, 701, 10), "D65", "10").round(1).tolist()
    [47.4, 50.0, 53.7]
    """
    grid = checked_wavelengths(wavelengths_nm)
    values = checked_spectra(spectra, grid.size)
    return np.asarray(values @ weighting_factors(illuminant, observer, grid), dtype=np.float64)
