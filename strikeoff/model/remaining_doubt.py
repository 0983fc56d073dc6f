"""How much doubt candidates and targets have left, as readings are taken and given back.

References
----------
C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press 2006, section 2.2
and appendix A.3 (rows of a Cholesky factor, one reading after the other).
"""

from __future__ import annotations

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from strikeoff.model.covariance import Kernel

FloatArray = NDArray[np.float64]

_TINY = 1e-12


class RemainingDoubt:
    """What is not known yet of candidates and targets.

    Parameters
    ----------
    kernel : Kernel
        How alike recipes are.
    read : ndarray, shape (n, n_inks)
        Recipes that have been read. May be empty.
    repeats : ndarray, shape (n,)
        Readings behind each.
    candidates : ndarray, shape (m, n_inks)
        Recipes that may be printed.
    targets : ndarray, shape (t, n_inks)
        Recipes whose colour matters.
    """

    def __init__(
        self,
        kernel: Kernel,
        read: FloatArray,
        repeats: FloatArray,
        candidates: FloatArray,
        targets: FloatArray,
    ) -> None:
        self._kernel, self._candidates = kernel, candidates
        self._both = np.vstack([candidates, targets])
        self._spread = kernel.variance(self._both)
        # Rows of `seen` are what the readings explain; the posterior covariance is prior minus seen' seen.
        # A reading that is given back leaves a row that counts the other way.
        self._seen = np.zeros((0, len(self._both)))
        if len(read):
            matrix = kernel.covariance(read, read)
            matrix[np.diag_indices(len(read))] += kernel.noise / repeats
            lower = scipy.linalg.cholesky(matrix, lower=True)
            cross = kernel.covariance(read, self._both)
            self._seen = scipy.linalg.solve_triangular(lower, cross, lower=True)
            self._spread = self._spread - (self._seen**2).sum(axis=0)
        self._signs = np.ones(len(read))
        count = len(candidates)
        self._cross = kernel.covariance(targets, candidates) - self._seen[:, count:].T @ self._seen[:, :count]

    def best(self, squares: FloatArray, share: FloatArray, is_free: NDArray[np.bool_]) -> int:
        """Return the free candidate that most reduces the mean doubt."""
        count = len(self._candidates)
        noisy = np.maximum(self._spread[:count], 0.0) + self._kernel.noise
        # Twice the slope of the mean of roots.
        slope = share * squares / np.maximum(self._each(squares), _TINY)
        return int(np.where(is_free, slope @ self._cross**2 / noisy, -np.inf).argmax())

    def mean(self, squares: FloatArray, share: FloatArray) -> float:
        """Return the mean doubt over the targets, reading noise included."""
        return float(share @ self._each(squares))

    def take(self, index: int) -> None:
        """Read a candidate."""
        variance = max(float(self._spread[index]), 0.0)
        self._change(self._column(index) / np.sqrt(variance + self._kernel.noise), 1.0)

    def give_back(self, index: int) -> None:
        """Undo the reading of a candidate, whenever it was taken.

        With noise s and variance v without the reading, covariances with it are s / (v + s) of those without.
        """
        noise, left = self._kernel.noise, float(self._spread[index])
        without = left * noise / (noise - left)
        self._change(self._column(index) * np.sqrt(without + noise) / noise, -1.0)

    def _each(self, squares: FloatArray) -> FloatArray:
        left = np.maximum(self._spread[len(self._candidates) :], 0.0) + self._kernel.noise
        return np.asarray(np.sqrt(squares * left))

    def _column(self, index: int) -> FloatArray:
        prior = self._kernel.covariance(self._candidates[index : index + 1], self._both)[0]
        return np.asarray(prior - (self._signs * self._seen[:, index]) @ self._seen)

    def _change(self, row: FloatArray, sign: float) -> None:
        count = len(self._candidates)
        self._seen, self._signs = np.vstack([self._seen, row]), np.append(self._signs, sign)
        self._spread = self._spread - sign * row**2
        self._cross -= np.outer(sign * row[count:], row[:count])
