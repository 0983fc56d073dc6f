"""Recipes of many inks along the tints of each ink alone.

The colour of a solid is made by other inks as well: of eight inks orange is yellow with pink too. On the
way from one to the other there may be no recipe of that colour, so that a ramp to the solid would jump where
it arrives. So the field is drawn to the tint along all its length, where no other tint is as close.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.descent import colour_weights
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

_AMOUNTS = 33
_NONE = 1e-9


def near_tints(
    model: InksToLab, solids: FloatArray, lab: FloatArray, reach: float
) -> tuple[FloatArray, FloatArray]:
    """Return how near colours are to a tint of one ink, and which tint that is.

    Parameters
    ----------
    model : InksToLab
        Forward model.
    solids : ndarray, shape (k, n_inks)
        Recipes of one ink each.
    lab : ndarray, shape (m, 3)
        Colours.
    reach : float
        Distance at which a tint has no say any more. [CIEDE2000, about]

    Returns
    -------
    share : ndarray, shape (m,)
        1 on a tint that is alone; 0 beyond the reach, between two tints and at the cloth, where all meet.
    tints : ndarray, shape (m, n_inks)
        The closest tint.
    """
    amounts = np.linspace(0.0, 1.0, _AMOUNTS)
    weigh = colour_weights(lab)
    first, second, tints = np.zeros(len(lab)), np.zeros(len(lab)), np.zeros((len(lab), solids.shape[1]))
    for solid in solids:
        ramp = amounts[:, None] * solid
        away = np.einsum("mij,mkj->mki", weigh, lab[:, None, :] - model.lab(ramp)[None])
        square = (away**2).sum(axis=2)
        at = square.argmin(axis=1)
        near = np.maximum(1.0 - square[np.arange(len(lab)), at] / reach**2, 0.0) ** 2
        closer = near > first
        second = np.where(closer, first, np.maximum(second, near))
        first = np.where(closer, near, first)
        tints[closer] = ramp[at[closer]]
    return first - second, tints


def near_solids(
    lab: FloatArray, solids: FloatArray, solid_lab: FloatArray, reach: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return how near colours are to the closest solids, and what those mix to.

    Parameters
    ----------
    lab : ndarray, shape (m, 3)
        Colours.
    solids, solid_lab : ndarray, shape (k, n_inks), shape (k, 3)
        Recipes of solids and their Lab.
    reach : ndarray, shape (k,)
        Distance at which each solid has no say any more. [CIEDE2000, about]

    Returns
    -------
    share : ndarray, shape (m,)
        1 at a solid, 0 beyond the reach of all.
    recipes : ndarray, shape (m, n_inks)
        The solid itself at its own colour, a mean of solids where several are near; 0 where none is.

    Examples
    --------
    >>> solid_lab = np.array([[50.0, 60.0, 0.0], [50.0, -60.0, 0.0]])
    >>> asked = np.array([[50.0, 60.0, 0.0], [80.0, 0.0, 0.0]])
    >>> share, recipes = near_solids(asked, np.eye(2), solid_lab, np.full(2, 8.0))
    >>> share.round(3).tolist(), recipes.round(3).tolist()
    ([1.0, 0.0], [[1.0, 0.0], [0.0, 0.0]])
    """
    total, pulls, share = np.zeros((len(lab), solids.shape[1])), np.zeros(len(lab)), np.zeros(len(lab))
    for recipe, weigh, colour, end in zip(solids, colour_weights(solid_lab), solid_lab, reach, strict=True):
        away = (((lab - colour) @ weigh.T) ** 2).sum(axis=1) / end**2
        near = np.maximum(1.0 - away, 0.0) ** 2
        pull = near / np.maximum(1.0 - near, _NONE)
        total, pulls, share = total + pull[:, None] * recipe, pulls + pull, np.maximum(share, near)
    return share, total / np.maximum(pulls, _NONE)[:, None]
