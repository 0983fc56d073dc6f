"""Patches that do not fit their neighbours in ink space."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.measurement.ink_surface import InkSurface
from strikeoff.measurement.neighbours import nearest_recipes, neighbour_doubts, neighbour_residuals

FloatArray = NDArray[np.float64]

#: A patch is an outlier above both: robust standard deviations and distance. [-], [CIELAB units]
ROBUST_Z = 6.0
DISTANCE = 5.0
_FEWEST = 40
# Recipes up to which one surface through all is fitted, and its limit in robust standard deviations.
_SURFACE_MOST = 600
_SURFACE_Z = 8.0
# How many times the surface's share of its limit counts where neighbours are over theirs, how many times
# theirs counts where the surface is over its own, and the share at which the surface alone is enough. [-]
_AGREES, _NEAR, _ALONE = 1.75, 2.0, 1.6
# Suspects of larger charts up to which a surface through the recipes nearest to them is asked.
_SUSPECTS_MOST = 60
# How many times the limits the bare cloth is allowed, which is known only by going on beyond all tints. [-]
_BARE = 1.6


def find_outliers(coverages: FloatArray, lab: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """Return the patches that do not fit what the others of their chart predict.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Distinct recipes, 0-1. [-]
    lab : ndarray, shape (n, 3)
        Their CIELAB.

    Returns
    -------
    rows : ndarray of int
        Outliers, worst first; empty below 40 recipes.
    distances : ndarray
        Their CIELAB distances.

    Notes
    -----
    Neighbours have two passes: the second judges the suspects by neighbours that are not suspect themselves,
    so that one bad patch does not accuse the good ones around it. Their limit grows with the doubt of the
    prediction beyond the median of the chart. At the end of a ramp, and where a chart has few patches,
    neighbours say little; so, in charts of up to 600 recipes, one surface through all patches has a say
    (`InkSurface`). A patch is named where one of the two is over its limit and the other agrees, or where the
    surface is far over its own. Larger charts have neighbours everywhere; there a surface through the 600
    recipes nearest to the suspects must agree: where a little black takes the glow of a fluorescent ink,
    colours bend more than neighbours can follow. How much each must agree was chosen on simulated charts and
    parts of a measured one; common practice, no source.
    """
    if len(coverages) < _FEWEST:
        return np.zeros(0, dtype=np.intp), np.zeros(0)
    # Of neighbours equally far some are taken: in one order of the recipes, whatever that of the rows.
    order = np.lexsort(coverages.T[::-1])
    rows, distances = _found(coverages[order], lab[order])
    return order[rows], distances


def find_misfits(lab: FloatArray, predicted: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """Return the rows that are farther from what a condition predicts than the others of their file.

    Parameters
    ----------
    lab, predicted : ndarray, shape (n, 3)
        CIELAB as read and as predicted.

    Returns
    -------
    rows : ndarray of int
        Worst first; empty where more than a quarter of the rows would be named, for then it is the press or
        the order that changed.
    distances : ndarray
        Their distances. [CIELAB units]
    """
    distances = np.sqrt(((lab - predicted) ** 2).sum(axis=1))
    rows = np.flatnonzero(distances > _limit(distances))
    if rows.size > len(lab) // 4:
        rows = rows[:0]
    rows = rows[np.argsort(-distances[rows], kind="stable")]
    return rows, distances[rows]


def _found(coverages: FloatArray, lab: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """Return outliers and their distances, worst first, of recipes in one order."""
    usable = np.ones(len(coverages), dtype=bool)
    residuals = neighbour_residuals(coverages, lab, usable)
    doubts = neighbour_doubts(coverages, usable)
    usual = max(float(np.median(doubts)), 1e-6)
    level = _limit(residuals)
    over = residuals / (level * np.maximum(1.0, doubts / usual))
    usable = over <= 1.0
    if np.count_nonzero(~usable) > len(coverages) // 4:
        over = np.zeros(len(coverages))
    elif not usable.all():
        again = neighbour_residuals(coverages, lab, usable)
        limit = level * np.maximum(1.0, neighbour_doubts(coverages, usable) / usual)
        over = np.where(usable, 0.0, np.minimum(over, again / limit))
        residuals = np.where(usable, residuals, again)
    if len(coverages) <= _SURFACE_MOST:
        return _agreed(coverages, lab, over, residuals / level)
    rows = np.flatnonzero(over > 1.0)
    if 0 < rows.size <= _SUSPECTS_MOST:
        near = nearest_recipes(coverages, rows, _SURFACE_MOST)
        found, _ = _agreed(coverages[near], lab[near], over[near], residuals[near] / level, over[near] > 1.0)
        rows = near[found]
    rows = rows[np.argsort(-residuals[rows], kind="stable")]
    return rows, residuals[rows]


def _agreed(
    coverages: FloatArray,
    lab: FloatArray,
    over: FloatArray,
    plain: FloatArray,
    judged: NDArray[np.bool_] | None = None,
) -> tuple[NDArray[np.intp], FloatArray]:
    """Return outliers that neighbours and the surface agree on, given the neighbours' shares of their limits.

    The worst is taken out before the others are judged; where some are ``judged``, only these are named.
    """
    surface = InkSurface(coverages, lab)
    bare = coverages.max(axis=1, initial=0.0) <= 0.0
    rows: list[int] = []
    distances: list[float] = []
    while len(rows) <= len(coverages) // 4:
        off, misfit = surface.misfits(_SURFACE_Z, DISTANCE)
        left = surface.left
        agreed = np.maximum.reduce(
            [
                np.minimum(misfit, _NEAR * plain[left]),
                np.minimum(over[left], _AGREES * misfit),
                misfit / _ALONE,
            ]
        )
        agreed[bare[left]] /= _BARE
        if judged is not None:
            agreed[~judged[left]] = 0.0
        worst = int(np.argmax(agreed))
        if agreed[worst] <= 1.0:
            order = np.argsort(-np.array(distances), kind="stable")
            return np.array(rows, dtype=np.intp)[order], np.array(distances)[order]
        rows.append(int(left[worst]))
        distances.append(float(off[worst]))
        surface.without(rows[-1])
    return np.zeros(0, dtype=np.intp), np.zeros(0)


def _limit(residuals: FloatArray) -> float:
    middle = float(np.median(residuals))
    spread = 1.4826 * float(np.median(np.abs(residuals - middle)))
    return max(DISTANCE, middle + ROBUST_Z * spread)
