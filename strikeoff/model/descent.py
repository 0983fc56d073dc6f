"""Many small least-squares problems at once: inks whose colour is close to a target and close to a wish.

Damped Gauss-Newton steps whose bounds and total are kept by an active set.

References
----------
J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed., Springer 2006, sections 10.3 and 16.5.
Lightness, chroma and hue weights: CIE 142:2001 (CIEDE2000) for S_L, S_C; CIE 116:1995 for S_H.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.limits import InkLimits
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

_DAMPING = (1e-6, 1e6)
# What a mixture of two inks that are kept apart weighs: 3 % beside a solid counts as 3 CIEDE2000.
_APART = 1e4


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


def squared_misses(lab: FloatArray, reached: FloatArray) -> FloatArray:
    """Return about the squared CIEDE2000 between colours reached and those wanted, shape (m,)."""
    return np.asarray((np.einsum("mij,mj->mi", colour_weights(lab), reached - lab) ** 2).sum(axis=1))


def costs(
    limits: InkLimits,
    lab: FloatArray,
    reached: FloatArray,
    inks: FloatArray,
    wishes: FloatArray,
    aims: FloatArray,
) -> FloatArray:
    """Return what `descend` makes small, shape (m,), for recipes that reach the given Lab, shape (m, 3)."""
    wished = (wishes * (inks - aims) ** 2).sum(axis=1)
    return np.asarray(squared_misses(lab, reached) + wished + mixing(limits, inks))


def descend(
    model: InksToLab,
    limits: InkLimits,
    lab: FloatArray,
    inks: FloatArray,
    wishes: FloatArray,
    aims: FloatArray,
    rounds: int,
    damping: float = 1e-2,
) -> FloatArray:
    """Return inks that make colour difference squared plus weighted distance from the aims squared small.

    Parameters
    ----------
    model : InksToLab
        Forward model.
    limits : InkLimits
        Kept throughout.
    lab : ndarray, shape (m, 3)
        Colours wanted.
    inks : ndarray, shape (m, n_inks)
        Legal recipes to start from.
    wishes : ndarray, shape (n_inks,) or (m, n_inks)
        Weight of each ink's distance from its aim.
    aims : ndarray, shape (m, n_inks)
        Inks wished for.
    rounds : int
        Most steps; one that does not help is taken back.
    damping : float
        Added to the diagonal in the first step, above 0.
    """
    weigh = colour_weights(lab)
    wishes = np.broadcast_to(wishes, inks.shape)
    x = inks.copy()
    stiff = np.full(len(x), damping)
    value, slope = model.jacobian(x)
    misfit = np.einsum("mij,mj->mi", weigh, value - lab)
    cost = (misfit**2).sum(axis=1) + (wishes * (x - aims) ** 2).sum(axis=1) + mixing(limits, x)
    live = np.arange(len(x))
    diagonal = np.arange(x.shape[1])
    for _ in range(rounds):
        jac = weigh[live] @ slope[live]
        hessian = np.swapaxes(jac, 1, 2) @ jac
        hessian[:, diagonal, diagonal] += wishes[live] + stiff[live, None]
        gradient = np.einsum("mik,mi->mk", jac, misfit[live]) + wishes[live] * (x[live] - aims[live])
        _keep_apart(limits, x[live], hessian, gradient)
        trial = x[live] + _bounded(limits, hessian, gradient, x[live])
        new_value, new_slope = model.jacobian(trial)
        new_misfit = np.einsum("mij,mj->mi", weigh[live], new_value - lab[live])
        new_cost = (new_misfit**2).sum(axis=1) + (wishes[live] * (trial - aims[live]) ** 2).sum(axis=1)
        new_cost += mixing(limits, trial)
        better = new_cost <= cost[live]
        moved = np.abs(trial - x[live]).max(axis=1)
        done = (moved < 1e-6) | (better & (cost[live] - new_cost < 1e-10 + 1e-7 * cost[live]))
        taken = live[better]
        x[taken], slope[taken] = trial[better], new_slope[better]
        misfit[taken], cost[taken] = new_misfit[better], new_cost[better]
        stiff[live] = np.clip(stiff[live] * np.where(better, 0.2, 8.0), *_DAMPING)
        live = live[~done]
        if len(live) == 0:
            break
    return x


def priced(aims: FloatArray, wishes: FloatArray, prices: FloatArray) -> FloatArray:
    """Return aims under which every unit of an ink costs its price as well.

    A square w (x - a)**2 and a price p x are together one square about a - p / 2 w, but for a constant. Other
    than a square, a price holds for the last trace of an ink as for the first: of many recipes for a colour
    those of few inks cost least.

    Parameters
    ----------
    aims : ndarray, shape (..., n_inks)
        Inks wished for.
    wishes : ndarray, shape (..., n_inks)
        Weights of the distance from the aims, above 0.
    prices : ndarray, shape (n_inks,)
        Of each ink, in the units of the squared colour difference.

    Examples
    --------
    >>> priced(np.array([0.5, 0.5]), np.array([2.0, 2.0]), np.array([0.4, 0.0])).tolist()
    [0.4, 0.5]
    """
    return np.asarray(aims - prices / (2.0 * wishes))


def mixing(limits: InkLimits, inks: FloatArray) -> FloatArray:
    """Return what recipes, shape (m, n_inks), pay for mixing inks that are kept apart, shape (m,)."""
    paid = np.zeros(len(inks))
    for first, second in limits.apart:
        paid += _APART * (inks[:, first] * inks[:, second]) ** 2
    return paid


def _keep_apart(limits: InkLimits, inks: FloatArray, hessian: FloatArray, gradient: FloatArray) -> None:
    """Add the Gauss-Newton terms of `mixing`."""
    for i, j in limits.apart:
        one, other = inks[:, i], inks[:, j]
        gradient[:, i] += _APART * one * other**2
        gradient[:, j] += _APART * one**2 * other
        hessian[:, i, i] += _APART * other**2
        hessian[:, j, j] += _APART * one**2
        hessian[:, i, j] += _APART * one * other
        hessian[:, j, i] += _APART * one * other


def _bounded(limits: InkLimits, hessian: FloatArray, gradient: FloatArray, inks: FloatArray) -> FloatArray:
    from strikeoff.model.kernels_descent import bounded_steps, bounded_steps_each

    step = np.empty_like(inks)
    lower = np.zeros(inks.shape[1])
    # A total that all full inks together keep is no limit: it and theirs would hold the same twice.
    binds = limits.total < float(limits.sums(limits.per_ink)) * (1.0 - 1e-9)
    if binds and limits.curves is not None:
        weights, totals = limits.tangents(inks)
        bounded_steps_each(hessian, gradient, inks, lower, limits.per_ink, weights, totals, step)
        # The tangent lets a little through that the curves do not.
        return limits.pulled_in(inks + step) - inks
    total = limits.total if binds else np.inf
    bounded_steps(hessian, gradient, inks, lower, limits.per_ink, limits.weights, total, step)
    return step
