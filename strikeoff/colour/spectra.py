"""Spectra on one wavelength grid: checks and interpolation."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError

FloatArray = NDArray[np.float64]

#: The 36 bands of most 45:0 instruments. [nm]
GRID_10NM: FloatArray = np.arange(380.0, 731.0, 10.0)
GRID_10NM.setflags(write=False)

# CIE 167:2005, table V and equation of the Sprague interpolant as printed there.
_SPRAGUE_EDGE = (
    np.array(
        [
            [884.0, -1960.0, 3033.0, -2648.0, 1080.0, -180.0],
            [508.0, -540.0, 488.0, -367.0, 144.0, -24.0],
        ]
    )
    / 209.0
)
_SPRAGUE = (
    np.array(
        [
            [0.0, 0.0, 24.0, 0.0, 0.0, 0.0],
            [2.0, -16.0, 0.0, 16.0, -2.0, 0.0],
            [-1.0, 16.0, -30.0, 16.0, -1.0, 0.0],
            [-9.0, 39.0, -70.0, 66.0, -33.0, 7.0],
            [13.0, -64.0, 126.0, -124.0, 61.0, -12.0],
            [-5.0, 25.0, -50.0, 50.0, -25.0, 5.0],
        ]
    )
    / 24.0
)


def checked_wavelengths(wavelengths_nm: ArrayLike) -> FloatArray:
    """Return wavelengths as an array after checking that they rise and are plausible.

    Parameters
    ----------
    wavelengths_nm : array_like, shape (n_bands,)
        Wavelengths in rising order, 100-3000. [nm]

    Returns
    -------
    ndarray, shape (n_bands,)

    Raises
    ------
    InputError
        When they are not finite, not rising, fewer than two, or outside 100-3000 nm.
    """
    grid = np.asarray(wavelengths_nm, dtype=np.float64)
    if grid.ndim != 1 or grid.size < 2:
        raise InputError("too few wavelengths", found=grid.size, expected="2 or more in one row")
    if not np.all(np.isfinite(grid)) or not np.all(np.diff(grid) > 0):
        raise InputError("wavelengths do not rise", found=grid.tolist(), expected="rising numbers in nm")
    if grid[0] < 100 or grid[-1] > 3000:
        raise InputError(
            "wavelengths are not in nanometres",
            found=f"{grid[0]:g} to {grid[-1]:g}",
            expected="100 to 3000 nm",
        )
    return grid


def checked_spectra(spectra: ArrayLike, n_bands: int) -> FloatArray:
    """Return spectra as an array after checking their length and that every value is a number.

    Raises
    ------
    InputError
        Naming the first bad patch and band.
    """
    values = np.asarray(spectra, dtype=np.float64)
    if values.ndim == 0 or values.shape[-1] != n_bands:
        found = "one number" if values.ndim == 0 else f"{values.shape[-1]} values"
        raise InputError(
            "spectrum and wavelengths differ in length", found=found, expected=f"{n_bands} values"
        )
    if not np.all(np.isfinite(values)):
        first = np.argwhere(~np.isfinite(values))[0]
        raise InputError(
            "spectrum holds a value that is no number",
            where=f"spectrum {tuple(int(i) for i in first[:-1])}, band {int(first[-1])}",
            expected="finite reflectance factors",
        )
    return values


def resample(spectra: ArrayLike, wavelengths_nm: ArrayLike, target_nm: ArrayLike) -> FloatArray:
    """Interpolate spectra to other wavelengths.

    Parameters
    ----------
    spectra : array_like, shape (..., n_bands)
        Reflectance factor, 0-1. [-]
    wavelengths_nm : array_like, shape (n_bands,)
        Their wavelengths, rising. [nm]
    target_nm : array_like, shape (n_target,)
        Wanted wavelengths, rising. [nm]

    Returns
    -------
    ndarray, shape (..., n_target)
        Interpolated spectra, not clipped.

    Raises
    ------
    InputError
        When a value is no number, or wavelengths do not rise.

    Notes
    -----
    Even grids of six bands or more use Sprague's fifth-degree polynomial, others a cubic spline (linear
    below four bands). Beyond the ends the end value is held.

    References
    ----------
    CIE 167:2005, Recommended practice for tabulating spectral data for use in colour computations.

    Examples
    --------
    >>> resample([0.1, 0.2, 0.3, 0.4, 0.5, 0.6], [400, 410, 420, 430, 440, 450], [405, 460]).round(6).tolist()
    [0.15, 0.6]
    """
    grid = checked_wavelengths(wavelengths_nm)
    target = np.atleast_1d(np.asarray(target_nm, dtype=np.float64))
    values = checked_spectra(spectra, grid.size)
    if target.shape == grid.shape and np.allclose(target, grid, rtol=0, atol=1e-9):
        return values.copy()
    inside = np.clip(target, grid[0], grid[-1])
    steps = np.diff(grid)
    if grid.size >= 6 and np.allclose(steps, steps[0], rtol=0, atol=1e-6):
        return _sprague(values, (inside - grid[0]) / steps.mean())
    if grid.size >= 4:
        from scipy.interpolate import CubicSpline

        return np.asarray(CubicSpline(grid, values, axis=-1)(inside), dtype=np.float64)
    return np.apply_along_axis(lambda row: np.interp(inside, grid, row), -1, values)


def _sprague(values: FloatArray, position: NDArray[Any]) -> FloatArray:
    """Sprague's polynomial at fractional band positions, 0 to n_bands - 1."""
    head = values[..., :6] @ _SPRAGUE_EDGE.T
    tail = values[..., :-7:-1] @ _SPRAGUE_EDGE[::-1].T
    extended = np.concatenate([head, values, tail], axis=-1)
    index = np.clip(np.floor(position).astype(int), 0, values.shape[-1] - 2)
    powers = (position - index)[:, None] ** np.arange(6)
    weights = powers @ _SPRAGUE  # (n_target, 6): weights of the six bands around the interval
    around = extended[..., index[:, None] + np.arange(6)]
    return np.asarray(np.einsum("...tk,tk->...t", around, weights), dtype=np.float64)
