"""How far two inks of a recipe are from any printed patch, whatever else was printed with them.

What two inks do together is learnt from patches that hold both. A process over all inks knows how
far a recipe is from the readings, not that no reading says anything about one of its pairs.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_BARE = 1e-3


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
