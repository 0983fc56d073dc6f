"""Inks in company that no printed patch kept: pairs of them, and more of them at a time.

What two inks do together is learnt from patches that hold both. A process over all inks knows how
far a recipe is from the readings, not that no reading says anything about one of its pairs, nor that
ten small amounts together do more to each other than four have shown.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_BARE = 1e-3
# An ink of this amount counts whole; the most that a usual patch of the chart holds is this quantile.
_WHOLE, _USUAL = 0.02, 0.95


def pair_distance(inks: FloatArray, printed: FloatArray) -> FloatArray:
    """Return the largest distance of a pair of inks to the nearest printed pair, shape (m,).

    Parameters
    ----------
    inks : ndarray, shape (m, n_inks)
        Recipes. [-]
    printed : ndarray, shape (n, n_inks)
        Recipes with readings. [-]

    Examples
    --------
    >>> printed = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [1.0, 0.0, 1.0]])
    >>> asked = np.array([[1.0, 0.4, 0.0], [0.9, 0.0, 1.0], [0.5, 0.0, 0.0]])
    >>> pair_distance(asked, printed).round(3).tolist()
    [0.4, 0.1, 0.0]
    """
    from scipy.spatial import KDTree

    farthest = np.zeros(len(inks))
    for pair in combinations(range(inks.shape[1]), 2):
        amounts = inks[:, pair]
        rows = np.flatnonzero(amounts.min(axis=1) > _BARE)
        if len(rows):
            gap, _ = KDTree(printed[:, pair]).query(amounts[rows])
            farthest[rows] = np.maximum(farthest[rows], gap)
    return farthest


def inks_beyond(inks: FloatArray, printed: FloatArray) -> FloatArray:
    """Return how many inks more a recipe holds than 95 % of the printed ones, shape (m,).

    Parameters
    ----------
    inks : ndarray, shape (m, n_inks)
        Recipes; an ink below 2 % counts in part. [-]
    printed : ndarray, shape (n, n_inks)
        Recipes with readings. [-]

    Examples
    --------
    >>> inks_beyond(np.array([[0.5, 0.5, 0.01], [0.9, 0.0, 0.0]]), np.eye(3)).tolist()
    [1.5, 0.0]
    """
    usual = np.quantile(_number(printed), _USUAL)
    return np.asarray(np.maximum(_number(inks) - usual, 0.0))


def _number(inks: FloatArray) -> FloatArray:
    return np.asarray(np.clip(inks / _WHOLE, 0.0, 1.0).sum(axis=1))
