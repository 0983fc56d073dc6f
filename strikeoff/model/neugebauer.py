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

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.linalg
from numpy.typing import NDArray
from scipy.optimize import least_squares

from strikeoff.model.tone import DEGREE, bernstein, increments

FloatArray = NDArray[np.float64]

_FLOOR = 1e-5
_RIDGE = 1e-3
_FIT_ROWS = 600
# Fewer inks than these have too few overprints for halves to pay.
_HALVED_FROM = 8
_CHUNK = 256


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
        mixed = _mixed if inks.shape[1] < _HALVED_FROM else _mixed_by_halves
        root, slopes = mixed(coverage, self.overprints)
        root = np.maximum(root, _FLOOR)
        value = root**self.exponent
        slopes *= (self.exponent * value / root)[:, :, None]
        slopes *= slope[:, None, :]
        return value, slopes


def fit_area_coverage(
    inks: FloatArray,
    reflectance: FloatArray,
    *,
    seed: int = 0,
    wanted: Callable[[], None] = lambda: None,
) -> AreaCoverageModel:
    """Fit curves, exponent and overprints to readings.

    Parameters
    ----------
    inks : ndarray, shape (n, n_inks)
        Ink coverages of distinct recipes, 0-1. [-]
    reflectance : ndarray, shape (n, n_bands)
        Reflectance factors, or X, Y, Z over the light's white. [-]
    seed : int
        Chooses the rows on which curves and exponent are fitted when there are many.
    wanted : callable
        Called between steps; may raise to cancel.

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
        wanted()
        steps, exponent = unpack(parameters)
        root = np.maximum(_fitted_roots(_coverages(x, steps)[0], y ** (1.0 / exponent)), 1e-4)
        return np.asarray((np.cbrt(root**exponent) - aim).ravel() * 10.0)

    free = count * (DEGREE - 1)
    start = np.append(np.zeros(free), np.log(2.0))
    lower = np.append(np.full(free, -4.0), 0.0)
    upper = np.append(np.full(free, 4.0), np.log(10.0))
    fitted = least_squares(misfit, start, bounds=(lower, upper), max_nfev=15)
    steps, exponent = unpack(fitted.x)
    roots = np.maximum(reflectance, _FLOOR) ** (1.0 / exponent)
    return AreaCoverageModel(steps, _overprints(_coverages(inks, steps)[0], roots), exponent)


def _coverages(inks: FloatArray, steps: FloatArray) -> tuple[FloatArray, FloatArray]:
    pairs = [bernstein(inks[:, k], steps[k]) for k in range(len(steps))]
    return np.stack([p[0] for p in pairs], axis=1), np.stack([p[1] for p in pairs], axis=1)


def _demichel(coverage: FloatArray, replaced: int | None = None) -> FloatArray:
    """Return Demichel weights; for the ``replaced`` ink its derivative's factors -1 and 1."""
    from strikeoff.model.kernels import demichel_weights

    weights = np.empty((len(coverage), 1 << coverage.shape[1]))
    demichel_weights(np.ascontiguousarray(coverage), -1 if replaced is None else replaced, weights)
    return weights


