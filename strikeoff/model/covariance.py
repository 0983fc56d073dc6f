"""How alike two recipes are: the kernel of the Gaussian processes.

Five parts: a smooth one over all inks together (Matern 7/2, one length scale per ink; of their
distance, or a product over inks of a constant and a Matern of that ink alone), a linear one, one of
single inks that adds up over inks (Matern 5/2; tone curves have more detail than overprints), one of
inks that are alone (`lone_ink`), and a fine one over all inks together (Matern 5/2, shorter scales).
All variances are relative to the smooth part's.

References
----------
C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press 2006,
sections 4.2 and 5.4; additive part: N. Durrande et al., Ann. Fac. Sci. Toulouse 21 (2012), 481-499;
product of a constant and a kernel per variable: C. J. Stone et al., Ann. Statist. 25 (1997), 1371-1470
(functional analysis of variance, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.lone_ink import LonePart, matern_5_2, summed_curve

FloatArray = NDArray[np.float64]

#: Variance of the linear part.
LINEAR = 0.1


@dataclass(frozen=True)
class Kernel:
    """Hyperparameters.

    Attributes
    ----------
    scales : ndarray, shape (n_inks,)
        Length scale of each ink in the smooth part. [-]
    noise : float
        Variance of one reading's noise. [-]
    single_variance, single_scale : float
        Part of single inks. [-]
    fine_variance, fine_ratio : float
        Fine part; its length scales over the smooth part's. [-]
    ink_variances : ndarray, shape (n_inks,), optional
        Variance of each ink over that of the constant in the smooth part as a product: what an ink
        does may be the same whatever the others do, or not. Without it the smooth part depends on
        distance, and there is a linear part. [-]
    lone : LonePart, optional
        Part of inks that are alone.
    """

    scales: FloatArray
    noise: float
    single_variance: float = 0.0
    single_scale: float = 0.3
    fine_variance: float = 0.0
    fine_ratio: float = 0.4
    ink_variances: FloatArray | None = None
    lone: LonePart | None = None

    def covariance(self, a: FloatArray, b: FloatArray) -> FloatArray:
        """Return the kernel matrix, shape (len(a), len(b)), of recipes."""
        from strikeoff.model.kernels_covariance import fill_covariance

        out = np.empty((len(a), len(b)))
        rows, columns = np.ascontiguousarray(a.T), np.ascontiguousarray(b.T)
        fill_covariance(
            *(rows, columns, self.scales, self.shares, self.single, self.fine, self.linear), False, out
        )
        if self.lone is not None:
            self.lone.add(a, b, out)
        return out

    def lower_covariance(self, a: FloatArray) -> FloatArray:
        """Return ``covariance(a, a)`` with zeros above the diagonal, in half the time."""
        from strikeoff.model.kernels_covariance import fill_covariance

        out = np.zeros((len(a), len(a)))
        columns = np.ascontiguousarray(a.T)
        fill_covariance(
            *(columns, columns, self.scales, self.shares, self.single, self.fine, self.linear), True, out
        )
        if self.lone is not None:
            self.lone.add(a, a, out, lower=True)
        return out

    @property
    def linear(self) -> float:
        """Variance of the linear part."""
        return LINEAR if self.ink_variances is None else 0.0

    @property
    def shares(self) -> FloatArray:
        """Share of each ink in its factor of the product, shape (n_inks,); of length 0 without one."""
        if self.ink_variances is None:
            return np.empty(0)
        return np.asarray(self.ink_variances / (1.0 + self.ink_variances))

    @property
    def single(self) -> FloatArray:
        """Variance and scale of the part of single inks."""
        return np.array([self.single_variance, self.single_scale])

    @property
    def fine(self) -> FloatArray:
        """Variance and ratio of the fine part."""
        return np.array([self.fine_variance, self.fine_ratio])

    def plain_covariance(self, a: FloatArray, b: FloatArray) -> FloatArray:
        """Return the same as `covariance`, in plain array steps."""
        s = scaled_distance(a / self.scales, b / self.scales)
        if self.ink_variances is None:
            out = matern_7_2(s) + self.linear * (1.0 + a @ b.T)
        else:
            out = np.ones((len(a), len(b)))
            for k, share in enumerate(self.shares):
                gap = np.abs(a[:, k][:, None] - b[:, k][None]) / self.scales[k]
                out *= 1.0 - share + share * matern_7_2(np.sqrt(7.0) * gap)
        if self.fine_variance > 0:
            out += self.fine_variance * matern_5_2(np.sqrt(5 / 7) / self.fine_ratio * s)
        if self.single_variance > 0:
            for k in range(a.shape[1]):
                gap = np.abs(a[:, k][:, None] - b[:, k][None]) / self.single_scale
                out += self.single_variance * matern_5_2(np.sqrt(5.0) * gap)
        if self.lone is not None:
            out += self.lone.covariance(a, b)
        return np.asarray(out)

    def variance(self, a: FloatArray) -> FloatArray:
        """Return the diagonal of ``covariance(a, a)``, shape (len(a),)."""
        constant = 1.0 + self.fine_variance + a.shape[1] * self.single_variance
        lone = 0.0 if self.lone is None else self.lone.variance(a)
        return np.asarray(constant + self.linear * (1.0 + (a * a).sum(axis=1)) + lone)

    def as_record(self) -> dict[str, object]:
        """Return the hyperparameters for JSON."""
        return {
            "scales": self.scales.tolist(),
            "noise": self.noise,
            "single_variance": self.single_variance,
            "single_scale": self.single_scale,
            "fine_variance": self.fine_variance,
            "fine_ratio": self.fine_ratio,
            "ink_variances": None if self.ink_variances is None else self.ink_variances.tolist(),
            "lone": None if self.lone is None else self.lone.as_record(),
        }


def scaled_distance(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return sqrt(7) times the distance between rows that are divided by their length scales."""
    square = (a * a).sum(axis=1)[:, None] + (b * b).sum(axis=1)[None] - 2.0 * (a @ b.T)
    return np.asarray(np.sqrt(7.0 * np.maximum(square, 0.0)))


def matern_7_2(s: FloatArray) -> FloatArray:
    """Return the Matern kernel of smoothness 7/2 at s = sqrt(7) r."""
    return np.asarray((1.0 + s * (1.0 + s * (0.4 + s / 15.0))) * np.exp(-s))


class SingleInkSums:
    """The part of single inks, summed over centres and tabulated along each ink."""

    def __init__(self, kernel: Kernel, centres: FloatArray, weights: FloatArray) -> None:
        self._kernel, self._centres, self._weights = kernel, centres, weights

    def add(self, inks: FloatArray, value: FloatArray, slope: FloatArray) -> None:
        """Add to values (m, n_outputs) and slopes (m, n_outputs, n_inks)."""
        for k, curve in enumerate(self._curves):
            value += curve(inks[:, k])
            slope[:, :, k] += curve(inks[:, k], 1)

    @cached_property
    def _curves(self) -> list:  # type: ignore[type-arg]
        variance, scale = self._kernel.single
        return [summed_curve(variance, scale, ink, self._weights) for ink in self._centres.T]
