"""Tables of a profile from the model and its inverse, their sizes chosen by measured error."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import render
from strikeoff.icc.interpolate import interpolate
from strikeoff.icc.output_tables import A2BTable, Axis, axis_nodes, curve_nodes
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

#: Mean CIEDE2000 that a table may add to the model.
A2B_AIM, B2A_AIM = 0.025, 0.12
#: Most bytes of a table.
A2B_BYTES, B2A_BYTES = 2 << 20, 1 << 20

_A2B_SIZES = (129, 65, 33, 25, 21, 17, 15, 13, 11, 9, 8, 7, 6, 5, 4, 3, 2)
_LEVELS, _LARGEST = (9, 17), {1: 41, 2: 41, 3: 41, 4: 45}
_LARGEST_OF_MANY = 33
_CURVE_SAMPLES = 1024
_STRAIGHT_SHARE = 0.3
_MARGIN = 6.0
# Ends of the axes of a* and b*; share of each for colours on either side of the gamut, if there are more than
# a few units of them.
_LOWEST, _HIGHEST = -127.0, 126.0
_AROUND, _LEAST_AROUND = 0.1, 4.0
# Share of the lightness axis for what is darker than all inks, as a part of how much of L* that is.
_DARKER = 0.75
_NEAR_DE00, _BEYOND_DE00 = 20.0, 7.0
_PROBES = 400
_CORNERS = 60000
_FEW_INKS, _OVER_TOTAL = 4, 0.5


@dataclass(frozen=True)
class InkGrid:
    """Inks on a grid of media-relative Lab.

    Attributes
    ----------
    inks : ndarray, shape (n, n, n, n_inks)
        0-1. [-]
    de00 : ndarray, shape (n, n, n)
        How far each node's colour is from what the inks can reach.
    error : float
        Mean CIEDE2000 that reading the table adds, at random reachable colours.
    """

    inks: FloatArray
    de00: FloatArray
    error: float


def inks_to_colour(condition: Condition) -> tuple[A2BTable, float]:
    """Return the table from inks to media-relative Lab and the mean CIEDE2000 that it adds.

    The axes are spaced by colour distance. The size is the smallest whose error keeps to the aim,
    or the largest within the budget; its nodes are then levelled where that helps.
    """
    count = condition.n_inks
    table = condition.table
    model: InksToLab = table if table is not None and table.n_inks == count else condition.native
    curves = _spacing_curves(model, count)
    affordable = [s for s in _A2B_SIZES if 6 * s**count <= A2B_BYTES or s == _A2B_SIZES[-1]]
    rng = np.random.default_rng(11)
    probes = condition.limits.random(min(_PROBES, max(_CORNERS >> count, 4)), rng)
    truth = model.lab(probes)
    size = affordable[0]
    for candidate in affordable if count <= _FEW_INKS else ():
        found = float(delta_e_2000(truth, _between_nodes(model, curves, probes, candidate)).mean())
        if found > A2B_AIM:
            break
        size = candidate
    nodes = [curve_nodes(curve, size) for curve in curves]
    grid = np.stack(np.meshgrid(*nodes, indexing="ij"), axis=-1)
    lab = _node_colours(condition, model, grid.reshape(-1, count)).reshape((size,) * count + (3,))
    unit = _grid_place(curves, probes)
    error = float(delta_e_2000(truth, interpolate(lab, unit, "multilinear")).mean())
    if error > A2B_AIM:
        levelled = level_nodes(lab)
        found = float(delta_e_2000(truth, interpolate(levelled, unit, "multilinear")).mean())
        if found < error:
            lab, error = levelled, found
    lab = condition.connection.to_relative(lab.reshape(-1, 3)).reshape(lab.shape)
    return A2BTable(_encodable(lab), curves), error


def _node_colours(condition: Condition, model: InksToLab, inks: FloatArray) -> FloatArray:
    """Return Lab at nodes; of many inks those far over the total ink limit come from the rough copy.

    There the model itself has no readings to stand on, and only cells beyond the limit touch them.
    """
    over = condition.limits.sums(inks) > condition.limits.total + _OVER_TOTAL
    guide = condition.inverse.guide
    if guide is model or guide is condition.inverse.quick or not over.any():
        return model.lab(inks)
    lab = np.empty((len(inks), 3))
    lab[over], lab[~over] = guide.lab(inks[over]), model.lab(inks[~over])
    return lab


def level_nodes(grid: FloatArray) -> FloatArray:
    """Shift the inner nodes of a grid so that reading it linearly errs to both sides alike.

    Between nodes a chord lies to one side of a curve, on average by a twelfth of the second difference.
    Nodes at an end of an axis are not shifted along it: bare cloth and solids stay.

    Parameters
    ----------
    grid : ndarray, shape (g, ..., g, 3)
        Values at the nodes.

    Examples
    --------
    >>> level_nodes(np.array([0.0, 1.0, 4.0, 9.0])[:, None]).ravel().round(3).tolist()
    [0.0, 0.833, 3.833, 9.0]
    """
    out = grid.copy()
    for axis in range(grid.ndim - 1):
        values, moved = np.moveaxis(grid, axis, 0), np.moveaxis(out, axis, 0)
        moved[1:-1] -= (values[2:] - 2.0 * values[1:-1] + values[:-2]) / 12.0
    return out


def colour_axes(a2b: A2BTable) -> tuple[Axis, Axis, Axis]:
    """Spread nodes over the gamut of a table and, wider apart, over the colours around it.

    Neutrals lie on the middle nodes. Artwork is mostly wider than cloth, and its black is darker: axes that
    ended at the gamut would bring a far blue to their ends one by one, as purple, and all darks to one node.
    """
    lab = a2b.grid.reshape(-1, 3)
    floor = max(float(lab[:, 0].min()) - 1.0, 0.0)

    def opponent(values: FloatArray) -> Axis:
        low = min(float(values.min()) - _MARGIN, -20.0)
        high = max(float(values.max()) + _MARGIN, 20.0)
        return _axis(
            [(_LOWEST, 0.0), (low, _AROUND), (0.0, 0.5), (high, 1.0 - _AROUND), (_HIGHEST, 1.0)],
        )

    lightness = _axis([(0.0, 0.0), (floor, _DARKER * floor / 100.0), (100.0, 1.0)])
    return lightness, opponent(lab[:, 1]), opponent(lab[:, 2])


def _axis(knots: list[tuple[float, float]]) -> Axis:
    """Return the axis through knots; those of the gamut give way where it ends near the end of the space."""
    first, last = knots[0][0], knots[-1][0]
    inner = [knot for knot in knots[1:-1] if first + _LEAST_AROUND < knot[0] < last - _LEAST_AROUND]
    positions, coordinates = zip(*[knots[0], *inner, knots[-1]], strict=True)
    return Axis(np.array(positions), np.array(coordinates))


def colour_to_inks(
    condition: Condition,
    axes: tuple[Axis, Axis, Axis],
    intent: str,
    *,
    reach: InkGrid | None = None,
    step: Callable[[float], None] = lambda fraction: None,
) -> InkGrid:
    """Solve a coarse grid, measure what reading it costs, and refine it as far as that demands.

    Parameters
    ----------
    condition : Condition
        Where it will be printed.
    axes : three Axis
        Where L*, a*, b* lie on the grid.
    intent : str
        Rendering intent.
    reach : InkGrid, optional
        The relative grid, which says where the gamut ends; its own by default.
    step : callable
        Told the fraction done.
    """
    grid: InkGrid | None = None
    for number, level in enumerate(_LEVELS):
        step(0.1 * number)
        grid = _solved(condition, axes, level, intent, grid, reach, lambda fraction: None)
    assert grid is not None
    targets, direct = _probe(condition, axes, intent)
    error = _reading_error(condition, grid.inks, axes, targets, direct)
    size = _size(condition.n_inks, error)
    if size > _LEVELS[-1]:
        grid = _solved(condition, axes, size, intent, grid, reach, lambda f: step(0.2 + 0.8 * f))
        error = _reading_error(condition, grid.inks, axes, targets, direct)
    return InkGrid(grid.inks, grid.de00, error)


def _size(count: int, error: float) -> int:
    """Return the odd size that meets the aim, when the grid of the last level has an error.

    Linear interpolation errs with the square of the spacing.
    """
    last = _LEVELS[-1]
    wanted = 1 + 2 * int(np.ceil((last - 1) / 2 * np.sqrt(error / B2A_AIM)))
    room = 1 + 2 * int((np.cbrt(B2A_BYTES / (2 * count)) - 1) / 2)
    return int(np.clip(wanted, last, max(min(room, _LARGEST.get(count, _LARGEST_OF_MANY)), last)))


def _solved(
    condition: Condition,
    axes: tuple[Axis, Axis, Axis],
    size: int,
    intent: str,
    coarse: InkGrid | None,
    reach: InkGrid | None,
    step: Callable[[float], None],
) -> InkGrid:
    """Solve a grid; with a coarse one, start from it, and only interpolate it far outside the gamut."""
    nodes = [axis_nodes(axis, size) for axis in axes]
    lab = np.stack(np.meshgrid(*nodes, indexing="ij"), axis=-1).reshape(-1, 3)
    shape = (size, size, size)
    if coarse is None:
        recipes = render(condition, lab, intent, step=step)
        inks, de00 = np.clip(recipes.inks, 0.0, 1.0), recipes.de00
    else:
        inks = _refined(coarse.inks, size).reshape(-1, condition.n_inks)
        de00 = _refined(coarse.de00[..., None], size).ravel()
        edge = (coarse if reach is None else reach).de00
        near = np.flatnonzero(_refined((edge < _NEAR_DE00)[..., None].astype(float), size) > 0)
        beyond = de00[near] > _BEYOND_DE00
        recipes = render(condition, lab[near], intent, start=inks[near], beyond=beyond, step=step)
        inks[near], de00[near] = np.clip(recipes.inks, 0.0, 1.0), np.where(beyond, de00[near], recipes.de00)
    return InkGrid(inks.reshape((*shape, condition.n_inks)), de00.reshape(shape), np.nan)


def _refined(grid: FloatArray, size: int) -> FloatArray:
    """Interpolate a cube of values linearly to another number of nodes."""
    at = np.linspace(0.0, len(grid) - 1.0, size)
    weights = np.maximum(1.0 - np.abs(at[:, None] - np.arange(len(grid))), 0.0)
    for axis in range(3):
        grid = np.moveaxis(np.tensordot(weights, grid, (1, axis)), 0, axis)
    return np.asarray(grid)


def _probe(condition: Condition, axes: tuple[Axis, Axis, Axis], intent: str) -> tuple[FloatArray, FloatArray]:
    """Return random reachable media-relative colours and the model's Lab of their own solutions."""
    inks = condition.recipe_limits.random(_PROBES, np.random.default_rng(12))
    lab = condition.connection.to_relative(condition.inverse.quick.lab(inks))
    low, high = (np.array([axis.positions[end] for axis in axes]) for end in (0, -1))
    lab = np.clip(lab, low, high)
    return lab, render(condition, lab, intent).lab


