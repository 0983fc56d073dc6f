"""Area-coverage model of an ink set: the physical prior of the forward model.

Yule-Nielsen modified spectral Neugebauer: R^(1/n) = sum over overprints of weight x P^(1/n), with
Demichel's weights from effective coverages. Curves, exponent and overprints are fitted together
to the readings; overprints that were never printed lean on the product of their inks. Where inks mix in
one layer (`absorption`), the same sum runs over ratios of absorption to scattering.

References
----------
J. A. C. Yule, W. J. Nielsen, TAGA Proc. 3 (1951), 65-76; J. A. S. Viggiano, TAGA Proc. (1985),
647-661 (spectral form); M. E. Demichel, Procede 26 (1924), 17-21, 26-27; P. Kubelka, F. Munk, Z. techn.
Physik 12 (1931), 593-601 (layer).
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
_MOST_WEIGHTS = 1 << 22
# Darker is no print, and lighter than 0.96 of the white no slope.
_LEAST_INSIDE, _LEAST_ABSORPTION = 1e-4, 1e-3


@dataclass(frozen=True)
class Layer:
    """Where inks mix in one layer, such as dyes in fibres: light beneath its surface, by Kubelka and Munk.

    Attributes
    ----------
    surface : float
        Reflectance of what never enters the layer. [-]
    white : float
        Reflectance of a layer that absorbs nothing; above 1 on cloth that fluoresces. [-]
    """

    surface: float
    white: float

    def absorption(self, reflectance: FloatArray) -> FloatArray:
        """Return absorption over scattering of reflectances; those out of range count as at its ends."""
        inside = np.clip((reflectance - self.surface) / (self.white - self.surface), _LEAST_INSIDE, 1.0)
        return np.asarray(np.maximum((1.0 - inside) ** 2 / (2.0 * inside), _LEAST_ABSORPTION))

    def reflectance(self, absorption: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return reflectances of absorption over scattering, and their slopes."""
        k = np.maximum(absorption, _LEAST_ABSORPTION)
        root = np.sqrt(k * (k + 2.0))
        inside = (self.white - self.surface) / (1.0 + k + root)
        return self.surface + inside, -inside / root


