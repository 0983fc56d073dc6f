"""The least black that greys can do with, rising early enough that it never jumps.

Where coloured inks meet their limits, the next darker grey may need much black at once: a little black
in place of much ink is lighter. So the least is not taken lightness by lightness. It is the lowest path
from the cloth to the darkest grey that stays on recipes within the limits and is nowhere too steep.

References
----------
J.-P. Aubin, "Viability Theory", Birkhaeuser 1991, for sets of states from which a path can go on.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from strikeoff.model.black import BlackCurve, BlackPolicy, black_greys
from strikeoff.model.black_starts import starts_with_black
from strikeoff.model.descent import colour_weights, descend
from strikeoff.model.limits import InkLimits
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_AMOUNTS = 51
# What black's distance from its amount weighs: far more than colour does where black is steepest; and how far
# off it may end, which only a total that forbids the amount brings about.
_HELD, _HELD_WITHIN = 1e7, 0.01
_INK_WEIGHT, _ROUNDS = 1e-4, 25
# How far from a grey counts as on it, and from where other ways are tried. [CIEDE2000, about]
_REACHED, _NEARLY = 0.3, 4.0
# Recipes that each amount is tried from.
_STARTS = 6
# Distance of greys, and how far the path is smoothed. [L*]
_SPACING, _SMOOTH = 1.5, 1.5
# Most black, of the most there may be, that comes in with one L*.
_STEEPEST = 0.04


def greys_with_black(
    model: InksToLab,
    limits: InkLimits,
    black: int,
    greys: FloatArray,
    amounts: FloatArray,
    seeds: FloatArray,
) -> BoolArray:
    """Say which greys, shape (m, 3), have a legal recipe with which amounts, shape (k,), of black."""
    lab, held = np.repeat(greys, len(amounts), axis=0), np.tile(amounts, len(greys))
    starts = starts_with_black(model, limits, black, lab, held, seeds, _STARTS)
    wishes = np.full(model.n_inks, _INK_WEIGHT)
    wishes[black] = _HELD
    aims = np.zeros_like(starts[0])
    aims[:, black] = held
    missed, left = np.full(len(lab), np.inf), np.arange(len(lab))
    for start in starts:
        found = descend(model, limits, lab[left], start[left], wishes, aims[left], _ROUNDS)
        off = np.einsum("mij,mj->mi", colour_weights(lab[left]), model.lab(found) - lab[left])
        away = np.sqrt((off**2).sum(axis=1))
        away[np.abs(found[:, black] - held[left]) > _HELD_WITHIN] = np.inf
        missed[left] = np.minimum(missed[left], away)
        left = np.flatnonzero((missed > _REACHED) & (missed <= _NEARLY))
    return np.asarray((missed <= _REACHED).reshape(len(greys), len(amounts)))


def least_path(possible: BoolArray, most_steps: int) -> NDArray[np.intp]:
    """Return the lowest path through what is possible, shape (m, k), as an index of each row, shape (m,).

    Rows go from light to dark; a path changes by at most ``most_steps`` from row to row and never falls.
    Rows where nothing is possible hinder none, those after the last possible one stay as that. Where only a
    steeper path would do, it leads through what is not possible, as short as can be.

    Examples
    --------
    >>> two = np.array([[1, 0, 0, 0], [1, 1, 0, 0], [1, 0, 1, 0], [1, 0, 0, 1], [0, 0, 0, 1]], dtype=bool)
    >>> least_path(two, 1).tolist()
    [0, 1, 2, 3, 3]
    """
    rows = len(possible)
    some = np.flatnonzero(possible.any(axis=1))
    last = int(some[-1]) if len(some) else 0
    viable = np.ones_like(possible)
    viable[last] = possible[last] if len(some) else True
    for row in range(last - 1, -1, -1):
        near = maximum_filter1d(viable[row + 1].astype(np.uint8), 2 * most_steps + 1, mode="constant") > 0
        both = near & possible[row]
        viable[row] = both if both.any() else near
    path = np.zeros(rows, dtype=np.intp)
    at = int(np.argmax(viable[0]))
    for row in range(rows):
        if row <= last:
            higher = np.flatnonzero(viable[row][at:])
            at = at + int(higher[0]) if len(higher) else int(np.flatnonzero(viable[row])[-1])
        path[row] = at
    return path


def with_least(
    curve: BlackCurve,
    policy: BlackPolicy,
    model: InksToLab,
    limits: InkLimits,
    black: int,
    seeds: FloatArray,
) -> BlackCurve:
    """Return a curve of black that knows the least black of greys under limits.

    Parameters
    ----------
    curve : BlackCurve
        Pure black by lightness.
    policy : BlackPolicy
        Says what is grey.
    model : InksToLab
        Forward model, quick.
    limits : InkLimits
        Kept by all recipes.
    black : int
        Which ink is black.
    seeds : ndarray, shape (n, n_inks)
        Legal recipes to start from.
    """
    lightness = np.arange(float(curve.cloth_lab[0]), 0.0, -_SPACING)
    greys = np.column_stack([lightness, black_greys(policy, curve, lightness)])
    amounts = np.linspace(0.0, float(limits.per_ink[black]), _AMOUNTS)
    possible = greys_with_black(model, limits, black, greys, amounts, seeds)
    steps = max(round(_STEEPEST * _SPACING * (_AMOUNTS - 1)), 1)
    least = gaussian_filter1d(amounts[least_path(possible, steps)], _SMOOTH / _SPACING, mode="nearest")
    return replace(curve, least_lightness=lightness[::-1].copy(), least_ink=least[::-1].copy())