def _mixed(coverage: FloatArray, overprints: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return overprints mixed by Demichel's weights, (m, n_bands), and slopes in coverage, (.., d)."""
    count = coverage.shape[1]
    slopes = np.empty((len(coverage), overprints.shape[1], count))
    for ink in range(count):
        slopes[:, :, ink] = _demichel(coverage, replaced=ink) @ overprints
    return _demichel(coverage) @ overprints, slopes


def _mixed_by_halves(coverage: FloatArray, overprints: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what :func:`_mixed` does: sums over one half of the inks serve all slopes of the other."""
    count, bands = coverage.shape[1], overprints.shape[1]
    low = count // 2
    cube = overprints.reshape(1 << (count - low), 1 << low, bands)
    over_high = cube.reshape(len(cube), -1)
    over_low = np.ascontiguousarray(cube.transpose(1, 0, 2)).reshape(1 << low, -1)
    value = np.empty((len(coverage), bands))
    slopes = np.empty((len(coverage), bands, count))
    for start in range(0, len(coverage), _CHUNK):
        rows = slice(start, start + _CHUNK)
        first, last = coverage[rows, :low], coverage[rows, low:]
        summed = (_demichel(last) @ over_high).reshape(len(first), 1 << low, bands)
        value[rows] = (_demichel(first)[:, None] @ summed)[:, 0]
        slopes[rows, :, :low] = (_all_replaced(first) @ summed).transpose(0, 2, 1)
        summed = (_demichel(first) @ over_low).reshape(len(first), len(cube), bands)
        slopes[rows, :, low:] = (_all_replaced(last) @ summed).transpose(0, 2, 1)
    return value, slopes


def _all_replaced(coverage: FloatArray) -> FloatArray:
    """Return the derivatives of Demichel weights in each coverage, shape (m, d, 2 ** d)."""
    return np.stack([_demichel(coverage, replaced=ink) for ink in range(coverage.shape[1])], axis=1)


def _overprints(coverage: FloatArray, roots: FloatArray) -> FloatArray:
    """Ridge least squares of the overprints, drawn towards products of single inks."""
    rows, count = coverage.shape
    weights = _demichel(coverage)
    if rows < 1 << count:
        products, dual = _solve_by_rows(coverage, roots)
        return np.asarray(_products(products, count) + weights.T @ dual)
    return _solve_by_overprints(weights, roots, count)


def _fitted_roots(coverage: FloatArray, roots: FloatArray) -> FloatArray:
    """Return what :func:`_overprints` of the same readings predicts for them."""
    rows, count = coverage.shape
    if rows < 1 << count:
        # Of readings less their own misfit, which the ridge holds at that times the dual.
        return roots - _RIDGE * _solve_by_rows(coverage, roots)[1]
    weights = _demichel(coverage)
    return np.asarray(weights @ _solve_by_overprints(weights, roots, count))


def _solve_by_overprints(weights: FloatArray, roots: FloatArray, count: int) -> FloatArray:
    """Solve a system of the size of the overprints."""
    gram = weights.T @ weights
    moment = weights.T @ roots
    size = len(gram)
    loose = np.linalg.solve(gram + 10 * _RIDGE * np.eye(size), moment + 10 * _RIDGE * roots.min(axis=0))
    singles = np.concatenate([loose[:1], np.stack([loose[1 << k] for k in range(count)])])
    product = _products(singles, count)
    return np.asarray(np.linalg.solve(gram + _RIDGE * np.eye(size), moment + _RIDGE * product))


def _solve_by_rows(coverage: FloatArray, roots: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Solve the dual system, of the size of the readings: many inks have more overprints than those.

    The overprints themselves are never formed: the inner product of two rows of Demichel's weights is a
    product over inks (here of two halves of them), and so is the weighted sum of products of single inks.

    Returns
    -------
    singles : ndarray, shape (n_inks + 1, n_bands)
        Cloth and solid inks before the second solve.
    dual : ndarray, shape (n, n_bands)
        The overprints are the products of ``singles`` and ``weights.T @ dual``.
    """
    count = coverage.shape[1]
    without = 1.0 - coverage
    halves = _demichel(coverage[:, : count // 2]), _demichel(coverage[:, count // 2 :])
    gram = np.asarray((halves[0] @ halves[0].T) * (halves[1] @ halves[1].T))
    darkest = roots.min(axis=0)
    diagonal = np.diag_indices(len(gram))
    gram[diagonal] += 10 * _RIDGE
    dual = scipy.linalg.cho_solve(scipy.linalg.cho_factor(gram, lower=True), roots - darkest)
    alone = [without.prod(axis=1)]
    alone += [coverage[:, k] * np.delete(without, k, axis=1).prod(axis=1) for k in range(count)]
    singles = darkest + np.stack(alone) @ dual
    cloth, ratio = _ratios(singles)
    product = np.full(roots.shape, cloth)
    for ink in range(count):
        product *= without[:, ink, None] + coverage[:, ink, None] * ratio[ink]
    gram[diagonal] -= 9 * _RIDGE
    return singles, scipy.linalg.cho_solve(scipy.linalg.cho_factor(gram, lower=True), roots - product)


def _ratios(singles: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the cloth, shape (n_bands,), and what each ink leaves of it, shape (n_inks, n_bands)."""
    cloth = np.maximum(singles[0], 1e-3)
    return cloth, np.maximum(singles[1:], 0.02) / cloth


def _products(singles: FloatArray, count: int) -> FloatArray:
    """Return every overprint as the product of its inks, shape (2 ** count, n_bands)."""
    cloth, ratio = _ratios(singles)
    member = (np.arange(1 << count)[:, None] >> np.arange(count)) & 1
    return np.asarray(cloth * np.exp(member @ np.log(ratio)))
