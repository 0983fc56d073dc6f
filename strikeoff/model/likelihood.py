"""Hyperparameters by maximum marginal likelihood, with analytic gradients."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.optimize import minimize

from strikeoff.model.covariance import Kernel
from strikeoff.model.lone_ink import LonePart

FloatArray = NDArray[np.float64]

_FIT_ROWS = (500, 1000)
_FIT_STEPS = (40, 12)
_NEGLIGIBLE = 0.1

# Logarithms of start and bounds: scales per ink, ink variances where the smooth part is a product, then
# single variance and scale, fine variance and ratio, noise; with inks that are alone, their variances
# over the noise, scale and reach.
_SCALE_START, _SCALE_BOUNDS = 0.3, (-2.5, 3.5)
# A product has twice as many parameters; few readings do not settle them.
_PRODUCT_SCALE, _PRODUCT_VARIANCE, _PRODUCT_SPREAD = 0.0, 0.7, 1.0
_PRODUCT_SCALE_BOUNDS, _PRODUCT_VARIANCE_BOUNDS = (-2.0, 3.5), (-6.0, 4.0)
_REST_START = np.log([0.05, 0.3, 1e-3, 0.4, 2.5e-3])
_PRODUCT_REST_START = np.log([0.01, 0.1, 1e-3, 0.25, 2.5e-3])
# Shorter scales than these fit the order of a chart rather than the press, and make recipes uneven.
_REST_BOUNDS = [(-12.0, 3.0), (-1.8, 1.0), (-16.0, 2.0), (-1.9, -0.3), (-17.0, 1.0)]
_PRODUCT_REST_BOUNDS = [(-12.0, 3.0), (-2.8, 1.0), (-16.0, 2.0), (-1.5, -1.0), (-17.0, 1.0)]
# Few recipes hold one ink alone: what is usual has a say.
_LONE_START, _LONE_SPREAD = np.log([0.5, 0.3, 0.4]), (1.5, 0.5, 0.7)
_LONE_BOUNDS = [(-4.0, 6.0), (-2.3, 0.4), (-1.2, -0.2)]
_LONE_ROWS = 150


def fit_kernel(
    inks: FloatArray,
    targets: FloatArray,
    *,
    by_ink: bool = False,
    seed: int = 1,
    wanted: Callable[[], None] = lambda: None,
) -> Kernel:
    """Choose all hyperparameters of the kernel.

    Parameters
    ----------
    inks : ndarray, shape (n, n_inks)
        Distinct recipes. [-]
    targets : ndarray, shape (n, n_outputs)
        What is to be learnt; each column counts alike.
    by_ink : bool
        Whether the smooth part is a product over inks. Its scales and variances are then drawn
        towards usual ones (log-normal, a factor of e either way), as are those of inks that are alone.
    seed : int
        Chooses the rows when there are more than 500, and then 1,000.
    wanted : callable
        Called between steps; may raise to cancel.
    """
    spread = targets.std(axis=0)
    scaled = targets / np.where(spread > 0, spread, 1.0)
    start, width, bounds = _plan(inks.shape[1], by_ink)
    order = _order(inks, seed)

    def objective(p: FloatArray, x: FloatArray, y: FloatArray) -> tuple[float, FloatArray]:
        wanted()
        value, gradient = negative_likelihood(p, x, y, by_ink=by_ink)
        off = (p - start) / width
        return value + 0.5 * float(off @ off), gradient + off / width

    found = start
    # The likelihood costs the cube of the rows: find the neighbourhood with few, settle with more.
    for rows, steps in zip(_FIT_ROWS, _FIT_STEPS, strict=True):
        part = order[:rows]
        found = minimize(
            objective,
            found,
            args=(inks[part], scaled[part]),
            jac=True,
            method="L-BFGS-B",
            bounds=bounds,
            options={"maxiter": steps},
        ).x
        if rows >= len(inks):
            break
    return _without_the_negligible(_kernel(found, inks.shape[1], by_ink))


def _plan(count: int, by_ink: bool) -> tuple[FloatArray, FloatArray, list[tuple[float, float]]]:
    """Return usual parameters, how far one may be from them, and bounds."""
    start, width, bounds = np.full(count, _SCALE_START), np.full(count, np.inf), [_SCALE_BOUNDS] * count
    if by_ink:
        start = np.append(np.full(count, _PRODUCT_SCALE), np.full(count, _PRODUCT_VARIANCE))
        width = np.full(2 * count, _PRODUCT_SPREAD)
        bounds = [_PRODUCT_SCALE_BOUNDS] * count + [_PRODUCT_VARIANCE_BOUNDS] * count
    rest = (_PRODUCT_REST_START, _PRODUCT_REST_BOUNDS) if by_ink else (_REST_START, _REST_BOUNDS)
    start, width, bounds = np.append(start, rest[0]), np.append(width, np.full(5, np.inf)), bounds + rest[1]
    if count > 1:
        repeats = [count, 1, 1]
        start = np.append(start, np.repeat(_LONE_START, repeats))
        width = np.append(width, np.repeat(_LONE_SPREAD, repeats))
        bounds = bounds + [_LONE_BOUNDS[0]] * count + _LONE_BOUNDS[1:]
    return start, width, bounds


def _order(inks: FloatArray, seed: int) -> NDArray[np.int64]:
    """Return all rows by lot, but recipes of one ink, up to a number of them, first."""
    order = np.random.default_rng(seed).permutation(len(inks))
    alone = (inks[order] > 0.0).sum(axis=1) == 1
    alone &= np.cumsum(alone) <= _LONE_ROWS
    return np.concatenate([order[alone], order[~alone]])


def _without_the_negligible(kernel: Kernel) -> Kernel:
    floor = _NEGLIGIBLE * kernel.noise
    lone = kernel.lone
    if lone is not None:
        variances = np.where(lone.variances > floor, lone.variances, 0.0)
        lone = replace(lone, variances=variances) if variances.any() else None
    return replace(
        kernel,
        single_variance=kernel.single_variance if kernel.single_variance > floor else 0.0,
        fine_variance=kernel.fine_variance if kernel.fine_variance > floor else 0.0,
        lone=lone,
    )


def negative_likelihood(
    p: FloatArray, x: FloatArray, y: FloatArray, *, by_ink: bool = False
) -> tuple[float, FloatArray]:
    """Return minus the log marginal likelihood, output variances profiled out, and its gradient.

    Parameters
    ----------
    p : ndarray, shape (n_inks + 5,), n_inks more ``by_ink``, n_inks + 2 more with inks that are alone
        Logarithms of scales, ink variances where the smooth part is a product, single variance and
        scale, fine variance and ratio, noise; variances of inks that are alone over the noise, their
        scale and reach.
    x : ndarray, shape (n, n_inks)
        Recipes.
    y : ndarray, shape (n, n_outputs)
        Targets.
    by_ink : bool
        Whether the smooth part is a product over inks.
    """
    rows, outputs = y.shape
    kernel = _kernel(p, x.shape[1], by_ink)
    matrix = kernel.lower_covariance(x)
    matrix[np.diag_indices(rows)] += kernel.noise
    # LAPACK counts by columns: what is below the diagonal for us is above it there, and nothing is copied.
    upper, failed = lapack.dpotrf(matrix.T, lower=False, clean=False, overwrite_a=True)
    if failed:
        return 1e10, np.zeros_like(p)
    log_root = float(np.log(np.diag(upper)).sum())
    dual, _ = lapack.dpotrs(upper, y, lower=False)
    # From here on only the lower triangle means anything.
    sensitivity = lapack.dpotri(upper, lower=False, overwrite_c=True)[0].T
    variance = np.maximum((dual * y).sum(axis=0) / rows, 1e-300)
    value = 0.5 * rows * np.log(variance).sum() + outputs * log_root
    sensitivity *= 0.5 * outputs
    sensitivity -= (0.5 * dual / variance) @ dual.T
    noise = np.trace(sensitivity) * kernel.noise
    if kernel.lone is None:
        return float(value), np.append(_slopes(kernel, x, sensitivity), noise)
    lone = kernel.lone.slopes(x, sensitivity)
    # Its variances are told over the noise, and grow with it.
    noise += lone[:-2].sum()
    return float(value), np.concatenate([_slopes(kernel, x, sensitivity), [noise], lone])


def _slopes(kernel: Kernel, x: FloatArray, sensitivity: FloatArray) -> FloatArray:
    from strikeoff.model.kernels_covariance import covariance_slopes

    count = x.shape[1]
    out = np.empty(2 * count + 4)
    columns = np.ascontiguousarray(x.T)
    covariance_slopes(columns, kernel.scales, kernel.shares, kernel.single, kernel.fine, sensitivity, out)
    return out if kernel.ink_variances is not None else np.delete(out, slice(count, 2 * count))


def _kernel(p: FloatArray, count: int, by_ink: bool) -> Kernel:
    values = np.exp(p)
    smooth = (1 + by_ink) * count
    rest = [float(v) for v in values[smooth : smooth + 5]]
    more = values[smooth + 5 :]
    lone = LonePart(rest[4] * more[:count], float(more[-2]), float(more[-1])) if len(more) else None
    variances = values[count:smooth] if by_ink else None
    return Kernel(values[:count], rest[4], rest[0], rest[1], rest[2], rest[3], variances, lone)
