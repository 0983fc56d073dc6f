"""Fit of inks that mix in one layer, as dyes do in fibres: what each absorbs adds up.

Absorption over scattering of the cloth and, of each ink, its curve times its solid's, less of it the more
inks come together. Curves, surface and that loss are chosen to meet the readings evenly in lightness; the
solids follow from them, band by band, by weighted least squares.

References
----------
P. Kubelka, F. Munk, Z. techn. Physik 12 (1931), 593-601; additive absorption of dyes: D. R. Duncan, Proc.
Phys. Soc. 52 (1940), 390-401 (from memory); search with the linear part solved within: G. H. Golub,
V. Pereyra, SIAM J. Numer. Anal. 10 (1973), 413-432 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from strikeoff.model.neugebauer import AreaCoverageModel, Layer, demichel_shares
from strikeoff.model.tone import increments, risen

FloatArray = NDArray[np.float64]

#: Increments of a tone curve: absorption grows steeply where tones are even to the eye.
CURVE_STEPS = 8

_FREE = CURVE_STEPS - 1
_FIT_ROWS, _FIT_BANDS = 400, 12
_TRIALS, _SETTLED = (8, 30), 1e-4
# A search that is this far behind after its first steps does not catch up.
_BEHIND = 2.0
_CURVE_SPREAD, _CURVE_BOUND = 2.0, 6.0
_USUAL_MISFIT = 0.02
# Surface over the darkest reading, loss per ink more.
_START, _LOW, _HIGH = (0.3, 0.02), (0.0, -0.2), (0.97, 0.6)
_STEP = 1e-6
_ABOVE_LIGHTEST = 1.05
_LEAST_LEFT = 0.1
_TINY = 1e-5


@dataclass(frozen=True)
class LayerFit:
    """A fitted model, and what it says of each reading without that reading.

    Attributes
    ----------
    model : AreaCoverageModel
        With a layer.
    unseen : ndarray, shape (n, n_bands)
        Reflectance. [-]
    """

    model: AreaCoverageModel
    unseen: FloatArray


@dataclass(frozen=True)
class _Solids:
    """Absorption of the cloth and of what each ink adds, shape (1 + n_inks, n_bands), and all behind it."""

    steps: FloatArray
    layer: Layer
    share: FloatArray
    added: FloatArray
    mixed: FloatArray
    own: FloatArray
    coverage: FloatArray
    taken: FloatArray
    weight: FloatArray
    inverse: FloatArray


def fit_layer(
    inks: FloatArray,
    reflectance: FloatArray,
    *,
    to_beat: float = np.inf,
    seed: int = 0,
    wanted: Callable[[], None] = lambda: None,
) -> LayerFit | None:
    """Fit curves, surface, loss and solids to readings.

    Parameters
    ----------
    inks : ndarray, shape (n, n_inks)
        Ink coverages of distinct recipes, 0-1. [-]
    reflectance : ndarray, shape (n, n_bands)
        Reflectance factors. [-]
    to_beat : float
        Root mean square misfit of cube roots of reflectance that another model has.
    seed : int
        Chooses the rows on which all but the solids are fitted when there are many.
    wanted : callable
        Called between steps; may raise to cancel.

    Returns
    -------
    LayerFit or None
        None where such a model is worse than ``to_beat``.
    """
    count, bands = inks.shape[1], reflectance.shape[1]
    rows = np.random.default_rng(seed).permutation(len(inks))[:_FIT_ROWS]
    some = np.unique(np.linspace(0, bands - 1, min(bands, _FIT_BANDS)).round().astype(int))
    x, y = inks[rows], np.maximum(reflectance[np.ix_(rows, some)], _TINY)
    aim, free, basis = np.cbrt(y), count * _FREE, _basis(x)
    # A patch or two read as nothing must not say that the surface reflects nothing.
    passed = min(max(1, len(reflectance) // 100), len(reflectance) - 1)
    darkest = max(float(np.sort(reflectance.min(axis=1))[passed]), _TINY)
    white = max(1.0, _ABOVE_LIGHTEST * float(reflectance.max()))

    def misfit(parameters: FloatArray) -> FloatArray:
        wanted()
        solids = _solve(parameters, basis, y, darkest, white)
        off = (np.cbrt(solids.layer.reflectance(solids.mixed)[0]) - aim).ravel()
        return np.append(off, _USUAL_MISFIT / _CURVE_SPREAD * parameters[:free])

    def slopes(parameters: FloatArray) -> FloatArray:
        out = np.zeros((aim.size + free, free + 2))
        solids = _solve(parameters, basis, y, darkest, white)
        value, gain = solids.layer.reflectance(solids.mixed)
        gain *= np.cbrt(value) / (3.0 * value)
        out[: aim.size, :free] = (gain[:, :, None] * _curve_slopes(solids, basis)).reshape(aim.size, free)
        out[aim.size + np.arange(free), np.arange(free)] = _USUAL_MISFIT / _CURVE_SPREAD
        for k in (free, free + 1):
            step = np.where(np.arange(free + 2) == k, -_STEP if parameters[k] > 0.1 else _STEP, 0.0)
            out[: aim.size, k] = (misfit(parameters + step) - misfit(parameters))[: aim.size] / step[k]
        return out

    found = np.append(np.zeros(free), _START)
    lower, upper = (
        np.append(np.full(free, -_CURVE_BOUND), _LOW),
        np.append(np.full(free, _CURVE_BOUND), _HIGH),
    )
    for trials, behind in zip(_TRIALS, (_BEHIND, 1.0), strict=True):
        fitted = least_squares(misfit, found, slopes, (lower, upper), max_nfev=trials, ftol=_SETTLED)
        found = fitted.x
        if np.sqrt(np.mean(fitted.fun[: aim.size] ** 2)) > behind * to_beat:
            return None
    return _finished(found, inks, np.maximum(reflectance, _TINY), darkest, white)


def _finished(
    parameters: FloatArray, inks: FloatArray, reflectance: FloatArray, darkest: float, white: float
) -> LayerFit:
    solids = _solve(parameters, _basis(inks), reflectance, darkest, white)
    model = AreaCoverageModel(
        solids.steps, solids.added[0] + solids.share @ solids.added[1:], 1.0, solids.layer
    )
    absorbed = solids.layer.absorption(reflectance)
    left_out = (absorbed - solids.mixed) / np.maximum(1.0 - solids.own, _LEAST_LEFT)
    return LayerFit(model, solids.layer.reflectance(absorbed - left_out)[0])


def _basis(inks: FloatArray) -> FloatArray:
    """Return how far the increments of each ink's curve have risen, shape (n_inks, n, CURVE_STEPS)."""
    return np.stack([risen(ink, CURVE_STEPS) for ink in inks.T])


