"""Gaussian-process regression over ink space: learns what the physics leaves over.

Matern kernel of smoothness 7/2 with one length scale per ink, plus a linear kernel; length scales
and noise by maximum marginal likelihood with analytic gradients.

References
----------
C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press 2006,
sections 2.2, 4.2 and 5.4.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import scipy.linalg
from numpy.typing import NDArray
from scipy.optimize import minimize

FloatArray = NDArray[np.float64]

_FIT_ROWS = 500
_LINEAR = 0.1
_CHUNK = 1024
_WORKERS = 2


@dataclass(frozen=True)
class Kernel:
    """Hyperparameters.

    Attributes
    ----------
    scales : ndarray, shape (n_inks,)
        Length scale per ink. [-]
    noise : float
        Noise variance over the kernel's variance. [-]
    """

    scales: FloatArray
    noise: float

    def covariance(self, a: FloatArray, b: FloatArray) -> FloatArray:
        """Return the kernel matrix, shape (len(a), len(b))."""
        s = _scaled_distance(a / self.scales, b / self.scales)
        return np.asarray(_matern(s) + _LINEAR * (1.0 + a @ b.T))


@dataclass(frozen=True)
class GaussianProcess:
    """A fitted process: centres, kernel and dual weights.

    Attributes
    ----------
    centres : ndarray, shape (n, n_inks)
        Training recipes. [-]
    kernel : Kernel
        Hyperparameters.
    weights : ndarray, shape (n, n_outputs)
        Dual weights.
    """

    centres: FloatArray
    kernel: Kernel
    weights: FloatArray

    def predict(self, inks: FloatArray) -> FloatArray:
        """Return outputs, shape (m, n_outputs), of ink coverages, shape (m, n_inks)."""
        return self._sums(inks, slopes=False)[0]

    def jacobian(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return outputs, shape (m, n_outputs), and slopes, shape (m, n_outputs, n_inks)."""
        return self._sums(inks, slopes=True)

    def _sums(self, inks: FloatArray, *, slopes: bool) -> tuple[FloatArray, FloatArray]:
        from strikeoff.model.kernels import matern_sums

        scales = self.kernel.scales
        centres = np.ascontiguousarray((self.centres / scales).T)
        weights = np.ascontiguousarray(self.weights.T)
        linear = _LINEAR * self.centres.T @ self.weights
        value = np.empty((len(inks), len(weights)))
        slope = np.empty((*value.shape, inks.shape[1]))

        def work(rows: slice) -> None:
            x = np.ascontiguousarray(inks[rows] / scales)
            matern_sums(x, centres, weights, slopes, value[rows], slope[rows])

        in_parts(work, len(inks))
        value += _LINEAR * self.weights.sum(axis=0) + inks @ linear
        slope = slope / scales + linear.T[None]
        return value, slope


def fit_kernel(inks: FloatArray, targets: FloatArray, *, seed: int = 1) -> Kernel:
    """Choose length scales and noise by maximum marginal likelihood.

    Parameters
    ----------
    inks : ndarray, shape (n, n_inks)
        Distinct recipes. [-]
    targets : ndarray, shape (n, n_outputs)
        What is to be learnt; each column counts alike.
    seed : int
        Chooses the rows when there are more than 500.
    """
    rows = np.random.default_rng(seed).permutation(len(inks))[:_FIT_ROWS]
    x = inks[rows]
    spread = targets[rows].std(axis=0)
    y = targets[rows] / np.where(spread > 0, spread, 1.0)
    count = x.shape[1]
    best = minimize(
        _negative_likelihood,
        np.append(np.full(count, 0.3), -6.0),
        args=(x, y),
        jac=True,
        method="L-BFGS-B",
        bounds=[(-2.5, 3.5)] * count + [(-17.0, 1.0)],
        options={"maxiter": 30},
    )
    return Kernel(np.exp(best.x[:count]), float(np.exp(best.x[count])))


