"""Hyperparameters by maximum marginal likelihood, with analytic gradients."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from scipy.optimize import minimize

from strikeoff.model.covariance import Kernel

FloatArray = NDArray[np.float64]

_FIT_ROWS = (500, 1000)
_FIT_STEPS = (40, 12)
_NEGLIGIBLE = 0.1

# Logarithms of start and bounds: scales per ink, ink variances where the smooth part is a product, then
# single variance and scale, fine variance and ratio, noise.
_SCALE_START, _SCALE_BOUNDS = 0.3, (-2.5, 3.5)
# A product has twice as many parameters; few readings do not settle them.
_PRODUCT_SCALE, _PRODUCT_VARIANCE, _PRODUCT_SPREAD = 0.0, 0.7, 1.0
_PRODUCT_SCALE_BOUNDS, _PRODUCT_VARIANCE_BOUNDS = (-2.0, 3.5), (-6.0, 4.0)
_REST_START = np.log([0.05, 0.3, 1e-3, 0.4, 2.5e-3])
_PRODUCT_REST_START = np.log([0.01, 0.1, 1e-3, 0.25, 2.5e-3])
# Shorter scales than these fit the order of a chart rather than the press, and make recipes uneven.
_REST_BOUNDS = [(-12.0, 3.0), (-1.8, 1.0), (-16.0, 2.0), (-1.9, -0.3), (-17.0, 1.0)]
_PRODUCT_REST_BOUNDS = [(-12.0, 3.0), (-2.8, 1.0), (-16.0, 2.0), (-1.5, -1.0), (-17.0, 1.0)]


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
        towards usual ones (log-normal, a factor of e either way).
    seed : int
        Chooses the rows when there are more than 500, and then 1,000.
    wanted : callable
        Called between steps; may raise to cancel.
    """
    order = np.random.default_rng(seed).permutation(len(inks))
    spread = targets.std(axis=0)
    scaled = targets / np.where(spread > 0, spread, 1.0)
    count = inks.shape[1]
    start, bounds = np.full(count, _SCALE_START), [_SCALE_BOUNDS] * count
    if by_ink:
        start = np.append(np.full(count, _PRODUCT_SCALE), np.full(count, _PRODUCT_VARIANCE))
        bounds = [_PRODUCT_SCALE_BOUNDS] * count + [_PRODUCT_VARIANCE_BOUNDS] * count
    usual = start if by_ink else start[:0]
    rest = (_PRODUCT_REST_START, _PRODUCT_REST_BOUNDS) if by_ink else (_REST_START, _REST_BOUNDS)

    def objective(p: FloatArray, x: FloatArray, y: FloatArray) -> tuple[float, FloatArray]:
        wanted()
        value, gradient = negative_likelihood(p, x, y)
        off = (p[: len(usual)] - usual) / _PRODUCT_SPREAD
        gradient[: len(usual)] += off / _PRODUCT_SPREAD
        return value + 0.5 * float(off @ off), gradient

    found = np.append(start, rest[0])
    # The likelihood costs the cube of the rows: find the neighbourhood with few, settle with more.
    for rows, steps in zip(_FIT_ROWS, _FIT_STEPS, strict=True):
        part = order[:rows]
        found = minimize(
            objective,
            found,
            args=(inks[part], scaled[part]),
            jac=True,
            method="L-BFGS-B",
            bounds=bounds + rest[1],
            options={"maxiter": steps},
        ).x
        if rows >= len(inks):
            break
    kernel = _kernel(found, count)
    floor = _NEGLIGIBLE * kernel.noise
    return Kernel(
        kernel.scales,
        kernel.noise,
        kernel.single_variance if kernel.single_variance > floor else 0.0,
        kernel.single_scale,
        kernel.fine_variance if kernel.fine_variance > floor else 0.0,
        kernel.fine_ratio,
        kernel.ink_variances,
    )


def negative_likelihood(p: FloatArray, x: FloatArray, y: FloatArray) -> tuple[float, FloatArray]:
    """Return minus the log marginal likelihood, output variances profiled out, and its gradient.

    Parameters
    ----------
    p : ndarray, shape (n_inks + 5,) or (2 n_inks + 5,)
        Logarithms of scales, ink variances where the smooth part is a product, single variance and
        scale, fine variance and ratio, noise.
    x : ndarray, shape (n, n_inks)
        Recipes.
    y : ndarray, shape (n, n_outputs)
        Targets.
    """
    rows, outputs = y.shape
    kernel = _kernel(p, x.shape[1])
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
    gradient = np.append(_slopes(kernel, x, sensitivity), np.trace(sensitivity) * kernel.noise)
    return float(value), gradient


def _slopes(kernel: Kernel, x: FloatArray, sensitivity: FloatArray) -> FloatArray:
    from strikeoff.model.kernels_covariance import covariance_slopes

    count = x.shape[1]
    out = np.empty(2 * count + 4)
    columns = np.ascontiguousarray(x.T)
    covariance_slopes(columns, kernel.scales, kernel.shares, kernel.single, kernel.fine, sensitivity, out)
    return out if kernel.ink_variances is not None else np.delete(out, slice(count, 2 * count))


def _kernel(p: FloatArray, count: int) -> Kernel:
    rest = [float(v) for v in np.exp(p[-5:])]
    variances = np.exp(p[count:-5]) if len(p) > count + 5 else None
    return Kernel(np.exp(p[:count]), rest[4], rest[0], rest[1], rest[2], rest[3], variances)
