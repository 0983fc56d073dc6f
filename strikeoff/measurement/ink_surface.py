"""One smooth surface through all patches of a chart, and what it says of each patch without it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Choices, from stiff to pliant: slope of an ink, its bend, power of the amounts, scatter.
_CHOICES = (
    (0.03, 0.1, 0.3, 1.0, 3.0),
    (0.1, 0.5, 2.0, 8.0),
    (0.5, 0.75, 1.0),
    (1e-5, 1e-4, 1e-3, 1e-2),
)
_FIRST = (2, 2, 0, 1)
# Recipes by which they are chosen.
_CHOSEN_BY = 240
# Cube roots of light below this tell no colours apart. [-]
_DARKEST = 0.02
# Degrees of freedom of Student's distribution, and the median of |z| under the normal one.
_FREEDOM, _MEDIAN = 4.0, 0.6745
# No patch is known better than this share of what is usual. [-]
_LEAST_SPREAD = 0.7


class InkSurface:
    """Gaussian process over recipes, whose patches can be taken out one after the other.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Distinct recipes, 0-1. [-]
    lab : ndarray, shape (n, 3)
        Their CIELAB.

    Attributes
    ----------
    left : ndarray of int
        Patches that are still in.

    Notes
    -----
    Inks filter each other's light, so the surface goes through the logarithms of the cube roots of X, Y and
    Z, where what they do adds up. The covariance is a product over inks of 1 and a cubic spline that starts
    at no ink (G. Wahba, Spline Models for Observational Data, SIAM 1990; from memory): an ink's own ramp
    says how it goes on, and its overprints say it too. Slope, bend, power and scatter are those that predict
    patches best without themselves, outliers counting little. What a patch is without itself, and how
    sure that is, follow from the inverse covariance (S. Sundararajan and S. S. Keerthi, Neural Computation
    13 (2001), 1103-1118; from memory).
    """

    def __init__(self, coverages: FloatArray, lab: FloatArray) -> None:
        self.lab = lab
        self.values = logarithms(lab)
        self.left = np.arange(len(lab))
        choice = _best_choice(coverages, self.values)
        self._precision = _precision(coverages, choice)
        self._usual = float(np.median(_alone(self._precision, self.values)[1]))

    def without(self, row: int) -> None:
        """Take a patch out, so that it has no say in what follows.

        Parameters
        ----------
        row : int
            Its number among those given; one of `left`.
        """
        at = int(np.flatnonzero(self.left == row)[0])
        p = self._precision
        rest = p - np.outer(p[:, at], p[at]) / p[at, at]
        self._precision = np.delete(np.delete(rest, at, axis=0), at, axis=1)
        self.left = np.delete(self.left, at)

    def misfits(self, robust_z: float, distance: float) -> tuple[FloatArray, FloatArray]:
        """Return how far each patch that is left lies off, and that in units of its limit.

        Parameters
        ----------
        robust_z : float
            Robust standard deviations above the median of the chart that are allowed. [-]
        distance : float
            Distance that is allowed anyway. [CIELAB units]

        Returns
        -------
        distances : ndarray, shape (n_left,)
            From what the others say. [CIELAB units]
        misfits : ndarray, shape (n_left,)
            Above 1 where a patch is off by more than allowed, in colour and in the surface's own values.
        """
        gaps, spread = _alone(self._precision, self.values[self.left])
        spread = np.maximum(spread, _LEAST_SPREAD * self._usual)
        lab = self.lab[self.left]
        off = np.sqrt(((colours(self.values[self.left] - gaps) - lab) ** 2).sum(axis=1))
        units = gaps / spread[:, None]
        scale = np.median(np.abs(units), axis=0) / _MEDIAN + 1e-12
        wild = np.sqrt(((units / scale) ** 2).sum(axis=1))
        shares = (off / distance, _over(wild, robust_z), _over(off / spread, robust_z))
        return off, np.asarray(np.minimum.reduce(shares), dtype=np.float64)


def _over(size: FloatArray, robust_z: float) -> FloatArray:
    """Return sizes in units of a limit over their median."""
    middle = float(np.median(size))
    limit = middle + robust_z * 1.4826 * float(np.median(np.abs(size - middle)))
    return np.asarray(size / max(limit, 1e-12), dtype=np.float64)


def logarithms(lab: FloatArray) -> FloatArray:
    """Return the logarithms of the cube roots of X, Y and Z over white, from CIELAB; shape (..., 3)."""
    bright = (lab[:, 0] + 16.0) / 116.0
    roots = np.stack([bright + lab[:, 1] / 500.0, bright, bright - lab[:, 2] / 200.0], axis=1)
    return np.asarray(np.log(np.maximum(roots, _DARKEST)), dtype=np.float64)


def colours(values: FloatArray) -> FloatArray:
    """Return CIELAB of `logarithms`."""
    x, y, z = np.exp(values).T
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=1)


def _precision(coverages: FloatArray, choice: tuple[float, ...]) -> FloatArray:
    """Return the inverse covariance of the recipes, an unknown mean taken out."""
    slope, bend, power, scatter = choice
    count = len(coverages)
    covariance = np.ones((count, count))
    for amounts in (np.clip(coverages, 0.0, None) ** power).T:
        less = np.minimum(amounts[:, None], amounts)
        more = np.maximum(amounts[:, None], amounts)
        covariance *= 1.0 + slope * (less * more + bend * less**2 * (3.0 * more - less) / 2.0)
    covariance[np.diag_indices(count)] += scatter * np.trace(covariance) / count
    inverse = np.linalg.inv(covariance)
    sums = inverse.sum(axis=1)
    return np.asarray(inverse - np.outer(sums, sums) / sums.sum(), dtype=np.float64)


def _alone(precision: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how far each value is off what the others say, and how unsure these are."""
    own = np.diag(precision)
    return (precision @ values) / own[:, None], 1.0 / np.sqrt(own)


def _badness(precision: FloatArray, values: FloatArray) -> float:
    """Return the mean of minus the logarithm of how likely each patch is for the others (Student's)."""
    gaps, spread = _alone(precision, values)
    units = np.abs(gaps) / spread[:, None]
    scale = np.median(units, axis=0) / _MEDIAN + 1e-12
    tails = 0.5 * (_FREEDOM + 1.0) * np.log1p((units / scale) ** 2 / _FREEDOM).mean()
    return float(np.log(spread).mean() + np.log(scale).mean() + tails)


def _best_choice(coverages: FloatArray, values: FloatArray) -> tuple[float, ...]:
    """Return slope, bend, power and scatter: one after the other is moved while patches gain."""
    if len(coverages) > _CHOSEN_BY:
        some = np.linspace(0, len(coverages) - 1, _CHOSEN_BY).astype(np.intp)
        coverages, values = coverages[some], values[some]

    def chosen(at: tuple[int, ...]) -> tuple[float, ...]:
        return tuple(values_of[index] for values_of, index in zip(_CHOICES, at, strict=True))

    best: tuple[int, ...] = _FIRST
    known = {best: _badness(_precision(coverages, chosen(best)), values)}
    while True:
        before = best
        for axis, step in ((axis, step) for axis in range(len(_CHOICES)) for step in (-1, 1)):
            while True:
                at = (*best[:axis], best[axis] + step, *best[axis + 1 :])
                if not 0 <= at[axis] < len(_CHOICES[axis]):
                    break
                if at not in known:
                    known[at] = _badness(_precision(coverages, chosen(at)), values)
                if known[at] >= known[best]:
                    break
                best = at
        if best == before:
            return chosen(best)
