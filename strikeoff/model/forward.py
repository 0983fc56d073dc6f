"""Forward model: inks to colour, as the mean of two experts.

The *free* expert regresses Lab on inks directly; the *anchored* one regresses what the
area-coverage model leaves over. They err differently where readings are few, so their mean, weighted by
what each says of readings left out, is better than either; where readings are many they agree. The
kernel of what is left over is a product over inks, so that an ink may do the same whatever it meets.
"""

from __future__ import annotations

import threading
import weakref
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.model.covariance import Kernel
from strikeoff.model.expert_share import EVEN, anchored_share
from strikeoff.model.gaussian import GaussianProcess, explained_variance, factor, solve_weights
from strikeoff.model.layer_fit import fit_layer
from strikeoff.model.likelihood import fit_kernel
from strikeoff.model.neugebauer import AreaCoverageModel, fit_area_coverage, without_itself

FloatArray = NDArray[np.float64]

_PATCHES_PER_INK = 4
_BARE = 1e-6
_CLOTH_READINGS = 20.0

_SOLVING = threading.Lock()


@dataclass(frozen=True)
class View:
    """How bands become XYZ: an illuminant and observer, as weights.

    Attributes
    ----------
    matrix : ndarray, shape (n_bands, 3)
        Band values times this are XYZ with Y = 100 for the perfect diffuser.
    white : ndarray, shape (3,)
        XYZ of the perfect diffuser.
    """

    matrix: FloatArray
    white: FloatArray

    def lab(self, bands: FloatArray) -> FloatArray:
        """Return Lab, shape (..., 3), of band values, shape (..., n_bands)."""
        return xyz_to_lab(bands @ self.matrix, self.white)

    def lab_slopes(self, bands: FloatArray, slopes: FloatArray) -> FloatArray:
        """Return Lab slopes, shape (n, 3, n_inks), from band slopes, shape (n, n_bands, n_inks)."""
        ratio = bands @ self.matrix / self.white
        gain = np.where(ratio > (6 / 29) ** 3, np.cbrt(np.maximum(ratio, 1e-9)) ** -2 / 3, 841 / 108)
        xyz = np.einsum("nbk,bc->nck", slopes, self.matrix / self.white) * gain[:, :, None]
        return np.stack(
            [116 * xyz[:, 1], 500 * (xyz[:, 0] - xyz[:, 1]), 200 * (xyz[:, 1] - xyz[:, 2])], axis=1
        )


