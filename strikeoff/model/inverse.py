"""Colour to inks: the closest legal colour first, then the black policy, then least ink.

For every target the weighted colour difference is driven as low as the limits allow; among the
recipes that do so equally well the black policy chooses, then the least ink. Solved for many
targets at once by damped Gauss-Newton steps whose bounds and total are kept by an active set.

References
----------
J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed., Springer 2006, sections 10.3 and 16.5.
Lightness, chroma and hue weights: CIE 142:2001 (CIEDE2000) for S_L, S_C; CIE 116:1995 for S_H.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.black import BlackCurve, BlackPolicy, black_curve, black_goal, find_black
from strikeoff.model.limits import InkLimits
from strikeoff.model.table import InksToLab, tabulate

FloatArray = NDArray[np.float64]

IN_GAMUT_DE00 = 0.25

_SEEDS = 6000
_BLACK_WEIGHT = 0.5
_INK_WEIGHT = 0.02
_SEED_BLACK = 25.0
_ITERATIONS = 30
_FROM_NEIGHBOURS = (4, 3)
_BATCH = 65536
_NEAR_MISS = (0.05, 3.0)
_CLOSE_ITERATIONS = 8
_CLOSE_ENOUGH = 1e-8
_CLOSE_DAMPING, _CLOSE_STIFF = 1e-3, 1.0


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
        Ink limits.
    policy : BlackPolicy
        Black policy.
    black : int or None
        Which ink is black.
    curve : BlackCurve or None
        Pure black by lightness.
    seeds, seed_lab : ndarray
        Legal recipes that solutions start from, and their Lab.
    """

    exact: InksToLab
    quick: InksToLab
    limits: InkLimits
    policy: BlackPolicy
    black: int | None
    curve: BlackCurve | None
    seeds: FloatArray
    seed_lab: FloatArray

    @property
    def n_inks(self) -> int:
        """Number of inks."""
        return self.exact.n_inks

    def goals(self, lab: FloatArray) -> FloatArray:
        """Return black wanted for each colour, shape (m,); zeros without a black ink."""
        if self.curve is None:
            return np.zeros(len(lab))
        return black_goal(self.policy, self.curve, lab)


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
    quick: InksToLab | None = None,
) -> Inverse:
    """Prepare an inverse: tabulate the model, find the black ink, lay out the seeds."""
    table = tabulate(exact) if quick is None else quick
    black = find_black(names, table)
    limit = float(limits.per_ink[black]) if black is not None else 0.0
    curve = None if black is None else black_curve(table, black, limit)
    seeds = limits.random(_SEEDS, np.random.default_rng(7))
    return Inverse(exact, table, limits, policy, black, curve, seeds, table.lab(seeds))


