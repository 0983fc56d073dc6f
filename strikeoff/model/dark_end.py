"""The darkest neutral, which recipes lead to.

Of many inks several families of recipes make greys, and the one that goes darkest is seldom the one of
the greys above. Recipes that learn of it at the last step jump there, or stop short of black; so the
field is drawn to it before. Of up to four inks there is one family, but under nearly full black the others
hardly show: how much of them the last grey needs, recipes would learn within a tenth of an L* too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.descent import descend
from strikeoff.model.limits import InkLimits
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

# Greys tried from dark to light until one is met, and once more, closer together, about that one. [L*]
_STEP, _FINE_STEP = 2.0, 0.25
# Seeds that each starts from, steps, and what an ink weighs against colour.
_STARTS, _ROUNDS, _INK_WEIGHT = 32, 40, 0.02
# By how much greys that are met are missed at most. [CIEDE2000]
_MET = 0.1
# Recipes for greys up to so much lighter than the darkest are compared. [L*]
_LIGHTER = 1.5
# Colours beside a grey: off it in L*, a* and b*. How far those that are led from its recipe are missed says
# whether it stands alone; steps of that way, and what an ink weighs on it.
_BESIDE = (
    (0.0, 1.5, 0.0),
    (0.0, -1.5, 0.0),
    (0.0, 0.0, 1.5),
    (0.0, 0.0, -1.5),
    (1.5, 0.0, 0.0),
    (3.0, 0.0, 0.0),
)
_BESIDE_ROUNDS, _BESIDE_WEIGHT = 12, 0.05
# What a mean miss of colours beside it is worth, in L* for a CIEDE2000, and a squared distance of inks from
# the mean of recipes for a grey so much lighter.
_MISS_PRICE, _INK_PRICE, _ABOVE = 3.0, 0.3, 15.0
# Greys of few inks that are looked through for the darkest one that is met, how far below it others are asked
# for, and what a colour off grey counts, in L*, where the darkest of those is chosen. [L*]
_LOOKED, _BELOW, _OFF_PRICE = 60.0, np.array([0.5, 1.0, 2.0, 4.0, 8.0]), 0.5


@dataclass(frozen=True)
class DarkEnd:
    """The darkest neutral.

    Attributes
    ----------
    inks : ndarray, shape (n_inks,)
        A recipe that makes it.
    lab : ndarray, shape (3,)
        Its colour.
    """

    inks: FloatArray
    lab: FloatArray


def find_dark_end(
    model: InksToLab, limits: InkLimits, seeds: FloatArray, seed_lab: FloatArray
) -> DarkEnd | None:
    """Return the darkest neutral of the cloth that legal recipes make; none where they make no grey.

    Parameters
    ----------
    model : InksToLab
        Forward model.
    limits : InkLimits
        Kept.
    seeds, seed_lab : ndarray, shape (n, n_inks), shape (n, 3)
        Legal recipes to start from, and their Lab.

    Notes
    -----
    What a darker black is worth beside colours that are missed near it was chosen on simulated presses of six
    to eight inks; no source.
    """
    cloth, near = model.lab(np.zeros((1, seeds.shape[1])))[0], cKDTree(seed_lab)

    def recipes(lightness: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return recipes for greys, shape (m, starts, n_inks), and which meet them."""
        goal = np.repeat(_neutrals(cloth, lightness), _STARTS, axis=0)
        starts = seeds[near.query(goal[::_STARTS], range(1, _STARTS + 1), workers=1)[1].ravel()]
        wishes = np.full(seeds.shape[1], _INK_WEIGHT)
        inks = descend(model, limits, goal, starts, wishes, np.zeros_like(starts), _ROUNDS)
        met = delta_e_2000(goal, model.lab(inks)) < _MET
        return inks.reshape(len(lightness), _STARTS, -1), met.reshape(len(lightness), _STARTS)

    for first in np.arange(max(float(seed_lab[:, 0].min()), 0.0), cloth[0], _STEP):
        if recipes(np.array([first]))[1].any():
            break
    else:
        return None
    fine = np.arange(first - _STEP + _FINE_STEP, first + _LIGHTER, _FINE_STEP)
    inks, met = recipes(fine)
    if not met.any():
        return None
    lightness = np.repeat(fine[:, None], _STARTS, axis=1)
    darkest = float(lightness[met].min())
    met &= lightness <= darkest + _LIGHTER
    inks, lightness = inks[met], lightness[met]
    above, found = recipes(np.array([darkest + _ABOVE]))
    centre = above[found].mean(axis=0) if found.any() else inks.mean(axis=0)
    price = lightness - darkest + _INK_PRICE * ((inks - centre) ** 2).sum(axis=1)
    price += _MISS_PRICE * _missed_beside(model, limits, _neutrals(cloth, lightness), inks)
    return dark_end(model, inks[price.argmin()])


def end_of_few(
    solved: Callable[[FloatArray], tuple[FloatArray, FloatArray, FloatArray]],
    neutrals: Callable[[FloatArray], FloatArray],
    darkest: float,
) -> tuple[FloatArray, FloatArray] | None:
    """Return the recipe that few inks end at below their darkest grey, and its Lab; none where there is none.

    Parameters
    ----------
    solved : callable
        Colours, shape (m, 3), to recipes, shape (m, n_inks), their Lab and by how much they miss. [CIEDE2000]
    neutrals : callable
        Lightness, shape (m,), to greys, shape (m, 3).
    darkest : float
        Of all recipes. [L*]

    Notes
    -----
    What lies below the last grey tells which of the recipes that are nearly as dark greys run into.
    """
    first = solved(neutrals(np.arange(max(darkest - 2.0, 0.5), _LOOKED, _FINE_STEP)))
    met = np.flatnonzero(first[2] < _MET)
    if not len(met):
        return None
    inks, lab, _ = solved(neutrals(np.maximum(first[1][met[0], 0] - _BELOW, 0.0)))
    off = np.linalg.norm(lab - neutrals(lab[:, 0]), axis=1)
    best = int((lab[:, 0] + _OFF_PRICE * off).argmin())
    return inks[best], lab[best]


def _missed_beside(model: InksToLab, limits: InkLimits, lab: FloatArray, inks: FloatArray) -> FloatArray:
    """Return by how much colours beside greys are missed from their recipes, in the mean, shape (m,)."""
    goal = (lab + np.array(_BESIDE)[:, None]).reshape(-1, 3)
    start = np.tile(inks, (len(_BESIDE), 1))
    wishes = np.full(inks.shape[1], _BESIDE_WEIGHT)
    reached = model.lab(descend(model, limits, goal, start, wishes, start, _BESIDE_ROUNDS))
    return np.asarray(delta_e_2000(goal, reached).reshape(len(_BESIDE), -1).mean(axis=0))


def dark_end(model: InksToLab, inks: FloatArray) -> DarkEnd:
    """Return a recipe, shape (n_inks,), and its colour."""
    return DarkEnd(inks, model.lab(inks[None])[0])


def _neutrals(cloth: FloatArray, lightness: FloatArray) -> FloatArray:
    """Return the greys of a cloth, shape (m, 3): a* and b* fade as its light does."""
    share = (lightness + 16.0) / (cloth[0] + 16.0)
    return np.column_stack([lightness, share * cloth[1], share * cloth[2]])
