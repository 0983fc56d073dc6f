"""What an ink does alone: a part of the kernel that fades as other inks join it.

Ramps of one ink, black above all, often lie off what the overprints about them suggest, by more than
the noise: presses print them otherwise, and charts read them more often. A part of single inks that adds
up whatever the others do cannot follow both. This one is a product of a Matern kernel (5/2) of the
ink's own amount and of how nearly alone it is in either recipe, ``(1 - others / reach)^4``, and zero
where the others together exceed the reach.

References
----------
C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press 2006, section
4.2.4 (a kernel times a function of either argument is a kernel); compact support: H. Wendland, Adv.
Comput. Math. 4 (1995), 389-396.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_POWER = 4


@dataclass(frozen=True)
class LonePart:
    """Hyperparameters of what inks do alone.

    Attributes
    ----------
    variances : ndarray, shape (n_inks,)
        Of each ink, over the smooth part's. [-]
    scale : float
        Length scale along the ink. [-]
    reach : float
        Sum of other inks at which nothing of it is left. [-]
    """

    variances: FloatArray
    scale: float
    reach: float

    def nearness(self, inks: FloatArray) -> FloatArray:
        """Return how nearly alone each ink of recipes is, shape (n, n_inks), 1 where it is."""
        return np.asarray(self._left(inks) ** _POWER)

    def fall(self, inks: FloatArray) -> FloatArray:
        """Return the slope of `nearness` over any other ink, shape (n, n_inks)."""
        return np.asarray(-_POWER / self.reach * self._left(inks) ** (_POWER - 1))

    def covariance(self, a: FloatArray, b: FloatArray) -> FloatArray:
        """Return the part's matrix, shape (len(a), len(b)), in plain array steps."""
        out = np.zeros((len(a), len(b)))
        near_a, near_b = self.nearness(a), self.nearness(b)
        for k, variance in enumerate(self.variances):
            both = np.outer(near_a[:, k], near_b[:, k])
            out += variance * both * matern_5_2(self._steps(a[:, k], b[:, k]))
        return out

    def add(self, a: FloatArray, b: FloatArray, out: FloatArray, *, lower: bool = False) -> None:
        """Add the part's matrix to ``out``, only where it is not zero; ``lower`` for its lower triangle."""
        near_a, near_b = self.nearness(a), self.nearness(b)
        for k, variance in enumerate(self.variances):
            if variance == 0.0:
                continue
            i, j = np.flatnonzero(near_a[:, k]), np.flatnonzero(near_b[:, k])
            block = matern_5_2(self._steps(a[i, k], b[j, k]))
            block *= variance * near_a[i, k][:, None]
            block *= near_b[j, k]
            out[np.ix_(i, j)] += np.tril(block) if lower else block

    def variance(self, a: FloatArray) -> FloatArray:
        """Return the diagonal of ``covariance(a, a)``, shape (len(a),)."""
        return np.asarray(self.nearness(a) ** 2 @ self.variances)

    def slopes(self, x: FloatArray, sensitivity: FloatArray) -> FloatArray:
        """Sum ``sensitivity`` times the part's slopes over the logarithms of its parameters.

        Parameters
        ----------
        x : ndarray, shape (n, n_inks)
            Recipes.
        sensitivity : ndarray, shape (n, n)
            Symmetric; only its lower triangle is read.

        Returns
        -------
        ndarray, shape (n_inks + 2,)
            Of variances, scale and reach.
        """
        near, left = self.nearness(x), self._left(x)
        widened = _POWER * left ** (_POWER - 1) * (1.0 - left)
        out = np.zeros(len(self.variances) + 2)
        for k, variance in enumerate(self.variances):
            i = np.flatnonzero(near[:, k])
            weight = 2.0 * np.tril(sensitivity[np.ix_(i, i)])
            weight[np.diag_indices(len(i))] *= 0.5
            weight *= variance
            q = self._steps(x[i, k], x[i, k])
            alike = weight * matern_5_2(q)
            own = near[i, k]
            out[k] = own @ alike @ own
            out[-2] += own @ (weight * q * q * (1.0 + q) / 3.0 * np.exp(-q)) @ own
            out[-1] += widened[i, k] @ alike @ own + own @ alike @ widened[i, k]
        return out

    def as_record(self) -> dict[str, object]:
        """Return the hyperparameters for JSON."""
        return {"variances": self.variances.tolist(), "scale": self.scale, "reach": self.reach}

    @staticmethod
    def from_record(record: dict[str, Any]) -> LonePart:
        """Return the part that `as_record` told of."""
        return LonePart(np.array(record["variances"], float), record["scale"], record["reach"])

    def _left(self, inks: FloatArray) -> FloatArray:
        others = inks.sum(axis=1)[:, None] - inks
        return np.asarray(np.maximum(1.0 - others / self.reach, 0.0))

    def _steps(self, a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(np.sqrt(5.0) / self.scale * np.abs(a[:, None] - b[None]))


class LoneSums:
    """The part summed over centres: a tabulated curve of each ink, faded by the others."""

    def __init__(self, part: LonePart, centres: FloatArray, weights: FloatArray) -> None:
        self._part, self._centres, self._weights = part, centres, weights

    def add(self, inks: FloatArray, value: FloatArray, slope: FloatArray) -> None:
        """Add to values (m, n_outputs) and slopes (m, n_outputs, n_inks)."""
        near, fall = self._part.nearness(inks), self._part.fall(inks)
        for k, curve in self._curves.items():
            rows = np.flatnonzero(near[:, k])
            if not len(rows):
                continue
            at, share = curve(inks[rows, k]), near[rows, k][:, None]
            value[rows] += share * at
            faded = fall[rows, k][:, None] * at
            slope[rows] += faded[:, :, None]
            slope[rows, :, k] += share * curve(inks[rows, k], 1) - faded

    @cached_property
    def _curves(self) -> dict[int, Any]:
        near = self._part.nearness(self._centres)
        return {
            k: summed_curve(
                variance, self._part.scale, self._centres[:, k], near[:, k : k + 1] * self._weights
            )
            for k, variance in enumerate(self._part.variances)
            if variance > 0.0
        }


_NODES = 1501
_LOW, _HIGH = -0.25, 1.25


def summed_curve(variance: float, scale: float, centres: FloatArray, weights: FloatArray) -> Any:
    """Return the sum of Matern kernels (5/2) of one ink over centres, as a curve tabulated along it.

    Parameters
    ----------
    variance, scale : float
        Of the kernel.
    centres : ndarray, shape (n,)
        Where its centres are. [-]
    weights : ndarray, shape (n, n_outputs)
        What each counts.

    Returns
    -------
    scipy.interpolate.CubicHermiteSpline
        Of the ink's amount, -0.25 to 1.25; values and slopes are exact at 1,501 nodes.
    """
    from scipy.interpolate import CubicHermiteSpline

    at = np.linspace(_LOW, _HIGH, _NODES)
    levels, where = np.unique(centres, return_inverse=True)
    sums = np.zeros((len(levels), weights.shape[1]))
    np.add.at(sums, where.ravel(), weights)
    gap = (at[:, None] - levels[None]) / scale
    s = np.sqrt(5.0) * np.abs(gap)
    values = variance * matern_5_2(s) @ sums
    slopes = -variance * 5.0 / (3.0 * scale) * (gap * (1.0 + s) * np.exp(-s)) @ sums
    return CubicHermiteSpline(at, values, slopes)


def matern_5_2(s: FloatArray) -> FloatArray:
    """Return the Matern kernel of smoothness 5/2 at s = sqrt(5) r."""
    return np.asarray((1.0 + s * (1.0 + s / 3.0)) * np.exp(-s))
