"""Wavelengths that stand at each other's values: exchanged names or columns of a table of spectra."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.problems import Problem

FloatArray = NDArray[np.float64]

# Limits of this module are common practice, no source.
# Bands that are compared, and how far apart those may stand that somebody exchanged.
_FEWEST_BANDS = 8
_APART = 4
# Rows that tell enough.
_MOST_ROWS = 400
# Share of the bends of the spectra that goes when two bands change places, where they were exchanged.
_SMOOTHER = 0.5
# Most bends of spectra that run smoothly, root mean square, by the spread of their bands.
_SMOOTH = 0.5
# Difference of the two bands below which their order hardly matters. [reflectance]
_FLAT = 0.01


def exchanged_bands(spectra: ArrayLike) -> tuple[int, int] | None:
    """Return the two bands that stand at each other's place, by how much smoother spectra run without that.

    Parameters
    ----------
    spectra : array_like, shape (n, n_bands)
        Reflectance in order of wavelength. [-]

    Returns
    -------
    tuple of int or None
        None where the spectra run as smoothly as they can.

    Notes
    -----
    Spectra of dyes and pigments bend little from band to band: the second differences of two exchanged
    neighbours on a slope d are d, 3 d, 3 d and d, where there were none.

    Examples
    --------
    >>> slope = np.linspace(0.1, 0.8, 16) ** 2
    >>> exchanged_bands(slope[None, [0, 1, 2, 3, 4, 5, 7, 6, *range(8, 16)]]), exchanged_bands(slope[None])
    ((6, 7), None)
    """
    rows = np.asarray(spectra, dtype=np.float64)
    bands = rows.shape[1]
    if bands < _FEWEST_BANDS or not len(rows):
        return None
    rows = rows[:: max(1, len(rows) // _MOST_ROWS)]
    whole, pair = _bends(rows), None
    smooth = (_SMOOTH * rows.std(axis=1)) ** 2
    best = min(_SMOOTHER * whole, float(smooth.sum()) * (bands - 2))
    for first, second in (
        (k, k + step) for k in range(bands) for step in range(1, min(_APART + 1, bands - k))
    ):
        apart = rows[:, first] - rows[:, second]
        if float(np.sqrt((apart**2).mean())) < _FLAT:
            continue
        low, high = max(0, first - 2), min(bands, second + 3)
        order = np.arange(low, high)
        order[[first - low, second - low]] = second, first
        bends = whole - _bends(rows[:, low:high]) + _bends(rows[:, order])
        if bends < best:
            best, pair = bends, (first, second)
    return pair


def band_order_problems(
    spectra: ArrayLike, wavelengths_nm: Sequence[float], named_nm: Sequence[float]
) -> list[Problem]:
    """Return what is said of wavelengths whose columns are out of order, or whose values look exchanged.

    Parameters
    ----------
    spectra : array_like, shape (n, n_bands)
        Reflectance, in order of wavelength. [-]
    wavelengths_nm : sequence of float
        Wavelengths, rising. [nm]
    named_nm : sequence of float
        The same in the order in which columns name them. [nm]

    Returns
    -------
    list of Problem
        A note of columns out of order alone, an error where the spectra say that names are exchanged too, a
        warning where nothing but the spectra says it.
    """
    steps = np.sign(np.diff(np.asarray(named_nm, dtype=np.float64)))
    odd = np.flatnonzero(steps != (1.0 if steps.sum() >= 0 else -1.0))
    pair = exchanged_bands(spectra)
    if pair is None and not odd.size:
        return []
    names = f"{named_nm[odd[0]]:g} nm before {named_nm[odd[0] + 1]:g} nm" if odd.size else ""
    if pair is None:
        return [
            Problem(
                "note",
                "columns of spectra",
                "wavelengths are not in order; each column counts by its name",
                found=names,
            )
        ]
    places = " and ".join(f"{wavelengths_nm[band]:g} nm" for band in pair)
    return [
        Problem(
            "error" if odd.size else "warning",
            "columns of spectra",
            f"{places} seem to be exchanged: all spectra run much smoother with each at the other's place",
            found=f"columns named {names}" if odd.size else None,
            expected="wavelengths in order, each at its own values" if odd.size else None,
            advice="Correct the names of the columns, or export the spectra again",
        )
    ]


def _bends(rows: FloatArray) -> float:
    return float((np.diff(rows, n=2, axis=1) ** 2).sum())
