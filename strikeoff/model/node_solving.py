"""The nodes of the field of recipes: a grid around all colours that legal recipes make, refined near them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from strikeoff.model.black import BlackCurve, BlackPolicy
from strikeoff.model.black_starts import starts_with_black
from strikeoff.model.dark_end import DarkEnd
from strikeoff.model.limits import InkLimits
from strikeoff.model.node_wishes import NodeWishes, drawn_to_black, drawn_to_tints, node_wishes
from strikeoff.model.recipe_field import FEW_INKS, finer, grid_colours, refine, relax
from strikeoff.model.solved_nodes import SolvedNodes, solved_nodes
from strikeoff.model.table import InksToLab
from strikeoff.model.ways import has_many, spare_inks

FloatArray = NDArray[np.float64]

# What a unit of any ink but black costs in the field, times the square of how many inks there are beyond
# four: of seven as much as 0.7 CIEDE2000, of twelve as 1.8. Charts' patches hold few inks, and what was
# printed so is known best; but recipes of few inks follow every bend of a model of few readings.
_PRICE = 0.05
_SEED_BLACK = 25.0
# How near to a seed, in Lab, nodes of the field of many inks are refined, and those of few.
_REFINED_WITHIN, _FEW_REFINED_WITHIN = 14.0, 8.0


def solve_nodes(
    guide: InksToLab,
    limits: InkLimits,
    seeds: FloatArray,
    seed_lab: FloatArray,
    tried: int,
    solids: FloatArray,
    end: DarkEnd | None,
    wanted: tuple[int, BlackPolicy, int | None, BlackCurve | None],
) -> SolvedNodes:
    """Return the solved nodes of a field.

    Parameters
    ----------
    guide : InksToLab
        Forward model, quick.
    limits : InkLimits
        Kept at every node.
    seeds, seed_lab : ndarray, shape (n, n_inks), shape (n, 3)
        Legal recipes to start from, and their Lab.
    tried : int
        How many of them each node of many inks starts from.
    solids : ndarray, shape (k, n_inks)
        Recipes of one ink each.
    end : DarkEnd or None
        Darkest neutral, which many inks are drawn to.
    wanted : tuple
        How many inks there are, the black policy, which ink is black, and its curve.
    """
    n_inks, _, black, _ = wanted
    low, spacing, shape = grid_colours(seed_lab, int((limits.per_ink > 0).sum()))
    wishes = node_wishes(low, spacing, shape, *wanted)
    look, near = seed_lab, wishes.lab
    if black is not None:
        look = np.column_stack([seed_lab, _SEED_BLACK * seeds[:, black]])
        near = np.column_stack([near, _SEED_BLACK * wishes.aims[:, black]])
    ranks = range(1, tried + 1)
    close = [seeds[i] for i in cKDTree(look).query(near, k=ranks, workers=1)[1].T]
    if not has_many(limits):
        held: list[FloatArray] = []
        if black is not None:
            amounts = wishes.aims[:, black]
            held = list(starts_with_black(guide, limits, black, wishes.lab, amounts, seeds, 1))
        field = relax(guide, limits, low, spacing, wishes, close[0], held)
        if black is None or int((limits.per_ink > 0).sum()) < FEW_INKS:
            return solved_nodes(field)
        fine = node_wishes(low, spacing / 2.0, finer(shape), *wanted)
        active = _near_seeds(fine, seed_lab, _FEW_REFINED_WITHIN)
        return solved_nodes(refine(guide, limits, field, fine, active, np.zeros(n_inks)))
    close += [seeds[i] for i in cKDTree(seed_lab).query(wishes.lab, k=ranks, workers=1)[1].T]
    prices = np.full(n_inks, _PRICE * spare_inks(limits) ** 2)
    if black is not None:
        prices[black] = 0.0
    wishes = drawn_to_black(drawn_to_tints(wishes, guide, solids, spare_inks(limits)), end)
    close.append(np.where(wishes.pull > 0.0, wishes.tints, close[0]))
    field = relax(guide, limits, low, spacing, wishes, close[0], close[1:], prices)
    fine = node_wishes(low, spacing / 2.0, finer(shape), *wanted)
    fine = drawn_to_black(drawn_to_tints(fine, guide, solids, spare_inks(limits)), end)
    active = _near_seeds(fine, seed_lab, _REFINED_WITHIN)
    return solved_nodes(refine(guide, limits, field, fine, active, prices), end)


def _near_seeds(wishes: NodeWishes, seed_lab: FloatArray, within: float) -> NDArray[np.bool_]:
    """Return which nodes have a seed near, in Lab."""
    away = cKDTree(seed_lab).query(wishes.lab, distance_upper_bound=within, workers=1)[0]
    return np.asarray(away < np.inf)