@dataclass(frozen=True)
class ForwardModel:
    """What was learnt from readings, independent of the light.

    Attributes
    ----------
    recipes : ndarray, shape (n, n_inks)
        Distinct recipes. [-]
    repeats : ndarray, shape (n,)
        Readings behind each recipe.
    bands : ndarray, shape (n, n_bands)
        Mean reflectance factor, or X, Y, Z over white where no spectra exist. [-]
    free, anchored : Kernel
        Hyperparameters of the two experts.
    physics : AreaCoverageModel
        What the second expert stands on.
    share : float
        How much the second expert counts, 0-1. [-]
    """

    recipes: FloatArray
    repeats: FloatArray
    bands: FloatArray
    free: Kernel
    anchored: Kernel
    physics: AreaCoverageModel
    share: float = EVEN

    def under(self, view: View) -> LabModel:
        """Return the model of Lab under a light and observer."""
        lab = view.lab(self.bands)
        base = view.lab(self.physics.predict(self.recipes))
        centre = lab.mean(axis=0)
        return LabModel(
            view,
            centre,
            self._process(self.free, lab - centre),
            self._process(self.anchored, lab - base),
            self.physics,
            self.share,
        )

    def reflectance(self, inks: FloatArray) -> FloatArray:
        """Return predicted band values, shape (m, n_bands), of inks, shape (m, n_inks).

        The first call solves for the weights of all bands; they are kept.
        """
        with _SOLVING:
            centre, free, rest = self._root_experts
        anchored = np.cbrt(self.physics.predict(inks)) + rest.predict(inks)
        return np.asarray(mean(centre + free.predict(inks), anchored, self.share) ** 3)

    @cached_property
    def _root_experts(self) -> tuple[FloatArray, GaussianProcess, GaussianProcess]:
        """Mean cube root of the bands, what the free expert adds to it and the other one to the physics."""
        roots = np.cbrt(self.bands)
        base = np.cbrt(self.physics.predict(self.recipes))
        centre = roots.mean(axis=0)
        return centre, self._process(self.free, roots - centre), self._process(self.anchored, roots - base)

    def relative_spread(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the model's doubt, shape (m,), and the share of its square that is not noise, shape (m,).

        The doubt is a lightness difference, up to a common factor: the free expert's predictive deviation
        of cube-root reflectance, reading noise included. It grows with distance from the readings, and
        means the same for models of other readings.
        """
        chol, scale = _LATEST.solved(self)
        variance = explained_variance(self.free, self.recipes, chol, inks)
        whole = variance + self.free.noise
        return np.asarray(116.0 * np.sqrt(scale * whole)), np.asarray(variance / whole)

    def _solve_free(self) -> tuple[tuple[FloatArray, bool], float]:
        """Return the factor of the free expert's matrix, and the variance that its kernel is relative to."""
        chol = factor(self.free, self.recipes, self.repeats)
        roots = np.cbrt(self.bands)
        roots = roots - roots.mean(axis=0)
        return chol, float((scipy.linalg.cho_solve(chol, roots) * roots).sum(axis=0).mean() / len(roots))

    def _process(self, kernel: Kernel, targets: FloatArray) -> GaussianProcess:
        weights = solve_weights(kernel, self.recipes, targets, self.repeats)
        return GaussianProcess(self.recipes, kernel, weights)


class _Latest:
    """What the doubt of the model that was asked last needs.

    It is as large as the readings squared, so only one is kept, and no longer than its model.
    """

    def __init__(self) -> None:
        self._kept: tuple[weakref.ref[ForwardModel], tuple[tuple[FloatArray, bool], float]] | None = None

    def solved(self, model: ForwardModel) -> tuple[tuple[FloatArray, bool], float]:
        """Return ``model._solve_free()``, of now or of the call before."""
        kept = self._kept
        if kept is not None and kept[0]() is model:
            return kept[1]
        found = model._solve_free()
        self._kept = weakref.ref(model, self._forget), found
        return found

    def _forget(self, gone: weakref.ref[ForwardModel]) -> None:
        kept = self._kept
        if kept is not None and kept[0] is gone:
            self._kept = None


_LATEST = _Latest()


@dataclass(frozen=True)
class LabModel:
    """Inks to Lab under one light and observer."""

    view: View
    centre: FloatArray
    free: GaussianProcess
    anchored: GaussianProcess
    physics: AreaCoverageModel
    share: float = EVEN

    @property
    def n_inks(self) -> int:
        """Number of inks."""
        return int(self.free.centres.shape[1])

    def lab(self, inks: FloatArray) -> FloatArray:
        """Return Lab, shape (m, 3), of ink coverages, shape (m, n_inks)."""
        return self.disagreement(inks)[0]

    def disagreement(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return Lab, shape (m, 3), and how far apart the two experts are in it, shape (m,)."""
        free = self.centre + self.free.predict(inks)
        anchored = self.view.lab(self.physics.predict(inks)) + self.anchored.predict(inks)
        return mean(free, anchored, self.share), np.asarray(np.linalg.norm(free - anchored, axis=1))

    def jacobian(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return Lab, shape (m, 3), and its slopes, shape (m, 3, n_inks)."""
        free, free_slope = self.free.jacobian(inks)
        rest, rest_slope = self.anchored.jacobian(inks)
        bands, band_slope = self.physics.jacobian(inks)
        lab = mean(self.centre + free, self.view.lab(bands) + rest, self.share)
        return lab, mean(free_slope, rest_slope + self.view.lab_slopes(bands, band_slope), self.share)


def mean(free: FloatArray, anchored: FloatArray, share: float) -> FloatArray:
    """Return the mean of both experts, of which the second counts ``share``."""
    return np.asarray((1.0 - share) * free + share * anchored)


def fit_forward(
    recipes: FloatArray,
    repeats: FloatArray,
    bands: FloatArray,
    view: View,
    wanted: Callable[[], None] = lambda: None,
) -> ForwardModel:
    """Fit the forward model.

    Parameters
    ----------
    recipes : ndarray, shape (n, n_inks)
        Distinct recipes, 0-1. [-]
    repeats : ndarray, shape (n,)
        Readings averaged into each.
    bands : ndarray, shape (n, n_bands)
        Reflectance factor, or X, Y, Z over white. [-]
    view : View
        Light and observer under which the hyperparameters are chosen.
    wanted : callable
        Called between steps; may raise to cancel.

    Returns
    -------
    ForwardModel

    Raises
    ------
    InputError
        When there are too few recipes for the number of inks.
    """
    count = recipes.shape[1]
    needed = _PATCHES_PER_INK * count + 2
    if len(recipes) < needed:
        raise InputError(
            "too few distinct patches for this many inks",
            found=f"{len(recipes)} patches, {count} inks",
            expected=f"{needed} or more",
            advice="Print and measure a larger chart",
        )
    lab = view.lab(bands)
    physics, unseen = _fit_physics(recipes, bands, wanted)
    apart = lab - lab.mean(axis=0)
    free = fit_kernel(recipes, apart, wanted=wanted)
    anchored = fit_kernel(recipes, lab - view.lab(physics.predict(recipes)), by_ink=True, wanted=wanted)
    share = anchored_share(recipes, repeats, (free, apart), (anchored, lab - view.lab(unseen)))
    # Everything is seen against the bare cloth, so the model goes through its reading.
    counts = np.where(recipes.sum(axis=1) < _BARE, _CLOTH_READINGS * repeats, repeats)
    return ForwardModel(recipes, counts, bands, free, anchored, physics, share)


def _fit_physics(
    recipes: FloatArray, bands: FloatArray, wanted: Callable[[], None]
) -> tuple[AreaCoverageModel, FloatArray]:
    """Return how inks mix, by area or in one layer, and what that says of readings without themselves."""
    by_area = fit_area_coverage(recipes, bands, wanted=wanted)
    unseen = without_itself(by_area, recipes, bands)
    misfit = _misfit(unseen, bands)
    layer = fit_layer(recipes, bands, to_beat=misfit, wanted=wanted)
    if layer is not None and _misfit(layer.unseen, bands) < misfit:
        return layer.model, layer.unseen
    return by_area, unseen


def _misfit(found: FloatArray, bands: FloatArray) -> float:
    return float(np.sqrt(np.mean((np.cbrt(found) - np.cbrt(bands)) ** 2)))