def solve(
    inverse: Inverse,
    lab: FloatArray,
    *,
    start: FloatArray | None = None,
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
    start : ndarray, shape (m, n_inks), optional
        Legal recipes close to the solution, such as those of neighbours: fewer rounds, no second start.
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
    out = np.empty((len(lab), inverse.n_inks))
    for begin in range(0, len(lab), _BATCH):
        step(begin / max(len(lab), 1))
        rows = slice(begin, begin + _BATCH)
        guess = _nearest_seeds(inverse, lab[rows]) if start is None else start[rows]
        rounds, last = (_ITERATIONS, _CLOSE_ITERATIONS) if start is None else _FROM_NEIGHBOURS
        inks = _descend(inverse, inverse.quick, lab[rows], guess, rounds)
        out[rows] = _close(inverse, model, lab[rows], inks, last)
    reached = model.lab(out)
    error = delta_e_2000(lab, reached)
    # A near miss may be a dent in the way down: once more from the closest colour, whatever its black.
    near = np.flatnonzero((error > _NEAR_MISS[0]) & (error < _NEAR_MISS[1]))
    if len(near) and start is None:
        inks = _descend(
            inverse, inverse.quick, lab[near], _nearest_seeds(inverse, lab[near], 0.0), _ITERATIONS
        )
        inks = _close(inverse, model, lab[near], inks, _CLOSE_ITERATIONS)
        second = model.lab(inks)
        second_error = delta_e_2000(lab[near], second)
        closer = second_error < error[near] - _NEAR_MISS[0]
        taken = near[closer]
        out[taken], reached[taken], error[taken] = inks[closer], second[closer], second_error[closer]
    return Recipes(out, reached, error)


def colour_weights(lab: FloatArray) -> FloatArray:
    """Return 3 x 3 matrices, shape (m, 3, 3), that turn a Lab difference into a perceived one.

    Rows are lightness, chroma and hue about the target, so that out of gamut hue is kept before
    chroma. Their squared length is close to CIEDE2000 squared for small differences.
    """
    a, b = lab[:, 1], lab[:, 2]
    chroma = np.hypot(a, b)
    safe = np.where(chroma > 1e-6, chroma, 1.0)
    ca, sa = np.where(chroma > 1e-6, a / safe, 1.0), np.where(chroma > 1e-6, b / safe, 0.0)
    l50 = (lab[:, 0] - 50.0) ** 2
    s_l = 1.0 + 0.015 * l50 / np.sqrt(20.0 + l50)
    s_c = 1.0 + 0.045 * chroma
    s_h = 1.0 + 0.015 * chroma
    out = np.zeros((len(lab), 3, 3))
    out[:, 0, 0] = 1.0 / s_l
    out[:, 1, 1], out[:, 1, 2] = ca / s_c, sa / s_c
    out[:, 2, 1], out[:, 2, 2] = -sa / s_h, ca / s_h
    return out


def _nearest_seeds(inverse: Inverse, lab: FloatArray, black_weight: float = _SEED_BLACK) -> FloatArray:
    black = inverse.seeds[:, inverse.black] if inverse.black is not None else np.zeros(len(inverse.seeds))
    tree = cKDTree(np.column_stack([inverse.seed_lab, black_weight * black]))
    _, index = tree.query(np.column_stack([lab, black_weight * inverse.goals(lab)]), workers=1)
    return np.asarray(inverse.seeds[index])


def _policy_terms(inverse: Inverse, lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return weights (n_inks,) and aims (m, n_inks) of the second-rank wishes."""
    weights = np.full(inverse.n_inks, _INK_WEIGHT)
    aims = np.zeros((len(lab), inverse.n_inks))
    if inverse.black is not None:
        weights[inverse.black] = _BLACK_WEIGHT
        aims[:, inverse.black] = inverse.goals(lab)
    return weights, aims


def _descend(
    inverse: Inverse, model: InksToLab, lab: FloatArray, inks: FloatArray, rounds: int
) -> FloatArray:
    """Damped Gauss-Newton on colour plus wishes; a step that does not help is taken back."""
    weigh = colour_weights(lab)
    wishes, aims = _policy_terms(inverse, lab)
    x = inks.copy()
    damping = np.full(len(x), 1e-2)
    value, slope = model.jacobian(x)
    misfit = np.einsum("mij,mj->mi", weigh, value - lab)
    cost = (misfit**2).sum(axis=1) + ((x - aims) ** 2 @ wishes)
    live = np.arange(len(x))
    for _ in range(rounds):
        jac = weigh[live] @ slope[live]
        hessian = np.einsum("mik,mil->mkl", jac, jac)
        diagonal = np.arange(inverse.n_inks)
        hessian[:, diagonal, diagonal] += wishes + damping[live, None]
        gradient = np.einsum("mik,mi->mk", jac, misfit[live]) + wishes * (x[live] - aims[live])
        trial = x[live] + _bounded(inverse.limits, hessian, gradient, x[live])
        new_value, new_slope = model.jacobian(trial)
        new_misfit = np.einsum("mij,mj->mi", weigh[live], new_value - lab[live])
        new_cost = (new_misfit**2).sum(axis=1) + ((trial - aims[live]) ** 2 @ wishes)
        better = new_cost <= cost[live]
        moved = np.abs(trial - x[live]).max(axis=1)
        done = (moved < 1e-6) | (better & (cost[live] - new_cost < 1e-10 + 1e-7 * cost[live]))
        taken = live[better]
        x[taken], value[taken], slope[taken] = trial[better], new_value[better], new_slope[better]
        misfit[taken], cost[taken] = new_misfit[better], new_cost[better]
        damping[live] = np.clip(np.where(better, damping[live] * 0.2, damping[live] * 8.0), 1e-6, 1e6)
        live = live[~done]
        if len(live) == 0:
            break
    return x


def _close(inverse: Inverse, model: InksToLab, lab: FloatArray, inks: FloatArray, rounds: int) -> FloatArray:
    """Take out what the wishes cost in colour: shortest steps to the colour itself.

    In gamut this leaves no residual; out of gamut it ends at the closest point.
    """
    weigh = colour_weights(lab)
    x = inks.copy()
    diagonal = np.arange(inverse.n_inks)
    value, slope = model.jacobian(x)
    misfit = np.einsum("mij,mj->mi", weigh, value - lab)
    cost = (misfit**2).sum(axis=1)
    damping = np.full(len(x), _CLOSE_DAMPING)
    live = np.flatnonzero(cost > _CLOSE_ENOUGH)
    for _ in range(rounds):
        if len(live) == 0:
            break
        jac = weigh[live] @ slope[live]
        hessian = np.einsum("mik,mil->mkl", jac, jac)
        hessian[:, diagonal, diagonal] += damping[live, None]
        gradient = np.einsum("mik,mi->mk", jac, misfit[live])
        trial = x[live] + _bounded(inverse.limits, hessian, gradient, x[live])
        new_value, new_slope = model.jacobian(trial)
        new_misfit = np.einsum("mij,mj->mi", weigh[live], new_value - lab[live])
        new_cost = (new_misfit**2).sum(axis=1)
        better = new_cost < cost[live]
        small = np.where(better, cost[live] - new_cost, 0.0) <= 1e-10 + 1e-4 * cost[live]
        done = np.where(better, small | (new_cost <= _CLOSE_ENOUGH), damping[live] > _CLOSE_STIFF)
        taken = live[better]
        x[taken], slope[taken] = trial[better], new_slope[better]
        misfit[taken], cost[taken] = new_misfit[better], new_cost[better]
        damping[live] *= np.where(better, 0.3, 30.0)
        live = live[~done]
    return x


def _bounded(limits: InkLimits, hessian: FloatArray, gradient: FloatArray, inks: FloatArray) -> FloatArray:
    from strikeoff.model.kernels import bounded_steps

    step = np.empty_like(inks)
    lower = np.zeros(inks.shape[1])
    bounded_steps(hessian, gradient, inks, lower, limits.per_ink, limits.weights, limits.total, step)
    return step
