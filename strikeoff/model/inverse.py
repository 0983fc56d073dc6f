"""Colour to inks: the closest legal colour first, then the black policy, then least ink.

Every colour starts from a field of recipes that holds the policy and changes no faster than the
colours demand; from there the shortest way leads to the colour itself, so that neighbours in colour
stay neighbours in ink, inside the gamut, across its edge and outside.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.one_thread import one_thread
from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.beyond import best_beyond, held_way, let_go, with_weak_inks
from strikeoff.model.black import BlackCurve, BlackPolicy, black_curve, black_greys, find_black
from strikeoff.model.condensed import condense
from strikeoff.model.dark_end import dark_end, end_of_few, find_dark_end
from strikeoff.model.descent import descend
from strikeoff.model.least_black import with_least
from strikeoff.model.limits import FULL, InkLimits, pairs_never_printed
from strikeoff.model.node_solving import solve_nodes
from strikeoff.model.node_wishes import node_wishes
from strikeoff.model.recipe_field import RecipeField
from strikeoff.model.solved_nodes import SolvedNodes, whole_codes
from strikeoff.model.table import InksToLab, TabulatedModel, tabulate, with_table
from strikeoff.model.ways import (
    CLOSE_DAMPING,
    SECOND_ROUNDS,
    Inverse,
    aims_for,
    alike,
    approach,
    closest,
    field_wishes,
    has_many,
    table_wishes,
)

FloatArray = NDArray[np.float64]

IN_GAMUT_DE00 = 0.25

_SEEDS = 6000
# Colours at a time: the exact model of twelve inks weighs 4,096 overprints for each, 32 kB.
_BATCH = 8192
# The same of colours that try many starts.
_TRIES = 512
_NEAR_MISS, _MUCH_CLOSER = (0.05, 3.0), 0.7
# Colours of many inks missed by more than the one, when all else is done, are sought on the model alone;
# those missed by less than the other may have ended too early.
_STILL_MISSED, _LATE = 0.2, 5.0
# Seeds that near misses start from within so many L* of the darkest one and so much chroma.
_DARK_STARTS, _DARK_L, _DARK_CHROMA = 16, 15.0, 20.0
# Colours within so many L* of the lightest seed are pale.
_PALE_L = 15.0
_QUICK_ROUNDS = 80
# The same for colours beyond the gamut of many inks. The edge has corners where the inks that share the
# total change; there a recipe between two corners, a little inside, keeps neighbours alike.
_BEYOND_WEIGHT = 25.0
# The same, at most, for each CIEDE2000 that the way held to the field misses a colour by.
_HELD_WEIGHT = 12.0
# What an ink's distance from the field weighs beyond the gamut of few inks, for each CIEDE2000 beyond:
# the farther a colour is, the more it would make of dents of the edge.
_OUTSIDE_WEIGHT = 2.0
# Mixtures of two corners among the seeds of many inks, and seeds that each node of the field tries.
_EDGES, _TRIED = 4000, 6
# Lab of two decimals still names a pure ink.
_PURE_LAB = 0.006


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


@one_thread
def make_inverse(
    exact: InksToLab,
    names: tuple[str, ...],
    limits: InkLimits,
    policy: BlackPolicy,
    quick: TabulatedModel | None = None,
    *,
    printed: FloatArray | None = None,
    nodes: SolvedNodes | None = None,
) -> Inverse:
    """Prepare an inverse: tabulate the model, find the black ink, lay out the seeds.

    Inks whose limit is 0 are used by no solution; ``quick`` is a table of the others. No solution holds
    more black than the policy's maximum, but for pure black. Where there are so many inks that colours
    have several recipes, none mixes two inks that no ``printed`` recipe, shape (n, n_inks), holds together.
    ``nodes`` are those of an earlier inverse of the same model, limits and policy, which take long to solve.
    """
    used = limits.per_ink > 0
    if has_many(limits) and printed is not None:
        limits = replace(limits, apart=pairs_never_printed(printed, used))
    few = [int(k) for k in np.flatnonzero(used)]
    table = tabulate(exact, few) if quick is None else with_table(quick, exact, few)
    black = find_black(names, table, used)
    limit = float(limits.per_ink[black]) if black is not None else 0.0
    curve = None if black is None else black_curve(table, black, limit)
    pure = np.vstack([np.zeros(exact.n_inks), np.diag(limits.per_ink)])
    alone = limits.legal(pure) & np.append(True, used)
    if black is not None and not policy.pure_black:
        alone[black + 1] = False
    pure = pure[alone]
    pure_lab = exact.lab(pure)
    if black is not None:
        limits = limits.with_most(black, policy.maximum)
    seeds, tried = limits.random(_SEEDS, np.random.default_rng(7)), 1
    if has_many(limits):
        seeds, tried = limits.parted(np.vstack([seeds, _edges(limits)])), _TRIED
    guide = condense(table, limits)
    seed_lab = guide.lab(seeds)
    if black is not None and curve is not None:
        curve = with_least(curve, policy, guide, limits, black, seeds)
    wanted = (exact.n_inks, policy, black, curve)
    end = None
    if has_many(limits) and (nodes is None or nodes.dark_end is None):
        end = find_dark_end(table, limits, seeds, seed_lab)
    if nodes is None:
        nodes = solve_nodes(guide, limits, seeds, seed_lab, tried, pure[pure.any(axis=1)], end, wanted)
    if nodes.dark_end:
        end = dark_end(table, np.array(nodes.dark_end) / FULL)
    aims = node_wishes(nodes.low, nodes.spacing, nodes.shape, *wanted).aims.reshape(nodes.codes.shape)
    field = RecipeField(nodes.low, nodes.spacing, nodes.inks, aims)
    made = Inverse(
        exact, table, limits, policy, black, curve, seeds, seed_lab, guide, field, pure, pure_lab, end
    )
    return made if made.many or end is not None or curve is None else _led_to_black(made, curve)


def _led_to_black(inverse: Inverse, curve: BlackCurve) -> Inverse:
    """Return an inverse of few inks whose recipes lead to the darkest grey."""

    def solved(lab: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        found = solve(inverse, lab, exact=False)
        return found.inks, found.lab, found.de00

    def neutrals(lightness: FloatArray) -> FloatArray:
        return np.column_stack([lightness, black_greys(inverse.policy, curve, lightness)])

    found = end_of_few(solved, neutrals, float(inverse.seed_lab[:, 0].min()))
    if found is None:
        return inverse
    return replace(inverse, dark_end=dark_end(inverse.quick, whole_codes(found[0]) / FULL))


@one_thread
def solve(
    inverse: Inverse,
    lab: FloatArray,
    *,
    exact: bool = True,
    beyond: FloatArray | None = None,
    free: FloatArray | None = None,
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
    beyond : ndarray, shape (m,), optional
        0-1: how far each colour was beyond the gamut before it was moved to its edge.
    free : ndarray, shape (m,), optional
        0-1: how much recipes of many inks, not finished on the exact model, may be let go by the field; fully
        by default, and not where colours are known to lie beyond the gamut, which saves much time.
    step : callable
        Told the fraction done; may raise to cancel.

    Returns
    -------
    Recipes
    """
    lab = np.asarray(lab, dtype=np.float64)
    model = inverse.exact if exact else inverse.quick
    wishes = field_wishes(inverse, len(lab))
    loose = wishes.copy()
    far, aimed = np.zeros(len(lab)), lab.copy()
    out, reached = np.empty((len(lab), inverse.n_inks)), np.empty((len(lab), 3))
    share = 0.5 if exact and inverse.many else 1.0
    for begin in range(0, len(lab), _BATCH):
        step(share * begin / max(len(lab), 1))
        rows = slice(begin, begin + _BATCH)
        start, aims = aims_for(inverse, lab[rows])
        if inverse.many:
            if not exact:
                wishes[rows] = loose[rows] = table_wishes(inverse, lab[rows], start)
            start, far[rows], firm = held_way(inverse, lab[rows], start, aims)
            told = 0.0 if beyond is None else _BEYOND_WEIGHT * beyond[rows]
            held = np.minimum(_HELD_WEIGHT * far[rows], _BEYOND_WEIGHT)
            wishes[rows] += np.maximum(held, told)[:, None] * firm
        out[rows] = approach(inverse, model, lab[rows], start, aims, wishes[rows], _QUICK_ROUNDS)
        if inverse.many:
            way = (out[rows], wishes[rows], aims, firm)
            out[rows], reached[rows] = with_weak_inks(inverse, model, lab[rows], *way)
            if not exact:
                may = np.ones(len(aims)) if free is None else free[rows]
                found = (out[rows].copy(), reached[rows], loose[rows], aims, may)
                out[rows], reached[rows], aimed[rows] = let_go(inverse, model, lab[rows], *found)
                went = begin + np.flatnonzero((out[rows] != found[0]).any(axis=1))
                wishes[went] = loose[went]
        else:
            reached[rows] = model.lab(out[rows])
    error = delta_e_2000(lab, reached)
    outside = np.flatnonzero(error > IN_GAMUT_DE00)
    if len(outside) and not inverse.many:
        wishes[outside] += _OUTSIDE_WEIGHT * (error[outside, None] - IN_GAMUT_DE00)
        goal = (out[outside], lab[outside], wishes[outside])
        out[outside], reached[outside] = best_beyond(inverse, model, *goal)
        error[outside] = delta_e_2000(lab[outside], reached[outside])
    if inverse.many:
        # Where tones rise steeply from the cloth, or the guide is rough, so few steps do not arrive.
        pale = lab[:, 0] > inverse.seed_lab[:, 0].max() - _PALE_L
        off = delta_e_2000(aimed, reached)
        late = np.flatnonzero((off > np.where(pale, _NEAR_MISS[0], IN_GAMUT_DE00)) & (error < _LATE))
        if len(late):
            _, aims = aims_for(inverse, lab[late])
            way = (aimed[late], out[late], wishes[late], aims)
            out[late] = descend(model, inverse.limits, *way, SECOND_ROUNDS, CLOSE_DAMPING)
            reached[late] = model.lab(out[late])
            error[late] = delta_e_2000(lab[late], reached[late])
    # A near miss may be a dent in the way down: once more from the closest seed, whatever its black.
    # In dark greys, where inks under black hardly show, there are many: from more seeds.
    darkest = inverse.seed_lab[:, 0].min()
    dark = (lab[:, 0] > darkest) & (lab[:, 0] < darkest + _DARK_L)
    dark &= np.hypot(lab[:, 1], lab[:, 2]) < _DARK_CHROMA
    for starts in () if inverse.many else (1, _DARK_STARTS):
        # Where the field holds little black, and the dark cannot do without, it misses by far.
        missed = (error < _NEAR_MISS[1]) if starts == 1 else dark
        near = np.flatnonzero(missed & (error > _NEAR_MISS[0]))
        if len(near):
            inks, second, second_error = closest(inverse, model, lab[near], starts)
            closer = second_error < _MUCH_CLOSER * error[near]
            taken = near[closer]
            out[taken], reached[taken], error[taken] = inks[closer], second[closer], second_error[closer]
    # Tables of many inks do without, whose neighbours are to be alike.
    missed = np.flatnonzero(exact & inverse.many & (error > _NEAR_MISS[0]))
    for begin in range(0, len(missed), _TRIES):
        near = missed[begin : begin + _TRIES]
        step(share + (1.0 - share) * begin / len(missed))
        out[near], reached[near], error[near] = alike(inverse, model, lab[near], out[near])
        near = near[(error[near] > _STILL_MISSED) & (error[near] < _NEAR_MISS[1])]
        out[near], reached[near], error[near] = alike(inverse, model, lab[near], out[near], straight=True)
    for recipe, colour in zip(inverse.pure, inverse.pure_lab, strict=True):
        own = np.abs(lab - colour).max(axis=1) < _PURE_LAB
        if own.any():
            out[own], reached[own] = recipe, model.lab(recipe[None])
            error[own] = delta_e_2000(lab[own], reached[own])
    return Recipes(out, reached, error)


def _edges(limits: InkLimits) -> FloatArray:
    """Return the corners of legal recipes and mixtures of two."""
    rng, corners = np.random.default_rng(11), limits.corners()
    first, second = rng.integers(0, len(corners), (2, _EDGES))
    share = rng.random((_EDGES, 1))
    return np.vstack([corners, share * corners[first] + (1.0 - share) * corners[second]])
