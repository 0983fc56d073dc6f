"""Recipes to start from that hold a given amount of black already.

Black is often steep where coloured inks begin slowly. Seen from a recipe with another amount of black, the
way then leads through colours that are farther off, and ends there; with the amount held only the other
inks need to move.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from strikeoff.model.limits import InkLimits
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

# Mixtures of the other inks that are looked through, and steps of black between none and most.
_MIXTURES, _LEVELS = 1500, 50


def starts_with_black(
    model: InksToLab,
    limits: InkLimits,
    black: int,
    lab: FloatArray,
    amounts: FloatArray,
    seeds: FloatArray,
    count: int,
) -> FloatArray:
    """Return the closest of some mixtures to colours, all with the black that is wanted.

    Parameters
    ----------
    model : InksToLab
        Forward model, quick.
    limits : InkLimits
        Kept by all recipes.
    black : int
        Which ink is black.
    lab : ndarray, shape (m, 3)
        Colours.
    amounts : ndarray, shape (m,)
        Black of each, from 0 to its limit. Where the total forbids one, starts hold what it allows. [-]
    seeds : ndarray, shape (n, n_inks)
        Legal recipes, whose other inks are used.
    count : int
        How many starts each colour gets, 1 or more.

    Returns
    -------
    ndarray, shape (count, m, n_inks)
        Legal recipes, the closest first.
    """
    others = seeds[:: max(len(seeds) // _MIXTURES, 1)]
    # Where little fits beside so much black: black alone.
    others = np.vstack([np.zeros((count, model.n_inks)), others])
    most = float(limits.per_ink[black])
    # Rounded up, so that what is legal with the level is legal with the amount.
    levels = np.ceil(np.round(amounts / max(most, 1e-9) * _LEVELS, 6)).astype(int)
    out = np.empty((count, len(lab), model.n_inks))
    for level in np.unique(levels):
        rows = np.flatnonzero(levels == level)
        mixtures = others.copy()
        mixtures[:, black] = min(level / _LEVELS, 1.0) * most
        legal = limits.legal(mixtures)
        mixtures = mixtures[legal] if legal.any() else limits.pulled_in(mixtures[:count])
        near = cKDTree(model.lab(mixtures)).query(lab[rows], k=range(1, count + 1), workers=1)[1]
        out[:, rows] = mixtures[near].swapaxes(0, 1)
    out[..., black] = np.minimum(amounts, out[..., black])
    return out
