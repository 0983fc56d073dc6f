"""Colour to inks: the closest legal colour first, then the black policy, then least ink.

Every colour starts from a field of recipes that holds the policy and changes no faster than the
colours demand; from there the shortest way leads to the colour itself, so that neighbours in colour
stay neighbours in ink, inside the gamut, across its edge and outside.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.black import BlackCurve, BlackPolicy, black_curve, black_goal, find_black
from strikeoff.model.condensed import BorrowedSlopes, condense
from strikeoff.model.descent import descend
from strikeoff.model.limits import InkLimits
from strikeoff.model.recipe_field import RecipeField, grid_colours, relax
from strikeoff.model.table import InksToLab, TabulatedModel, tabulate, with_table

FloatArray = NDArray[np.float64]

IN_GAMUT_DE00 = 0.25

_SEEDS = 6000
_BLACK_WEIGHT = 0.2
_NO_BLACK_WEIGHT = 5.0
_INK_WEIGHT = 0.02
_SEED_BLACK = 25.0
_BATCH = 65536
_NEAR_MISS, _MUCH_CLOSER = (0.05, 3.0), 0.7
# Seeds that near misses start from within so many L* of the darkest one and so much chroma.
_DARK_STARTS, _DARK_L, _DARK_CHROMA = 16, 15.0, 20.0
_QUICK_ROUNDS, _LAST_ROUNDS, _SECOND_ROUNDS, _BORROWED_ROUNDS = 80, 8, 40, 8
# What a recipe's distance from the field weighs against colour: little, but out of gamut it decides.
_FIELD_WEIGHT = 0.05
_CLOSE_DAMPING = 1e-3
# Lab of two decimals still names a pure ink.
_PURE_LAB = 0.006


@dataclass(frozen=True)
class Inverse:
    """All that is needed to turn colours into inks.

    Attributes
    ----------
    exact : InksToLab
        The forward model.
    quick : InksToLab
        The same, tabulated where that is possible.
    limits : InkLimits
        Ink limits, that of black at most the policy's maximum.
    policy : BlackPolicy
        Black policy.
    black : int or None
        Which ink is black.
    curve : BlackCurve or None
        Pure black by lightness.
    seeds, seed_lab : ndarray
        Legal recipes that solutions start from, and their Lab.
    guide : InksToLab
        What is evaluated on the way: ``quick``, or a rough copy of it for many inks.
    field : RecipeField
        Recipes that solutions start from.
    pure, pure_lab : ndarray
        Recipes that are given back exactly for their own colours, and those: bare cloth and solids,
        that of black only where the policy asks for pure black.
    """

    exact: InksToLab
    quick: InksToLab
    limits: InkLimits
    policy: BlackPolicy
    black: int | None
    curve: BlackCurve | None
    seeds: FloatArray
    seed_lab: FloatArray
    guide: InksToLab
    field: RecipeField
    pure: FloatArray
    pure_lab: FloatArray

    @property
    def n_inks(self) -> int:
        """Number of inks."""
        return self.exact.n_inks


@dataclass(frozen=True)
class Recipes:
    """Solutions.

    Attributes
    ----------
    inks : ndarray, shape (m, n_inks)
        Ink coverages. [-]
    lab : ndarray, shape (m, 3)
        Predicted Lab.
    de00 : ndarray, shape (m,)
        CIEDE2000 between target and prediction.
    """

    inks: FloatArray
    lab: FloatArray
    de00: FloatArray


def make_inverse(
    exact: InksToLab,
    names: tuple[str, ...],
    limits: InkLimits,
    policy: BlackPolicy,
    quick: TabulatedModel | None = None,
) -> Inverse:
    """Prepare an inverse: tabulate the model, find the black ink, lay out the seeds.

    Inks whose limit is 0 are used by no solution; ``quick`` is a table of the others. No solution holds
    more black than the policy's maximum, but for pure black.
    """
    used = limits.per_ink > 0
    few = [int(k) for k in np.flatnonzero(used)]
    table = tabulate(exact, few) if quick is None else with_table(quick, exact, few)
    black = find_black(names, table, used)
    limit = float(limits.per_ink[black]) if black is not None else 0.0
    curve = None if black is None else black_curve(table, black, limit)
    own = limits
    if black is not None:
        limits = limits.with_most(black, policy.maximum)
    seeds = limits.random(_SEEDS, np.random.default_rng(7))
    guide = condense(table, limits)
    seed_lab = guide.lab(seeds)
    low, spacing, shape = grid_colours(seed_lab, len(few))
    lab = low + spacing * np.indices(shape).reshape(3, -1).T
    wishes = np.full((len(lab), exact.n_inks), _INK_WEIGHT)
    aims = np.zeros_like(wishes)
    look, near = seed_lab, lab
    if black is not None and curve is not None:
        wishes[:, black] = np.where(lab[:, 0] < policy.start, _BLACK_WEIGHT, _NO_BLACK_WEIGHT)
        aims[:, black] = black_goal(policy, curve, lab)
        look = np.column_stack([seed_lab, _SEED_BLACK * seeds[:, black]])
        near = np.column_stack([lab, _SEED_BLACK * aims[:, black]])
    start = seeds[cKDTree(look).query(near, workers=1)[1]]
    grid = (*shape, exact.n_inks)
    field = relax(guide, limits, low, spacing, start.reshape(grid), wishes.reshape(grid), aims.reshape(grid))
    pure = np.vstack([np.zeros(exact.n_inks), np.diag(own.per_ink)])
    alone = own.legal(pure) & np.append(True, used)
    if black is not None and not policy.pure_black:
        alone[black + 1] = False
    pure = pure[alone]
    return Inverse(
        exact, table, limits, policy, black, curve, seeds, seed_lab, guide, field, pure, exact.lab(pure)
    )


def solve(
    inverse: Inverse,
    lab: FloatArray,
    *,
    exact: bool = True,
    step: Callable[[float], None] = lambda fraction: None,
) -> Recipes:
    """Find inks for colours.

    Parameters
    ----------
    inverse : Inverse
        From :func:`make_inverse`.
    lab : ndarray, shape (m, 3)
        Targets, absolute Lab under the model's light.
    exact : bool
        Finish on the exact model; otherwise the tabulated one decides.
    step : callable
        Told the fraction done; may raise to cancel.

    Returns
    -------
    Recipes
    """
    lab = np.asarray(lab, dtype=np.float64)
    model = inverse.exact if exact else inverse.quick
    rough = not exact and inverse.guide is not inverse.quick
    way = BorrowedSlopes(model, inverse.guide) if rough else model
    out = np.empty((len(lab), inverse.n_inks))
    for begin in range(0, len(lab), _BATCH):
        step(begin / max(len(lab), 1))
        rows = slice(begin, begin + _BATCH)
        aims = inverse.field.at(lab[rows])
        out[rows] = _approach(inverse, way, lab[rows], aims, aims, _QUICK_ROUNDS)
    reached = model.lab(out)
    error = delta_e_2000(lab, reached)
    # A near miss may be a dent in the way down: once more from the closest seed, whatever its black.
    # In dark greys, where inks under black hardly show, there are many: from more seeds.
    dark = lab[:, 0] < inverse.seed_lab[:, 0].min() + _DARK_L
    dark &= np.hypot(lab[:, 1], lab[:, 2]) < _DARK_CHROMA
    for starts in 1, _DARK_STARTS:
        # Where the field holds little black, and the dark cannot do without, it misses by far.
        missed = (error < _NEAR_MISS[1]) if starts == 1 else dark
        near = np.flatnonzero(missed & (error > _NEAR_MISS[0]))
        if len(near):
            inks, second, second_error = _closest(inverse, way, model, lab[near], starts)
            closer = second_error < _MUCH_CLOSER * error[near]
            taken = near[closer]
            out[taken], reached[taken], error[taken] = inks[closer], second[closer], second_error[closer]
    for recipe, colour in zip(inverse.pure, inverse.pure_lab, strict=True):
        own = np.abs(lab - colour).max(axis=1) < _PURE_LAB
        if own.any():
            out[own], reached[own] = recipe, model.lab(recipe[None])
            error[own] = delta_e_2000(lab[own], reached[own])
    return Recipes(out, reached, error)


def _closest(
    inverse: Inverse, way: InksToLab, model: InksToLab, lab: FloatArray, starts: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return recipes, their Lab and the errors of the best way from some of the closest seeds."""
    seeds = cKDTree(inverse.seed_lab).query(lab, k=range(1, starts + 1), workers=1)[1]
    wanted = np.repeat(lab, starts, axis=0)
    start = inverse.seeds[seeds.ravel()]
    inks = _approach(inverse, way, wanted, start, inverse.field.at(wanted), _SECOND_ROUNDS)
    reached = model.lab(inks)
    error = delta_e_2000(wanted, reached).reshape(len(lab), starts)
    best = np.arange(len(lab)) * starts + error.argmin(axis=1)
    return inks[best], reached[best], error.min(axis=1)


def _approach(
    inverse: Inverse, model: InksToLab, lab: FloatArray, start: FloatArray, aims: FloatArray, rounds: int
) -> FloatArray:
    wishes = np.full(inverse.n_inks, _FIELD_WEIGHT)
    inks = descend(inverse.guide, inverse.limits, lab, start, wishes, aims, rounds, _CLOSE_DAMPING)
    if model is inverse.guide:
        return inks
    last = _BORROWED_ROUNDS if isinstance(model, BorrowedSlopes) else _LAST_ROUNDS
    return descend(model, inverse.limits, lab, inks, wishes, aims, last, _CLOSE_DAMPING)
