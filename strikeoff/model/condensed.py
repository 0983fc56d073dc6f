"""A rough, quick copy of a forward model of many inks, for the many evaluations on the way to a solution.

Beyond four inks no grid is small enough, and the model itself sums over all its readings. The copy has the
area-coverage model in X, Y, Z instead of bands, or in a few bands where inks mix in one layer, and a few
hundred centres for what that leaves over. Solutions found with it are put right on the model itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import comb

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from strikeoff.model.covariance import Kernel
from strikeoff.model.forward import LabModel, View
from strikeoff.model.gaussian import GaussianProcess, in_parts
from strikeoff.model.limits import InkLimits
from strikeoff.model.neugebauer import AreaCoverageModel
from strikeoff.model.table import NODES, InksToLab

FloatArray = NDArray[np.float64]

_CENTRES = 500
# Recipes that the copy is fitted to: corners of the limits at most, mixtures of two, others, of few inks.
_CORNERS, _EDGES, _ANY, _FEW = 250, 1500, 1000, 1000
_FEW_INKS = 5
_LEAST_READINGS = 150
_WIDER, _NOISE = 2.0, 1e-6
_FEW_BANDS, _DARK_XYZ = 6, 0.3


@dataclass(frozen=True)
class CondensedModel:
    """Area coverage in X, Y, Z and a small Gaussian process on top.

    Attributes
    ----------
    view : View
        Those bands to Lab.
    physics : AreaCoverageModel
        With X, Y, Z over white for bands; with a few of the bands where inks mix in one layer.
    rest : GaussianProcess
        Lab that the physics leaves over.
    """

    view: View
    physics: AreaCoverageModel
    rest: GaussianProcess

    @property
    def n_inks(self) -> int:
        """Number of inks."""
        return int(self.rest.centres.shape[1])

    def lab(self, inks: FloatArray) -> FloatArray:
        """Return Lab, shape (m, 3), of ink coverages, shape (m, n_inks)."""
        return self.view.lab(self._bands(inks)[0]) + self.rest.predict(inks)

    def jacobian(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return Lab, shape (m, 3), and its slopes, shape (m, 3, n_inks)."""
        bands, band_slope = self._bands(inks)
        rest, rest_slope = self.rest.jacobian(inks)
        return self.view.lab(bands) + rest, self.view.lab_slopes(bands, band_slope) + rest_slope

    def _bands(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what ``physics.jacobian`` does, all inks in one pass."""
        from strikeoff.model.kernels_condensed import neugebauer_roots

        bands = self.physics.overprints.shape[1]
        root = np.empty((len(inks), bands))
        slope = np.empty((len(inks), bands, self.n_inks))
        inks = np.ascontiguousarray(inks)

        def work(rows: slice) -> None:
            neugebauer_roots(inks[rows], self._curves, self.physics.overprints, root[rows], slope[rows])

        in_parts(work, len(inks))
        value, gain = self.physics.seen(root)
        return value, slope * gain[:, :, None]

    @cached_property
    def _curves(self) -> FloatArray:
        """Tone curves as polynomials in ink, lowest power first, shape (n_inks, degree + 1)."""
        steps = self.physics.steps
        degree = steps.shape[1]
        ordinates = np.hstack([np.zeros((len(steps), 1)), np.cumsum(steps, axis=1)])
        powers = np.zeros((degree + 1, degree + 1))
        for i in range(degree + 1):
            for p in range(i, degree + 1):
                powers[i, p] = comb(degree, i) * comb(degree - i, p - i) * (-1.0) ** (p - i)
        return np.asarray(ordinates @ powers)


def condense(model: InksToLab, limits: InkLimits) -> InksToLab:
    """Return a condensed copy of a model of many inks and readings; the model itself in other cases.

    Parameters
    ----------
    model : InksToLab
        The exact model.
    limits : InkLimits
        Where the copy must be good.
    """
    if not isinstance(model, LabModel) or model.n_inks in NODES:
        return model
    if len(model.free.centres) < _LEAST_READINGS:
        return model
    inks, centres = _samples(limits, np.random.default_rng(31))
    physics, view = _in_xyz(model) if model.physics.layer is None else _in_few_bands(model, inks)
    left_over = model.lab(inks) - view.lab(physics.predict(inks))
    kernel = Kernel(_WIDER * model.anchored.kernel.scales, _NOISE)
    # The projected process (Rasmussen & Williams, 8.3.2: subset of regressors), as least squares.
    own = kernel.covariance(centres, centres)
    own[np.diag_indices(len(own))] += 1e-8 * own.trace() / len(own)
    stiff = np.sqrt(_NOISE) * scipy.linalg.cholesky(own)
    q, r = scipy.linalg.qr(np.vstack([kernel.covariance(inks, centres), stiff]), mode="economic")
    weights = np.asarray(scipy.linalg.solve_triangular(r, q[: len(inks)].T @ left_over), np.float64)
    return CondensedModel(view, physics, GaussianProcess(centres, kernel, weights))


def _samples(limits: InkLimits, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return legal recipes that the copy is fitted to, and those of them that are its centres.

    Recipes that separations use most lie at the limits: random ones alone left corners of the total,
    dark ones above all, 1.3 CIEDE2000 off and up to 5.
    """
    size = len(limits.per_ink)
    corners = limits.corners()
    first, second = corners[rng.integers(0, len(corners), (2, _EDGES))]
    share = rng.random((_EDGES, 1))
    count = rng.integers(2, min(size, _FEW_INKS) + 1, (_FEW, 1))
    held = rng.random((_FEW, size)).argsort(axis=1).argsort(axis=1) < count
    inks = np.vstack(
        [
            np.zeros((1, size)),
            np.diag(limits.alone()),
            corners[rng.permutation(len(corners))[:_CORNERS]],
            share * first + (1.0 - share) * second,
            limits.random(_ANY, rng) * rng.random((_ANY, 1)) ** 0.25,
            limits.pulled_in(rng.random((_FEW, size)) * held * limits.per_ink),
        ]
    )
    chosen = size + 1 + rng.permutation(len(inks) - size - 1)[: _CENTRES - size - 1]
    return inks, inks[np.append(np.arange(size + 1), chosen)]


def _in_xyz(model: LabModel) -> tuple[AreaCoverageModel, View]:
    physics, white = model.physics, model.view.white
    # Free of bounds, a fitted overprint may lie a little below 0: it then reflects nothing.
    bands = physics.seen(np.maximum(physics.overprints, 0.0))[0]
    solids = bands @ model.view.matrix / white
    return replace(physics, overprints=physics.mixing(np.maximum(solids, 1e-6))), View(np.diag(white), white)


def _in_few_bands(model: LabModel, inks: FloatArray) -> tuple[AreaCoverageModel, View]:
    """Return the physics in a few of its bands, and how these best make X, Y, Z of recipes.

    Absorption adds up within narrow bands only.
    """
    spectra = model.physics.predict(inks)
    count = spectra.shape[1]
    few = np.unique(np.linspace(0, count - 1, min(count, _FEW_BANDS) + 2).round().astype(int)[1:-1])
    xyz = spectra @ model.view.matrix
    # Differences count as they are seen.
    seen = 1.0 / np.maximum(xyz, _DARK_XYZ) ** (2.0 / 3.0)
    matrix = np.stack(
        [
            np.linalg.lstsq(spectra[:, few] * w[:, None], x * w, rcond=None)[0]
            for x, w in zip(xyz.T, seen.T, strict=True)
        ],
        axis=1,
    )
    physics = replace(model.physics, overprints=np.ascontiguousarray(model.physics.overprints[:, few]))
    return physics, View(matrix, model.view.white)
