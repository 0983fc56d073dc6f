"""A field of recipes over Lab that changes no faster than the colours demand.

Each colour alone has many recipes, and where the gamut closes only one: recipes chosen one by one
run into that edge and jump. Here the nodes of a grid are solved together. Every node wants its
colour, then the black policy and little ink, and the mean of its neighbours, so that black rises
in time for the places that cannot do without it. With many inks a node may sit in a dent of its way
down; it then also tries the recipes of its neighbours and keeps what serves it better, so that good
ones spread.

References
----------
J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed., Springer 2006, section 10.3.
P. Thevenaz, T. Blu, M. Unser, "Interpolation revisited", IEEE Trans. Med. Imaging 19 (2000), 739-758,
for the cubic B-spline that reads the field.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from strikeoff.model.descent import costs, descend, priced, squared_misses
from strikeoff.model.limits import InkLimits
from strikeoff.model.node_wishes import NodeWishes
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

_MARGIN = 10.0
_STEPS = {True: (5.0, 8.0, 8.0), False: (7.0, 12.0, 12.0)}
#: Up to so many inks a colour has one family of recipes.
FEW_INKS = 4
_SWEEPS, _ROUNDS, _FIRST_ROUNDS = 24, 2, 15
_TIES = {True: 8.0, False: 5.0}
# Sweeps after which recipes spread, and what a node must miss its wishes by to try others.
_SPREADS, _SPREAD_ROUNDS, _CONTENT = (0, 2, 4), 4, 0.1
# Sweeps of a refined grid, which start from what is nearly solved, and its ties. Differences of neighbours
# are half as large: four times as much is the same stiffness over a distance in Lab. Of few inks, whose black
# has to turn at the edge of the gamut, it is half of that.
_FINE_SWEEPS, _FINE_SPREADS, _FINE_TIES = {True: 4, False: 6}, (0,), {True: 16.0, False: 20.0}
# How far from a colour its recipe may be read. [Lab]
_FARTHEST = 14.0
# Shares of the way out that are tried, and how much less another must miss by to count for more: a share of
# what reading in place misses by, squared. [-]
_SHARES, _ABOUT_AS_GOOD = np.linspace(0.0, 1.0, 5), 0.03


@dataclass(frozen=True)
class RecipeField:
    """Recipes on a regular grid of Lab.

    Attributes
    ----------
    low, spacing : ndarray, shape (3,)
        Lab of the first node, and from node to node.
    inks : ndarray, shape (n_l, n_a, n_b, n_inks)
        Legal recipes. [-]
    wanted : ndarray, shape (n_l, n_a, n_b, n_inks)
        What the policy wants of the nodes. [-]
    """

    low: FloatArray
    spacing: FloatArray
    inks: FloatArray
    wanted: FloatArray

    def at(self, lab: FloatArray) -> FloatArray:
        """Return recipes, shape (m, n_inks), for colours, shape (m, 3); the margin's outside the grid.

        Cubic B-splines with the nodes as coefficients: means of legal recipes, so legal themselves.
        """
        return self._read(self.inks, lab)

    def departure(self, ink: int, lab: FloatArray) -> FloatArray:
        """Return by how much the recipes hold more of an ink than the policy wants, shape (m,)."""
        return self._read(self.inks[..., [ink]] - self.wanted[..., [ink]], lab)[:, 0]

    def sharp(self, model: InksToLab, lab: FloatArray) -> FloatArray:
        """Return colours, shape (m, 3), about where the field's blur lands on the colours wanted.

        Reading between nodes mixes them, which matters at the edge of the gamut; colours there are
        read farther out, as far as it helps: where families of recipes meet, what is read all the way
        out may miss by more.
        """
        reached = model.lab(self.at(lab))
        missed = lab - reached
        length = np.sqrt((missed**2).sum(axis=1, keepdims=True))
        way = missed * (_FARTHEST / np.maximum(length, _FARTHEST))
        farther = [model.lab(self.at(lab + share * way)) for share in _SHARES[1:]]
        misses = np.stack([squared_misses(lab, colour) for colour in (reached, *farther)])
        # The best of them jumps where two are as good, and recipes with it: a mean of the good does not.
        good = np.exp((misses.min(axis=0) - misses) / (_ABOUT_AS_GOOD * misses[0] + 1e-12))
        share = _SHARES @ good / good.sum(axis=0)
        return np.asarray(lab + share[:, None] * way)

    def _read(self, nodes: FloatArray, lab: FloatArray) -> FloatArray:
        last = np.array(self.inks.shape[:3]) - 1.0
        place = np.clip((lab - self.low) / self.spacing, 0.0, last).T
        return np.stack(
            [
                map_coordinates(nodes[..., k], place, order=3, mode="nearest", prefilter=False)
                for k in range(nodes.shape[3])
            ],
            axis=1,
        )


def grid_colours(lab: FloatArray, n_inks: int) -> tuple[FloatArray, FloatArray, tuple[int, int, int]]:
    """Return first node, spacing and shape of a grid around colours, shape (m, 3)."""
    low, high = lab.min(axis=0) - _MARGIN, lab.max(axis=0) + _MARGIN
    counts = np.ceil((high - low) / np.array(_STEPS[n_inks <= FEW_INKS])).astype(int) + 1
    return low, (high - low) / (counts - 1), (int(counts[0]), int(counts[1]), int(counts[2]))


def relax(
    model: InksToLab,
    limits: InkLimits,
    low: FloatArray,
    spacing: FloatArray,
    wishes: NodeWishes,
    start: FloatArray,
    others: Sequence[FloatArray] = (),
    prices: FloatArray | None = None,
) -> RecipeField:
    """Solve the nodes of a grid together.

    Parameters
    ----------
    model : InksToLab
        Forward model, quick.
    limits : InkLimits
        Kept at every node.
    low, spacing : ndarray, shape (3,)
        First node and distance between nodes. [Lab]
    wishes : NodeWishes
        Of the n nodes.
    start : ndarray, shape (n, n_inks)
        Legal recipes to start from.
    others : sequence of ndarray, shape (n, n_inks)
        More recipes to start from; those of many inks then spread from node to node too.
    prices : ndarray, shape (n_inks,), optional
        What each unit of an ink costs, in squared colour difference; nothing by default.
    """
    costs = np.zeros(start.shape[1]) if prices is None else prices
    weights = wishes.weights + wishes.pull
    first = priced((wishes.weights * wishes.aims + wishes.pull * wishes.tints) / weights, weights, costs)
    inks = descend(model, limits, wishes.lab, start, weights, first, _FIRST_ROUNDS)
    few = int((limits.per_ink > 0).sum()) <= FEW_INKS
    everywhere = np.ones(len(start), dtype=bool)
    if few:
        rows = np.arange(len(start))
        inks = _better(model, limits, wishes.lab, inks, weights, first, others, rows, _FIRST_ROUNDS)
    spreads = () if few else _SPREADS
    inks = _swept(model, limits, wishes, inks, everywhere, _TIES[few], costs, _SWEEPS, spreads, others)
    return _field(low, spacing, wishes, inks)


def refine(
    model: InksToLab,
    limits: InkLimits,
    coarse: RecipeField,
    wishes: NodeWishes,
    active: NDArray[np.bool_],
    prices: FloatArray,
) -> RecipeField:
    """Halve the distance between nodes of a field where colours are near the gamut.

    Near the edge, in the dark above all, families of recipes lie closer together than the nodes of a grid
    that is quick to solve; between such nodes the field mixes them, and colours there are missed. Of few inks
    black turns there, and would come late.

    Parameters
    ----------
    model : InksToLab
        Forward model, quick.
    limits : InkLimits
        Kept at every node.
    coarse : RecipeField
        What is refined.
    wishes : NodeWishes
        Of the n nodes of a grid of `finer` shape.
    active : ndarray of bool, shape (n,)
        Nodes that are solved; the others are means of the coarse ones.
    prices : ndarray, shape (n_inks,)
        As for `relax`.
    """
    place = ((wishes.lab - coarse.low) / coarse.spacing).T
    nodes = np.moveaxis(coarse.inks, 3, 0)
    inks = np.stack([map_coordinates(ink, place, order=1, mode="nearest") for ink in nodes], axis=1)
    few = int((limits.per_ink > 0).sum()) <= FEW_INKS
    ties, sweeps = _FINE_TIES[few], _FINE_SWEEPS[few]
    inks = _swept(model, limits, wishes, inks, active, ties, prices, sweeps, _FINE_SPREADS)
    return _field(coarse.low, coarse.spacing / 2.0, wishes, inks)


def finer(shape: tuple[int, int, int]) -> tuple[int, int, int]:
    """Return the shape of a grid of half the spacing.

    Examples
    --------
    >>> finer((3, 4, 5))
    (5, 7, 9)
    """
    return 2 * shape[0] - 1, 2 * shape[1] - 1, 2 * shape[2] - 1


def _swept(
    model: InksToLab,
    limits: InkLimits,
    wishes: NodeWishes,
    inks: FloatArray,
    active: NDArray[np.bool_],
    ties: float,
    prices: FloatArray,
    sweeps: int,
    spreads: Sequence[int],
    others: Sequence[FloatArray] = (),
) -> FloatArray:
    """Return recipes of nodes, solved in turns with the mean of their neighbours held."""
    shape, count = wishes.shape, inks.shape[1]
    weights, rows = wishes.weights + ties + wishes.pull, np.flatnonzero(active)
    inks = inks.copy()
    for sweep in range(sweeps):
        # Departures spread from node to node, not what the policy wants.
        departures = (inks - wishes.aims).reshape((*shape, count))
        near = wishes.aims + neighbour_mean(departures).reshape(-1, count)
        free = (wishes.weights * wishes.aims + ties * near + wishes.pull * wishes.tints) / weights
        aim = priced(free, weights, prices)
        goal = (wishes.lab[rows], inks[rows], weights[rows], aim[rows])
        inks[rows] = descend(model, limits, *goal, _ROUNDS)
        if sweep in spreads:
            grid = inks.reshape((*shape, count))
            starts = [neighbour_mean(grid), *_neighbours(grid), *(others if sweep == 0 else ())]
            cost = costs(limits, wishes.lab, model.lab(inks), inks, weights, free)
            discontent = cost > _CONTENT
            starts = [s.reshape(-1, count) for s in starts]
            some = np.flatnonzero(discontent & active)
            inks = _better(model, limits, wishes.lab, inks, weights, aim, starts, some)
    return inks


def _field(low: FloatArray, spacing: FloatArray, wishes: NodeWishes, inks: FloatArray) -> RecipeField:
    shape = (*wishes.shape, inks.shape[1])
    return RecipeField(low, spacing, inks.reshape(shape), wishes.aims.reshape(shape))


def neighbour_mean(grid: FloatArray) -> FloatArray:
    """Return the mean of the two neighbours along each of three axes; a node at the edge is its own."""
    total = np.zeros_like(grid)
    for axis in range(3):
        moved = np.moveaxis(grid, axis, 0)
        into = np.moveaxis(total, axis, 0)
        into[1:] += moved[:-1]
        into[:1] += moved[:1]
        into[:-1] += moved[1:]
        into[-1:] += moved[-1:]
    return total / 6.0


def _neighbours(grid: FloatArray) -> list[FloatArray]:
    """Return the grid moved by a node along each axis both ways; a node at the edge keeps its own."""
    count = len(grid.shape) - 1
    padded = np.pad(grid, [(1, 1)] * count + [(0, 0)], mode="edge")
    inner = [slice(1, -1)] * count
    moved = [slice(None, -2), slice(2, None)]
    return [padded[(*inner[:axis], m, *inner[axis + 1 :])] for axis in range(count) for m in moved]


def _better(
    model: InksToLab,
    limits: InkLimits,
    lab: FloatArray,
    inks: FloatArray,
    weights: FloatArray,
    aims: FloatArray,
    starts: Sequence[FloatArray],
    rows: NDArray[np.intp],
    rounds: int = _SPREAD_ROUNDS,
) -> FloatArray:
    """Let recipes of some rows try other starts; return the best of each."""
    out, cost = inks.copy(), costs(limits, lab, model.lab(inks), inks, weights, aims)
    for start in starts:
        goal = (lab[rows], start[rows], weights[rows], aims[rows])
        trial = descend(model, limits, *goal, rounds)
        reached = model.lab(trial)
        trial_cost = costs(limits, lab[rows], reached, trial, weights[rows], aims[rows])
        better = trial_cost < cost[rows]
        out[rows[better]], cost[rows[better]] = trial[better], trial_cost[better]
    return out