def _reading_error(
    condition: Condition,
    grid: FloatArray,
    axes: tuple[Axis, Axis, Axis],
    targets: FloatArray,
    direct: FloatArray,
) -> float:
    unit = np.stack(
        [np.interp(targets[:, i], axis.positions, axis.coordinates) for i, axis in enumerate(axes)], axis=1
    )
    read = condition.inverse.quick.lab(np.clip(interpolate(grid, unit, "multilinear"), 0.0, 1.0))
    return float(delta_e_2000(direct, read).mean())


def _between_nodes(model: InksToLab, curves: FloatArray, inks: FloatArray, size: int) -> FloatArray:
    """Return what a table of a size would give, computing only the nodes around each recipe."""
    count = inks.shape[1]
    nodes = np.stack([curve_nodes(curve, size) for curve in curves])
    at = _grid_place(curves, inks) * (size - 1)
    cell = np.minimum(at.astype(int), size - 2)
    inside = at - cell
    corners = np.array(list(product((0, 1), repeat=count)))
    index = cell[:, None, :] + corners
    weights = np.where(corners == 1, inside[:, None, :], 1.0 - inside[:, None, :]).prod(axis=2)
    recipes = nodes[np.arange(count), index]
    lab = model.lab(recipes.reshape(-1, count)).reshape(len(inks), len(corners), 3)
    return np.asarray(np.einsum("mc,mcx->mx", weights, lab))


