"""Wavelengths that are missing between others, and one that does not stand in their even steps."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.problems import Problem

FloatArray = NDArray[np.float64]

# Limits of this module are common practice, no source.
# Steps between wavelengths that are longer than this many times the usual one are a gap.
_GAP, _FEWEST_STEPS = 1.5, 4
# Wavelengths that make even steps beyond doubt, and how far each may stray, as a share of the step.
_FEWEST_EVEN, _STRAY = 8, 0.02
# A wavelength alone beyond the others, by so many steps or more, where one of them lacks, is that one.
_APART = 3


def grid_problems(wavelengths_nm: ArrayLike) -> list[Problem]:
    """Return what is wrong with the wavelengths of spectra.

    Parameters
    ----------
    wavelengths_nm : array_like, shape (n_bands,)
        Wavelengths, rising. [nm]

    Returns
    -------
    list of Problem
        An error where all but one stand in even steps, for that one is misnamed; a warning of gaps.

    Examples
    --------
    >>> [problem.found for problem in grid_problems([400, 410, 420, 430, 440, 455, 460, 470, 480])]
    ['455 nm']
    """
    waves = np.asarray(wavelengths_nm, dtype=np.float64)
    odd = misnamed_band(waves)
    if odd is not None:
        band, meant = odd
        step = float(np.median(np.diff(waves)))
        return [
            Problem(
                "error",
                "columns of spectra",
                "one wavelength does not stand in the even steps of all others",
                found=f"{waves[band]:g} nm",
                expected=f"steps of {step:g} nm"
                + ("" if meant is None else f", so {meant:g} nm in its place"),
                advice="Correct the name of the column, or export the spectra again",
            )
        ]
    return _gaps(waves)


def misnamed_band(waves: FloatArray) -> tuple[int, float | None] | None:
    """Return the one wavelength that does not stand in the even steps of all others, and what it stands for.

    Parameters
    ----------
    waves : ndarray, shape (n_bands,)
        Wavelengths, rising. [nm]

    Returns
    -------
    tuple of int and float, or None
        Place of the wavelength, and the one that lacks between the others, None where none does. None for
        wavelengths in even steps, with gaps or without, and for those that are uneven throughout.

    Examples
    --------
    >>> misnamed_band(np.array([400.0, 410, 415, 420, 430, 440, 450, 470, 480]))
    (2, 460.0)
    >>> misnamed_band(np.array([500.0, 510, 520, 530, 540, 560, 570, 580, 590, 600, 850]))
    (10, 550.0)
    >>> misnamed_band(np.array([400.0, 410, 420, 430, 440, 450, 470, 480, 490])) is None
    True
    """
    if len(waves) <= _FEWEST_EVEN:
        return None
    step = float(np.median(np.diff(waves)))
    for band in range(len(waves)):
        rest = np.delete(waves, band)
        places = (rest - rest[0]) / step
        whole = np.rint(places)
        missing = np.flatnonzero(np.diff(whole) > 1)
        uneven = np.abs(places - whole).max() > _STRAY
        if uneven or whole[-1] > len(rest) or missing.size > 1:
            continue
        own = (waves[band] - rest[0]) / step
        away = max(-own, own - whole[-1])
        if abs(own - round(own)) <= _STRAY and not (missing.size == 1 and away >= _APART):
            continue
        return band, float(rest[missing[0]] + step) if missing.size else None
    return None


def _gaps(waves: FloatArray) -> list[Problem]:
    """Return a warning where wavelengths are missing between others."""
    if len(waves) < _FEWEST_STEPS:
        return []
    steps = np.diff(waves)
    usual = float(np.median(steps))
    wide = np.flatnonzero(steps > _GAP * usual)
    if wide.size == 0:
        return []
    places = ", ".join(f"{waves[k]:g} to {waves[k + 1]:g} nm" for k in wide[:5])
    return [
        Problem(
            "warning",
            "file",
            "wavelengths are missing; what lies between is interpolated",
            found=f"nothing from {places}",
            expected=f"steps of {usual:g} nm",
            advice="Export the spectra with all wavelengths",
        )
    ]
