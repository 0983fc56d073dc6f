"""Gaussian-process regression over ink space: learns what the physics leaves over.

References
----------
C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press 2006, section 2.2.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from strikeoff.base.threads import side_by_side
from strikeoff.model.covariance import Kernel, SingleInkSums
from strikeoff.model.lone_ink import LoneSums

FloatArray = NDArray[np.float64]

_CHUNK = 1024
_WORKERS = 2


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
        from strikeoff.model.kernels_product import product_sums

        shares = self.kernel.shares
        scales = self.kernel.scales
        centres = np.ascontiguousarray((self.centres / scales).T)
        weights = np.ascontiguousarray(self.weights.T)
        linear = self.kernel.linear * self.centres.T @ self.weights
        value = np.empty((len(inks), len(weights)))
        slope = np.empty((*value.shape, inks.shape[1]))

        def work(rows: slice) -> None:
            x = np.ascontiguousarray(inks[rows] / scales)
            out = value[rows], slope[rows]
            if len(shares):
                product_sums(x, centres, weights, shares, self.kernel.fine, slopes, *out)
            else:
                matern_sums(x, centres, weights, self.kernel.fine, slopes, *out)

        in_parts(work, len(inks))
        value += self.kernel.linear * self.weights.sum(axis=0) + inks @ linear
        slope = slope / scales + linear.T[None]
        if self.kernel.single_variance > 0:
            self._singles.add(inks, value, slope)
        if self._lone is not None:
            self._lone.add(inks, value, slope)
        return value, slope

    @cached_property
    def _singles(self) -> SingleInkSums:
        return SingleInkSums(self.kernel, self.centres, self.weights)

    @cached_property
    def _lone(self) -> LoneSums | None:
        lone = self.kernel.lone
        return None if lone is None else LoneSums(lone, self.centres, self.weights)


def solve_weights(kernel: Kernel, inks: FloatArray, targets: FloatArray, repeats: FloatArray) -> FloatArray:
    """Return dual weights for targets, shape (n, n_outputs); ``repeats`` readings divide the noise."""
    return np.asarray(scipy.linalg.cho_solve(factor(kernel, inks, repeats), targets))


def factor(kernel: Kernel, inks: FloatArray, repeats: FloatArray) -> tuple[FloatArray, bool]:
    """Return the Cholesky factor of the noisy kernel matrix, for scipy's ``cho_solve``."""
    matrix = kernel.lower_covariance(inks)
    matrix[np.diag_indices(len(inks))] += kernel.noise / repeats
    lower, flag = scipy.linalg.cho_factor(matrix, lower=True, overwrite_a=True)
    return np.asarray(lower), bool(flag)


def left_out(kernel: Kernel, inks: FloatArray, targets: FloatArray, repeats: FloatArray) -> FloatArray:
    """Return how far each target, shape (n, n_outputs), is from what all others predict for it."""
    lower, _ = factor(kernel, inks, repeats)
    dual = scipy.linalg.cho_solve((lower, True), targets)
    # What LAPACK takes for the upper triangle by columns is the lower one by rows.
    inverse = scipy.linalg.lapack.dpotri(lower.T, lower=False)[0]
    return np.asarray(dual / np.diag(inverse)[:, None])


def explained_variance(
    kernel: Kernel, inks: FloatArray, chol: tuple[FloatArray, bool], at: FloatArray
) -> FloatArray:
    """Return the predictive variance over the kernel's variance, shape (m,), without noise."""
    variance = np.empty(len(at))

    def work(rows: slice) -> None:
        cross = kernel.covariance(at[rows], inks)
        solved = scipy.linalg.solve_triangular(chol[0], cross.T, lower=True)
        variance[rows] = kernel.variance(at[rows]) - (solved**2).sum(axis=0)

    in_parts(work, len(at))
    return np.maximum(variance, 0.0)


def in_parts(work: Callable[[slice], None], rows: int) -> None:
    """Call ``work`` on slices that together cover the rows, two at a time."""
    pieces = [slice(start, min(start + _CHUNK, rows)) for start in range(0, rows, _CHUNK)]
    if len(pieces) == 1:
        work(pieces[0])
    elif pieces:
        side_by_side(lambda piece, wanted: work(piece), pieces, _WORKERS)
