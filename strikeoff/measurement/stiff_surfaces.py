"""Colour over ink as surfaces too stiff to follow a strip of wrong readings."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from strikeoff.measurement.ink_surface import colours, logarithms

FloatArray = NDArray[np.float64]

_ROUNDS = 12
_RIDGE = 1e-3


def stiff_surfaces(coverages: FloatArray, lab: FloatArray, known: NDArray[np.bool_]) -> list[FloatArray]:
    """Return what two stiff surfaces say of each patch.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Ink of each row, 0-1. [-]
    lab : ndarray, shape (n, 3)
        CIELAB as read.
    known : ndarray of bool, shape (n,)
        Rows that have a reading of their own.

    Returns
    -------
    list of ndarray, shape (n, 3)
        CIELAB of a quadratic in the roots of ink, and of one in which single inks are cubic and their
        logarithms add up, as what inks filter does: it holds for many inks, where neighbours are far.

    References
    ----------
    S. Geman and D. E. McClure, Proc. Stat. Comp. Section, Amer. Stat. Assoc. (1985), 12-18, from memory:
    what lies far away has no say at all.
    """
    ink = np.clip(coverages, 0.0, None)
    roots = np.sqrt(ink)
    quadratic = _robust_fit(np.hstack([roots, ink, _pairs(roots)]), lab, known, np.asarray)
    adding = np.hstack([ink, ink**2, ink**3, _pairs(ink)])
    return [quadratic, _robust_fit(adding, logarithms(lab), known, colours)]


def _pairs(ink: FloatArray) -> FloatArray:
    """Return the products of two inks each, shape (n, n_pairs)."""
    one, other = np.triu_indices(ink.shape[1], 1)
    return np.asarray(ink[:, one] * ink[:, other])


def _robust_fit(
    terms: FloatArray,
    values: FloatArray,
    known: NDArray[np.bool_],
    to_lab: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    """Return the CIELAB of a fit of values by terms and a constant; rows count by how near they lie in it."""
    terms = np.column_stack([np.ones(len(terms)), terms])
    lab, weights = to_lab(values), known.astype(np.float64)
    ridge = _RIDGE * np.eye(terms.shape[1])
    surface = lab
    for _ in range(_ROUNDS):
        scaled = terms * weights[:, None]
        surface = to_lab(terms @ np.linalg.solve(terms.T @ scaled + ridge, scaled.T @ values))
        size = np.sqrt(((lab - surface) ** 2).sum(axis=1))
        scale = 2.0 * max(float(np.median(size[known])), 1.0)
        weights = known / (1.0 + (size / scale) ** 2) ** 2
    return np.asarray(surface, dtype=np.float64)