def solve_weights(kernel: Kernel, inks: FloatArray, targets: FloatArray, repeats: FloatArray) -> FloatArray:
    """Return dual weights for targets, shape (n, n_outputs); ``repeats`` readings divide the noise."""
    return np.asarray(scipy.linalg.cho_solve(factor(kernel, inks, repeats), targets))


def factor(kernel: Kernel, inks: FloatArray, repeats: FloatArray) -> tuple[FloatArray, bool]:
    """Return the Cholesky factor of the noisy kernel matrix, for scipy's ``cho_solve``."""
    matrix = kernel.covariance(inks, inks)
    matrix[np.diag_indices(len(inks))] += kernel.noise / repeats
    lower, flag = scipy.linalg.cho_factor(matrix, lower=True, overwrite_a=True)
    return np.asarray(lower), bool(flag)


def explained_variance(
    kernel: Kernel, inks: FloatArray, chol: tuple[FloatArray, bool], at: FloatArray
) -> FloatArray:
    """Return the predictive variance over the kernel's variance, shape (m,), without noise."""
    variance = np.empty(len(at))

    def work(rows: slice) -> None:
        cross = kernel.covariance(at[rows], inks)
        solved = scipy.linalg.solve_triangular(chol[0], cross.T, lower=True)
        prior = 1.0 + _LINEAR * (1.0 + (at[rows] ** 2).sum(axis=1))
        variance[rows] = prior - (solved**2).sum(axis=0)

    in_parts(work, len(at))
    return np.maximum(variance, 0.0)


def in_parts(work: Callable[[slice], None], rows: int) -> None:
    """Call ``work`` on slices that together cover the rows, two at a time."""
    pieces = [slice(start, min(start + _CHUNK, rows)) for start in range(0, rows, _CHUNK)]
    if len(pieces) == 1:
        work(pieces[0])
    elif pieces:
        with ThreadPoolExecutor(_WORKERS) as pool:
            list(pool.map(work, pieces))


def _scaled_distance(a: FloatArray, b: FloatArray) -> FloatArray:
    square = (a * a).sum(axis=1)[:, None] + (b * b).sum(axis=1)[None] - 2.0 * (a @ b.T)
    return np.asarray(np.sqrt(7.0 * np.maximum(square, 0.0)))


def _polynomial(s: FloatArray) -> FloatArray:
    return np.asarray(1.0 + s * (1.0 + s * (0.4 + s / 15.0)))


def _matern(s: FloatArray) -> FloatArray:
    return np.asarray(_polynomial(s) * np.exp(-s))


def _negative_likelihood(p: FloatArray, x: FloatArray, y: FloatArray) -> tuple[float, FloatArray]:
    rows, outputs = y.shape
    count = x.shape[1]
    kernel = Kernel(np.exp(p[:count]), float(np.exp(p[count])))
    scaled = x / kernel.scales
    s = _scaled_distance(scaled, scaled)
    matrix = _matern(s) + _LINEAR * (1.0 + x @ x.T)
    matrix[np.diag_indices(rows)] += kernel.noise
    try:
        lower = scipy.linalg.cholesky(matrix, lower=True)
    except scipy.linalg.LinAlgError:
        return 1e10, np.zeros_like(p)
    inverse, _ = scipy.linalg.lapack.dpotri(lower, lower=True)
    inverse = np.tril(inverse) + np.tril(inverse, -1).T
    dual = inverse @ y
    variance = np.maximum((dual * y).sum(axis=0) / rows, 1e-300)
    value = 0.5 * rows * np.log(variance).sum() + outputs * np.log(np.diag(lower)).sum()
    sensitivity = 0.5 * (outputs * inverse - (dual / variance) @ dual.T)
    pull = sensitivity * (7.0 * (3.0 + s * (3.0 + s)) / 15.0 * np.exp(-s))
    gradient = np.empty_like(p)
    for k in range(count):
        gap = scaled[:, k][:, None] - scaled[:, k][None]
        gradient[k] = (pull * gap * gap).sum()
    gradient[count] = np.trace(sensitivity) * kernel.noise
    return float(value), gradient
