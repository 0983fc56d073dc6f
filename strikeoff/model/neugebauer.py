"""Area-coverage model of an ink set: the physical prior of the forward model.

Yule-Nielsen modified spectral Neugebauer: R^(1/n) = sum over overprints of weight x P^(1/n), with
Demichel's weights from effective coverages. Curves, exponent and overprints are fitted together
to the readings; overprints that were never printed lean on the product of their inks.

References
----------
J. A. C. Yule, W. J. Nielsen, TAGA Proc. 3 (1951), 65-76; J. A. S. Viggiano, TAGA Proc. (1985),
647-661 (spectral form); M. E. Demichel, Procede 26 (1924), 17-21, 26-27.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from strikeoff.model.tone import DEGREE, bernstein, increments

FloatArray = NDArray[np.float64]

_FLOOR = 1e-5
_RIDGE = 1e-3
_FIT_ROWS = 600


@dataclass(frozen=True)
class AreaCoverageModel:
    """A fitted area-coverage model.

    Attributes
    ----------
    steps : ndarray, shape (n_inks, DEGREE)
        Increments of the tone curves. [-]
    overprints : ndarray, shape (2 ** n_inks, n_bands)
        Overprints to the power 1/n; bit k of the row number says whether ink k is there. [-]
    exponent : float
        Yule-Nielsen n. [-]
    """

    steps: FloatArray
    overprints: FloatArray
    exponent: float

    def predict(self, inks: FloatArray) -> FloatArray:
        """Return reflectances, shape (n, n_bands), of ink coverages, shape (n, n_inks)."""
        coverage, _ = _coverages(inks, self.steps)
        root = np.maximum(_demichel(coverage) @ self.overprints, _FLOOR)
        return np.asarray(root**self.exponent)

    def jacobian(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return reflectances, shape (n, n_bands), and their slopes, shape (n, n_bands, n_inks)."""
        coverage, slope = _coverages(inks, self.steps)
        root = np.maximum(_demichel(coverage) @ self.overprints, _FLOOR)
        value = root**self.exponent
        gain = self.exponent * value / root
        count = inks.shape[1]
        slopes = np.empty((*value.shape, count))
        for ink in range(count):
            difference = _demichel(coverage, replaced=ink) @ self.overprints
            slopes[:, :, ink] = gain * difference * slope[:, ink : ink + 1]
        return value, slopes


def fit_area_coverage(inks: FloatArray, reflectance: FloatArray, *, seed: int = 0) -> AreaCoverageModel:
    """Fit curves, exponent and overprints to readings.

    Parameters
    ----------
    inks : ndarray, shape (n, n_inks)
        Ink coverages of distinct recipes, 0-1. [-]
    reflectance : ndarray, shape (n, n_bands)
        Reflectance factors, or X, Y, Z over the light's white. [-]
    seed : int
        Chooses the rows on which curves and exponent are fitted when there are many.

    Returns
    -------
    AreaCoverageModel
    """
    count = inks.shape[1]
    rows = np.random.default_rng(seed).permutation(len(inks))[:_FIT_ROWS]
    x, y = inks[rows], np.maximum(reflectance[rows], _FLOOR)
    aim = np.cbrt(y)

    def unpack(parameters: FloatArray) -> tuple[FloatArray, float]:
        curves = parameters[:-1].reshape(count, DEGREE - 1)
        return np.stack([increments(row) for row in curves]), float(np.exp(parameters[-1]))

    def misfit(parameters: FloatArray) -> FloatArray:
        steps, exponent = unpack(parameters)
        weights = _demichel(_coverages(x, steps)[0])
        overprints = _solve_overprints(weights, y ** (1.0 / exponent), count)
        root = np.maximum(weights @ overprints, 1e-4)
        return np.asarray((np.cbrt(root**exponent) - aim).ravel() * 10.0)

    free = count * (DEGREE - 1)
    start = np.append(np.zeros(free), np.log(2.0))
    lower = np.append(np.full(free, -4.0), 0.0)
    upper = np.append(np.full(free, 4.0), np.log(10.0))
    fitted = least_squares(misfit, start, bounds=(lower, upper), max_nfev=15)
    steps, exponent = unpack(fitted.x)
    weights = _demichel(_coverages(inks, steps)[0])
    roots = np.maximum(reflectance, _FLOOR) ** (1.0 / exponent)
    return AreaCoverageModel(steps, _solve_overprints(weights, roots, count), exponent)


def _coverages(inks: FloatArray, steps: FloatArray) -> tuple[FloatArray, FloatArray]:
    pairs = [bernstein(inks[:, k], steps[k]) for k in range(len(steps))]
    return np.stack([p[0] for p in pairs], axis=1), np.stack([p[1] for p in pairs], axis=1)


def _demichel(coverage: FloatArray, replaced: int | None = None) -> FloatArray:
    """Return Demichel weights; for the ``replaced`` ink its derivative's factors -1 and 1."""
    from strikeoff.model.kernels import demichel_weights

    weights = np.empty((len(coverage), 1 << coverage.shape[1]))
    demichel_weights(np.ascontiguousarray(coverage), -1 if replaced is None else replaced, weights)
    return weights


def _solve_overprints(weights: FloatArray, roots: FloatArray, count: int) -> FloatArray:
    """Ridge least squares of the overprints, drawn towards products of single inks."""
    gram = weights.T @ weights
    moment = weights.T @ roots
    size = len(gram)
    loose = np.linalg.solve(gram + 10 * _RIDGE * np.eye(size), moment + 10 * _RIDGE * roots.min(axis=0))
    cloth = np.maximum(loose[0], 1e-3)
    ratio = np.log(np.maximum(np.stack([loose[1 << k] for k in range(count)]), 0.02) / cloth)
    member = (np.arange(size)[:, None] >> np.arange(count)) & 1
    product = cloth * np.exp(member @ ratio)
    return np.asarray(np.linalg.solve(gram + _RIDGE * np.eye(size), moment + _RIDGE * product))