def _grid_place(curves: FloatArray, inks: FloatArray) -> FloatArray:
    """Return where recipes lie on a grid, 0-1 along each axis."""
    samples = np.linspace(0.0, 1.0, curves.shape[1])
    return np.stack([np.interp(inks[:, k], samples, curve) for k, curve in enumerate(curves)], axis=1)


def _spacing_curves(model: InksToLab, count: int) -> FloatArray:
    """Curves along which each single ink moves in nearly even steps of colour distance."""
    ink = np.linspace(0.0, 1.0, _CURVE_SAMPLES)
    curves = np.empty((count, _CURVE_SAMPLES))
    for k in range(count):
        ramp = np.zeros((_CURVE_SAMPLES, count))
        ramp[:, k] = ink
        steps = np.linalg.norm(np.diff(model.lab(ramp), axis=0), axis=1)
        distance = np.concatenate([[0.0], np.cumsum(steps)])
        curves[k] = (1 - _STRAIGHT_SHARE) * distance / max(distance[-1], 1e-9) + _STRAIGHT_SHARE * ink
    return np.clip(curves, 0.0, 1.0)


def _encodable(lab: FloatArray) -> FloatArray:
    """Limit to what the connection space can hold; fluorescent colours can pass it."""
    return np.clip(lab, [0.0, -127.9, -127.9], [100.0, 126.9, 126.9])