@dataclass(frozen=True)
class AreaCoverageModel:
    """A fitted area-coverage model.

    Attributes
    ----------
    steps : ndarray, shape (n_inks, DEGREE)
        Increments of the tone curves. [-]
    overprints : ndarray, shape (2 ** n_inks, n_bands)
        Overprints to the power 1/n, or their absorption over scattering; bit k of the row number says
        whether ink k is there. [-]
    exponent : float
        Yule-Nielsen n; without meaning where inks mix in one layer. [-]
    layer : Layer or None
        Where inks mix in one layer.
    """

    steps: FloatArray
    overprints: FloatArray
    exponent: float
    layer: Layer | None = None

    def predict(self, inks: FloatArray) -> FloatArray:
        """Return reflectances, shape (n, n_bands), of ink coverages, shape (n, n_inks)."""
        coverage, _ = coverages(inks, self.steps)
        mixed = np.empty((len(inks), self.overprints.shape[1]))
        # Twelve inks have 4,096 overprints.
        rows = max(1, _MOST_WEIGHTS // len(self.overprints))
        for start in range(0, len(inks), rows):
            mixed[start : start + rows] = demichel_shares(coverage[start : start + rows]) @ self.overprints
        return self.seen(mixed)[0]

    def jacobian(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return reflectances, shape (n, n_bands), and their slopes, shape (n, n_bands, n_inks)."""
        coverage, slope = coverages(inks, self.steps)
        mixed = _mixed if inks.shape[1] < _HALVED_FROM else _mixed_by_halves
        root, slopes = mixed(coverage, self.overprints)
        value, gain = self.seen(root)
        slopes *= gain[:, :, None]
        slopes *= slope[:, None, :]
        return value, slopes

    def seen(self, mixed: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return reflectances of what the overprints mix to, and their slopes."""
        if self.layer is not None:
            return self.layer.reflectance(mixed)
        root = np.maximum(mixed, _FLOOR)
        value = root**self.exponent
        return value, self.exponent * value / root

    def mixing(self, reflectance: FloatArray) -> FloatArray:
        """Return what mixes, of reflectances: the inverse of `seen`."""
        if self.layer is not None:
            return self.layer.absorption(reflectance)
        return np.asarray(np.maximum(reflectance, _FLOOR) ** (1.0 / self.exponent))


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
        root = np.maximum(_fitted_roots(coverages(x, steps)[0], y ** (1.0 / exponent)), 1e-4)
        return np.asarray((np.cbrt(root**exponent) - aim).ravel() * 10.0)

    free = count * (DEGREE - 1)
    start = np.append(np.zeros(free), np.log(2.0))
    lower = np.append(np.full(free, -4.0), 0.0)
    upper = np.append(np.full(free, 4.0), np.log(10.0))
    fitted = least_squares(misfit, start, bounds=(lower, upper), max_nfev=15)
    steps, exponent = unpack(fitted.x)
    roots = np.maximum(reflectance, _FLOOR) ** (1.0 / exponent)
    return AreaCoverageModel(steps, _overprints(coverages(inks, steps)[0], roots), exponent)


def without_itself(model: AreaCoverageModel, inks: FloatArray, reflectance: FloatArray) -> FloatArray:
    """Return what a fitted model would say of each reading if its overprints had not been fitted to it.

    Parameters
    ----------
    model : AreaCoverageModel
        From :func:`fit_area_coverage` of these readings.
    inks, reflectance
        As there.

    Returns
    -------
    ndarray, shape (n, n_bands)
        By the short form for ridge regression (D. M. Allen, Technometrics 16 (1974), 125-127; from
        memory). [-]
    """
    coverage = coverages(inks, model.steps)[0]
    roots = model.mixing(reflectance)
    off = roots - demichel_shares(coverage) @ model.overprints
    weights = demichel_shares(coverage)
    if len(inks) < weights.shape[1]:
        gram = weights @ weights.T
        gram[np.diag_indices(len(gram))] += _RIDGE
        own = 1.0 - _RIDGE * np.diag(np.linalg.inv(gram))
    else:
        gram = weights.T @ weights
        gram[np.diag_indices(len(gram))] += _RIDGE
        half = scipy.linalg.solve_triangular(np.linalg.cholesky(gram), weights.T, lower=True)
        own = (half**2).sum(axis=0)
    return model.seen(roots - off / np.maximum(1.0 - own, 1e-9)[:, None])[0]


def coverages(inks: FloatArray, steps: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return effective coverages and their slopes, both shape (n, n_inks), by tone curves."""
    pairs = [bernstein(inks[:, k], steps[k]) for k in range(len(steps))]
    return np.stack([p[0] for p in pairs], axis=1), np.stack([p[1] for p in pairs], axis=1)


def demichel_shares(coverage: FloatArray, replaced: int | None = None) -> FloatArray:
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
        slopes[:, :, ink] = demichel_shares(coverage, replaced=ink) @ overprints
    return demichel_shares(coverage) @ overprints, slopes


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
        summed = (demichel_shares(last) @ over_high).reshape(len(first), 1 << low, bands)
        value[rows] = (demichel_shares(first)[:, None] @ summed)[:, 0]
        slopes[rows, :, :low] = (_all_replaced(first) @ summed).transpose(0, 2, 1)
        summed = (demichel_shares(first) @ over_low).reshape(len(first), len(cube), bands)
        slopes[rows, :, low:] = (_all_replaced(last) @ summed).transpose(0, 2, 1)
    return value, slopes


def _all_replaced(coverage: FloatArray) -> FloatArray:
    """Return the derivatives of Demichel weights in each coverage, shape (m, d, 2 ** d)."""
    return np.stack([demichel_shares(coverage, replaced=ink) for ink in range(coverage.shape[1])], axis=1)


def _overprints(coverage: FloatArray, roots: FloatArray) -> FloatArray:
    """Ridge least squares of the overprints, drawn towards products of single inks."""
    rows, count = coverage.shape
    weights = demichel_shares(coverage)
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
    weights = demichel_shares(coverage)
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
    halves = demichel_shares(coverage[:, : count // 2]), demichel_shares(coverage[:, count // 2 :])
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
