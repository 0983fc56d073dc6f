"""Tristimulus weights of an illuminant and observer for spectra on a coarse grid."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.cie_tables import FINE_NM, illuminants, observer_1nm
from strikeoff.colour.spectra import checked_spectra, checked_wavelengths

FloatArray = NDArray[np.float64]

#: The name of a CIE illuminant, or a measured light as (wavelengths in nm, spectral power).
Illuminant: TypeAlias = str | tuple[ArrayLike, ArrayLike]
_Key: TypeAlias = str | tuple[tuple[float, ...], tuple[float, ...]]

_OBSERVERS = ("2", "10")
# The observers see little outside; a measured light must reach at least this far. [nm]
_LIGHT_RANGE_NM = (400.0, 700.0)


def illuminant_names() -> tuple[str, ...]:
    """Return the names of the illuminants that are known, in reading order."""
    return tuple(sorted(_illuminant_table().values(), key=_natural))


def canonical_illuminant(name: str) -> str:
    """Return the usual spelling of an illuminant's name.

    Raises
    ------
    UsageError
        When the name is unknown; the choices are listed.

    Examples
    --------
    >>> canonical_illuminant("d50"), canonical_illuminant("f11"), canonical_illuminant(" led-b1 ")
    ('D50', 'FL11', 'LED-B1')
    """
    table = _illuminant_table()
    key = " ".join(str(name).split()).upper()
    for candidate in (key, "FL" + key[1:] if key.startswith("F") else key):
        if candidate in table:
            return table[candidate]
    raise UsageError(
        "unknown illuminant", found=name, expected=", ".join(illuminant_names()), advice="Choose one of these"
    )


def canonical_observer(observer: object) -> str:
    """Return ``2`` or ``10`` for an observer as people write it.

    Examples
    --------
    >>> canonical_observer("2°"), canonical_observer(10), canonical_observer("10 deg")
    ('2', '10', '10')

    Raises
    ------
    UsageError
        When it is another observer.
    """
    text = str(observer).strip().lower()
    for ending in ("degrees", "degree", "deg", "°", "º"):
        text = text.removesuffix(ending).strip()
    text = text.removesuffix(".0")
    if text not in _OBSERVERS:
        raise UsageError("unknown observer", found=observer, expected="2 or 10 (degrees)")
    return text


def white_point(illuminant: Illuminant = "D50", observer: str = "2") -> FloatArray:
    """Return XYZ of the perfect reflecting diffuser, Y = 100.

    Parameters
    ----------
    illuminant : str or (wavelengths, power)
        CIE illuminant or measured light.
    observer : {"2", "10"}
        Field of view of the standard observer. [degrees]

    Returns
    -------
    ndarray, shape (3,)
        Equal to the column sums of every table of `weighting_factors` for this light.

    Examples
    --------
    >>> white_point("D50", "2").round(2).tolist()
    [96.42, 100.0, 82.51]
    """
    return _white(_key(illuminant), canonical_observer(observer))


def weighting_factors(illuminant: Illuminant, observer: str, wavelengths_nm: ArrayLike) -> FloatArray:
    """Return the weights that turn a coarse spectrum into XYZ.

    Parameters
    ----------
    illuminant : str or (wavelengths, power)
        CIE illuminant (any case) or a measured light, its power in any unit.
    observer : {"2", "10"}
        Standard observer. [degrees]
    wavelengths_nm : array_like, shape (n_bands,)
        Wavelengths of the spectra, rising; any start, end and spacing up to 20 nm. [nm]

    Returns
    -------
    ndarray, shape (n_bands, 3)
        ``spectra @ weights`` is XYZ with Y = 100 for the perfect diffuser. Read-only.

    Raises
    ------
    UsageError
        Unknown illuminant or observer.
    InputError
        Wavelengths that do not rise, are too coarse, or miss most of the visible range.

    Notes
    -----
    The reflectance is interpolated to 1 nm by Lagrange polynomials (cubic inside, quadratic in the first
    and last interval) and the interpolation is folded into the weights. The weights of wavelengths that
    were not measured are added to the first and last band. Spectra are taken as corrected for bandpass,
    as today's instruments deliver them.

    Plain summation of 10 nm data samples the lines of a fluorescent light at random: errors above 10 dE.

    References
    ----------
    ASTM E2022 (weights for unit-interval Lagrange interpolation); ASTM E308, 7.2.2 (missing wavelengths).

    Examples
    --------
    >>> weighting_factors("FL11", "10", range(400, 701, 10)).sum(axis=0).round(2).tolist()
    [103.82, 100.0, 65.56]
    """
    grid = checked_wavelengths(wavelengths_nm)
    return _weights(_key(illuminant), canonical_observer(observer), tuple(grid.tolist()))


def _key(illuminant: Illuminant) -> _Key:
    if isinstance(illuminant, str):
        return canonical_illuminant(illuminant)
    grid = checked_wavelengths(illuminant[0])
    power = checked_spectra(illuminant[1], grid.size)
    if power.ndim != 1 or np.any(power < 0) or not np.any(power > 0):
        raise InputError("measured light has no or negative power", expected="one row of powers, 0 or more")
    if grid[0] > _LIGHT_RANGE_NM[0] or grid[-1] < _LIGHT_RANGE_NM[1]:
        raise InputError(
            "measured light does not reach over the visible range",
            found=f"{grid[0]:g} to {grid[-1]:g} nm",
            expected="400 to 700 nm or more",
        )
    return tuple(grid.tolist()), tuple(power.tolist())


@lru_cache(maxsize=1)
def _illuminant_table() -> dict[str, str]:
    return {name.upper(): name for name in illuminants()}


def _natural(name: str) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdigit() else (-1, part) for part in re.split(r"(\d+)", name)]


@lru_cache(maxsize=256)
def _light_1nm(key: _Key) -> FloatArray:
    """Power at 1 nm; linear between tabulated values, held beyond the ends (CIE 15)."""
    if isinstance(key, str):
        grid, power = illuminants()[key]
    else:
        grid, power = np.array(key[0]), np.array(key[1])
    return np.asarray(np.interp(FINE_NM, grid, power), dtype=np.float64)


@lru_cache(maxsize=256)
def _light_times_observer(key: _Key, observer: str) -> FloatArray:
    product = _light_1nm(key)[:, None] * observer_1nm(observer)
    product *= 100.0 / product[:, 1].sum()
    product.setflags(write=False)
    return product


@lru_cache(maxsize=256)
def _white(key: _Key, observer: str) -> FloatArray:
    white = np.asarray(_light_times_observer(key, observer).sum(axis=0), dtype=np.float64)
    white.setflags(write=False)
    return white


@lru_cache(maxsize=256)
def _weights(key: _Key, observer: str, wavelengths_nm: tuple[float, ...]) -> FloatArray:
    grid = np.array(wavelengths_nm)
    steps = np.diff(grid)
    if steps.max() > 20.0 + 1e-6:
        raise InputError(
            "wavelengths are too far apart", found=f"{steps.max():g} nm", expected="20 nm or less"
        )
    if grid[0] > 430 or grid[-1] < 650:
        raise InputError(
            "spectra miss too much of the visible range",
            found=f"{grid[0]:g} to {grid[-1]:g} nm",
            expected="430 to 650 nm or more",
        )
    keep = np.flatnonzero((grid >= FINE_NM[0] - 1e-9) & (grid <= FINE_NM[-1] + 1e-9))
    inside = grid[keep]
    below = inside[0] - steps[0] * np.arange(int((inside[0] - FINE_NM[0]) / steps[0] + 1e-9), 0, -1)
    above = inside[-1] + steps[-1] * np.arange(1, int((FINE_NM[-1] - inside[-1]) / steps[-1] + 1e-9) + 1)
    full = lagrange_matrix(np.concatenate([below, inside, above]), FINE_NM).T @ _light_times_observer(
        key, observer
    )
    folded = full[below.size : below.size + inside.size].copy()
    folded[0] += full[: below.size].sum(axis=0)
    folded[-1] += full[below.size + inside.size :].sum(axis=0)
    weights = np.zeros((grid.size, 3))
    weights[keep] = folded
    weights.setflags(write=False)
    return weights


def lagrange_matrix(nodes_nm: FloatArray, points_nm: FloatArray) -> FloatArray:
    """Return the matrix that interpolates values at nodes to points by local Lagrange polynomials.

    Parameters
    ----------
    nodes_nm : ndarray, shape (n,)
        Rising nodes, evenly spaced or not. [nm]
    points_nm : ndarray, shape (m,)
        Where values are wanted; beyond the ends the end value is held. [nm]

    Returns
    -------
    ndarray, shape (m, n)
        Rows sum to one.

    References
    ----------
    ASTM E2022: cubic over the four nodes around an interval, quadratic in the first and last interval.

    Examples
    --------
    >>> lagrange_matrix(np.arange(0.0, 50.0, 10.0), np.array([15.0])).tolist()
    [[-0.0625, 0.5625, 0.5625, -0.0625, 0.0]]
    """
    n = nodes_nm.size
    points = np.clip(points_nm, nodes_nm[0], nodes_nm[-1])
    interval = np.clip(np.searchsorted(nodes_nm, points, side="right") - 1, 0, n - 2)
    first = np.maximum(interval - 1, 0)
    last = np.minimum(interval + 2, n - 1)
    matrix = np.zeros((points.size, n))
    for row, (x, a, b) in enumerate(zip(points, first, last, strict=True)):
        local = nodes_nm[a : b + 1]
        gaps = local[:, None] - local[None, :] + np.eye(local.size)
        factors = (x - local)[None, :] / gaps
        np.fill_diagonal(factors, 1.0)
        matrix[row, a : b + 1] = factors.prod(axis=1)
    return matrix