def _solve(
    parameters: FloatArray, basis: FloatArray, reflectance: FloatArray, darkest: float, white: float
) -> _Solids:
    """Return the solids of given curves, surface and loss."""
    count, rows = basis.shape[:2]
    steps = np.stack([increments(row) for row in parameters[:-2].reshape(count, _FREE)])
    layer = Layer(float(parameters[-2]) * darkest, white)
    member = ((np.arange(1 << count)[:, None] >> np.arange(count)) & 1).astype(np.float64)
    together = np.maximum(member.sum(axis=1) - 1.0, 0.0)
    share = member / (1.0 + parameters[-1] * together)[:, None]
    coverage = (basis @ steps[:, :, None])[:, :, 0].T
    taken = np.column_stack([np.ones(rows), demichel_shares(coverage) @ share])
    absorbed = layer.absorption(reflectance)
    # Errors count as they are seen, in cube roots of reflectance.
    weight = (layer.reflectance(absorbed)[1] * reflectance ** (-2.0 / 3.0)) ** 2
    pairs = (taken[:, :, None] * taken[:, None, :]).reshape(rows, -1)
    gram = (weight.T @ pairs).reshape(-1, count + 1, count + 1)
    gram[:, np.arange(count + 1), np.arange(count + 1)] *= 1.0 + 1e-9
    gram += 1e-12 * np.eye(count + 1)
    inverse = np.linalg.inv(gram)
    added = np.einsum("bij,jb->ib", inverse, taken.T @ (weight * absorbed))
    own = weight * (pairs @ inverse.reshape(len(inverse), -1).T)
    # Together no ink may leave less than a part of what the cloth absorbs.
    added[1:] = np.maximum(added[1:], -(1.0 - _LEAST_LEFT) * np.abs(added[0]) / count)
    return _Solids(steps, layer, share, added, taken @ added, own, coverage, taken, weight, inverse)


def _curve_slopes(solids: _Solids, basis: FloatArray) -> FloatArray:
    """Return the slopes of what mixes over the curves' parameters, shape (n, n_bands, n_inks * free).

    What the solids make good of a change is taken off; how they follow it otherwise is left out (L. Kaufman,
    BIT 15 (1975), 49-57; from memory).
    """
    out = np.empty((*solids.mixed.shape, len(basis) * _FREE))
    for ink, steps in enumerate(solids.steps):
        # Softmax: each parameter raises its own increment at the cost of all.
        risen_by = basis[ink] * steps
        along = (risen_by - risen_by.sum(axis=1)[:, None] * steps)[:, :_FREE]
        gain = demichel_shares(solids.coverage, ink) @ solids.share @ solids.added[1:]
        change = gain[:, :, None] * along[:, None, :]
        moment = np.einsum("ni,nbj->bij", solids.taken, solids.weight[:, :, None] * change, optimize=True)
        change -= np.einsum("ni,bij->nbj", solids.taken, solids.inverse @ moment, optimize=True)
        out[:, :, ink * _FREE : (ink + 1) * _FREE] = change
    return out
