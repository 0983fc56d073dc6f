"""How far a prediction may be off: radii that hold 90 % of errors, and whether they do.

The shape of a radius comes from the model, its size from held-out errors, and so does how it goes
with darkness, greyness and the model's own doubt: readings of one device are noisier in the dark, those
of another calmer, and some models are prouder of themselves than others. Constants were chosen on two
open CMYK sets, whole and thinned to 60-150 patches, and on simulated presses of three to seven inks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from strikeoff.model.company import inks_beyond, pair_distance
from strikeoff.model.descent import colour_weights
from strikeoff.model.forward import ForwardModel, LabModel

FloatArray = NDArray[np.float64]

COVERAGE = 0.90
#: CIELAB chroma below which a patch counts as neutral, lightness below which it counts as dark.
NEUTRAL_CHROMA, DARK_LIGHTNESS = 8.0, 30.0

_APART_SHARE = 0.5
# Spread told by a process is too proud of itself near readings and too shy far from them.
_POWER = 0.8
# Equal errors in Lab are seen best in greys. What readings left unsaid about several inks also meets
# there; their noise does not.
_METRIC_POWER = 0.4
_GREY_SHARE, _GREY_CHROMA = 1.25, 12.0
# Pairs of inks are found printed within this distance in any usual chart.
_PAIR_NEAR, _PAIR_SHARE = 0.15, 1.0
_BEYOND_SHARE = 0.15
_SAFETY = 1.0
_LEAST_ERROR = 1e-3

# How radii go with darkness, greyness and doubt: spread of the slopes before any error is seen, how soft
# the loss is, and what one error weighs.
_DARK_DECAY, _DARK_HEIGHT = 25.0, 2.0
_SLOPE_SPREAD, _SOFTNESS, _ERROR_WEIGHT = 0.2, 0.1, 4.0
# What was learnt from held-out errors holds for doubts as large as theirs.
_TRUSTED = 0.9
# Darkness and greyness.
_FADING = 2
_LEAST_DOUBT = 1e-12

# Few errors tell their middle better than their tail: logarithms of quantiles of error over doubt, less
# that of the 90 % one, mean of five large sets (-0.63 to -0.70 for the median). The usual size, 1.4-1.9
# over nine sets, whole and thinned, counts as so many errors more; half as many where errors say
# something else by so much in the logarithm, and few where they clearly do.
_BODY = {0.5: -0.66, 0.6: -0.52, 0.7: -0.38, 0.8: -0.21, 0.9: 0.0}
_BODY_WORTH = 200.0
_USUAL_SIZE, _USUAL_WORTH, _USUAL_SPREAD = 1.6, 40.0, 0.3


@dataclass(frozen=True)
class RadiusScale:
    """What turns the model's doubt into a CIEDE2000 radius.

    Attributes
    ----------
    size : float
        Factor where darkness, greyness and doubt are usual.
    slopes, usual : tuple of float
        Of the factor's logarithm with darkness, greyness and the logarithm of the doubt, and what is
        usual of these. Conditions made before the third was learnt have two.
    trusted : float
        Doubt up to which the slopes hold. Beyond, those with darkness and greyness fade, and the radius
        grows as the doubt does.
    """

    size: float
    slopes: tuple[float, ...] = ()
    usual: tuple[float, ...] = ()
    trusted: float = 1.0

    def radius(self, doubt: Doubt) -> FloatArray:
        """Return the CIEDE2000 radius, shape (m,)."""
        return np.asarray(self.size * doubt.shape * np.exp(self._departure(doubt) @ np.array(self.slopes)))

    def _departure(self, doubt: Doubt) -> FloatArray:
        known = np.minimum(doubt.shape, self.trusted)
        columns = np.column_stack([doubt.traits, np.log(np.maximum(known, _LEAST_DOUBT))])
        columns = columns[:, : len(self.usual)] - np.array(self.usual)
        columns[:, :_FADING] *= (known / np.maximum(doubt.shape, _LEAST_DOUBT))[:, None] ** 2
        return np.asarray(columns)


@dataclass(frozen=True)
class Doubt:
    """How unsure a model is of recipes.

    Attributes
    ----------
    shape : ndarray, shape (m,)
        CIEDE2000 up to a common factor.
    traits : ndarray, shape (m, 2)
        Darkness and greyness of the predicted colours. [-]
    """

    shape: FloatArray
    traits: FloatArray

    def of(self, rows: NDArray[np.bool_]) -> Doubt:
        """Return that of some of the recipes."""
        return Doubt(self.shape[rows], self.traits[rows])


def joined(doubts: Sequence[Doubt]) -> Doubt:
    """Return the doubts of several sets of recipes one after another."""
    return Doubt(np.concatenate([d.shape for d in doubts]), np.concatenate([d.traits for d in doubts]))


@dataclass(frozen=True)
class ErrorBarFigures:
    """How 90 % radii did on held-out patches, their size set by the other splits.

    Attributes
    ----------
    covered : dict of str to float
        Share of errors within their radius: all, the thirds with the smallest, middle and largest
        radii, neutrals, darks. [0-1]
    interval_score, constant_score : float
        Mean interval score of these radii, and of one constant radius set likewise. [CIEDE2000]
    relative_median : float
        Median radius over the 90 % quantile of the errors. [-]

    References
    ----------
    T. Gneiting, A. E. Raftery, J. Am. Stat. Assoc. 102 (2007), 359-378: interval score, section 6.2
    (here one-sided, since an error in CIEDE2000 has no sign).
    """

    covered: dict[str, float]
    interval_score: float
    constant_score: float
    relative_median: float


def doubt(forward: ForwardModel, model: LabModel, inks: FloatArray) -> Doubt:
    """Return how unsure a model is of recipes.

    Parameters
    ----------
    forward : ForwardModel
        What was learnt.
    model : LabModel
        The same under the light of the colours.
    inks : ndarray, shape (m, n_inks)
        Recipes. [-]
    """
    lab, apart = model.disagreement(inks)
    spread, unsaid = forward.relative_spread(inks)
    raw = np.hypot(spread, _APART_SHARE * apart)
    metric = (colour_weights(lab) ** 2).sum(axis=(1, 2)) / 3.0
    traits = _traits(lab)
    unprinted = np.maximum(pair_distance(inks, forward.recipes) - _PAIR_NEAR, 0.0)
    shape = raw**_POWER * metric**_METRIC_POWER
    shape *= (1.0 + _GREY_SHARE * unsaid * traits[:, 1]) * (1.0 + _PAIR_SHARE * unprinted)
    shape *= 1.0 + _BEYOND_SHARE * inks_beyond(inks, forward.recipes)
    return Doubt(np.asarray(shape), traits)


def _traits(lab: FloatArray) -> FloatArray:
    """Return darkness, 2 in black and near 0 in pale colours, and greyness, 1 on the neutral axis."""
    darkness = _DARK_HEIGHT * np.exp(-np.maximum(lab[:, 0], 0.0) / _DARK_DECAY)
    return np.stack([darkness, np.exp(-np.hypot(lab[:, 1], lab[:, 2]) / _GREY_CHROMA)], axis=1)


def covered_radius(
    forward: ForwardModel, model: LabModel, inks: FloatArray, scale: RadiusScale
) -> FloatArray:
    """Return the CIEDE2000 radius that holds 90 % of held-out errors, shape (m,).

    Parameters
    ----------
    forward, model, inks
        As for :func:`doubt`.
    scale : RadiusScale
        ``Validation.radius_scale``.
    """
    return scale.radius(doubt(forward, model, inks))


def radius_scale(error: FloatArray, unsure: Doubt) -> RadiusScale:
    """Return the scale with which radii hold 90 % of errors like these.

    Slopes by quantile regression of log(error / doubt), its corner rounded, drawn to 0 the more the
    fewer the errors; then the size.

    Parameters
    ----------
    error : ndarray, shape (n,)
        Held-out CIEDE2000.
    unsure : Doubt
        Of the same recipes.

    References
    ----------
    R. Koenker, G. Bassett, Econometrica 46 (1978), 33-50: regression quantiles.
    """
    trusted = float(np.quantile(unsure.shape, _TRUSTED))
    known = np.log(np.clip(unsure.shape, _LEAST_DOUBT, trusted))
    usual = (*unsure.traits.mean(axis=0).tolist(), float(known.mean()))
    plain = RadiusScale(1.0, (0.0,) * len(usual), usual, trusted)
    aim = np.log(np.maximum(error, _LEAST_ERROR) / unsure.shape)
    columns = np.column_stack([np.ones(len(aim)), plain._departure(unsure)])

    def loss(p: FloatArray) -> tuple[float, FloatArray]:
        above = (aim - columns @ p) / _SOFTNESS
        value = (np.logaddexp(0.0, above) - (1.0 - COVERAGE) * above).sum() * _SOFTNESS
        push = 1.0 / (1.0 + np.exp(-np.clip(above, -500.0, 500.0))) - (1.0 - COVERAGE)
        gradient = -_ERROR_WEIGHT * (columns.T @ push)
        gradient[1:] += p[1:] / _SLOPE_SPREAD**2
        return float(_ERROR_WEIGHT * value + 0.5 * (p[1:] @ p[1:]) / _SLOPE_SPREAD**2), gradient

    start = np.append(np.quantile(aim, COVERAGE), np.zeros(len(usual)))
    slopes = minimize(loss, start, jac=True, method="L-BFGS-B").x[1:]
    learnt = replace(plain, slopes=tuple(slopes.tolist()))
    return replace(learnt, size=_size(error / learnt.radius(unsure)))


def covering(error: FloatArray) -> float:
    """Return the 90 % quantile of errors, and its standard error more.

    Few errors say little about their tail.
    """
    level = COVERAGE + _SAFETY * np.sqrt(COVERAGE * (1.0 - COVERAGE) / len(error))
    return float(np.quantile(error, min(level, 1.0)))


def _size(ratio: FloatArray) -> float:
    """Return what covers errors over doubts: their tail where many, their body and the usual where few."""
    count, logs = len(ratio), np.log(np.maximum(ratio, _LEAST_ERROR))
    body = np.mean([np.quantile(logs, level) - offset for level, offset in _BODY.items()])
    off = np.log(_USUAL_SIZE) - body
    worth = _USUAL_WORTH / (1.0 + (off / _USUAL_SPREAD) ** 2)
    body += worth / (count + worth) * off
    weight = count / (count + _BODY_WORTH)
    return float(np.exp(weight * np.log(covering(np.exp(logs))) + (1.0 - weight) * body))


def judge_bars(error: FloatArray, unsure: Doubt, split: NDArray[np.intp], lab: FloatArray) -> ErrorBarFigures:
    """Say whether radii hold what they promise on patches that set neither model nor size.

    Parameters
    ----------
    error : ndarray, shape (n,)
        Held-out CIEDE2000.
    unsure : Doubt
        Of the same recipes.
    split : ndarray, shape (n,)
        Which split each row was held out in; two or more.
    lab : ndarray, shape (n, 3)
        Colours that were read.

    Returns
    -------
    ErrorBarFigures
    """
    radius, constant = np.empty_like(error), np.empty_like(error)
    for number in np.unique(split):
        here = split == number
        radius[here] = radius_scale(error[~here], unsure.of(~here)).radius(unsure.of(here))
        constant[here] = covering(error[~here])
    inside = error <= radius
    parts = dict(
        zip(
            ("smallest radii", "middle radii", "largest radii"),
            np.array_split(np.argsort(radius), 3),
            strict=True,
        )
    )
    masks = {"neutrals": np.hypot(lab[:, 1], lab[:, 2]) < NEUTRAL_CHROMA, "darks": lab[:, 0] < DARK_LIGHTNESS}
    covered = {"all": float(inside.mean())}
    covered |= {name: float(inside[rows].mean()) for name, rows in parts.items() if len(rows)}
    covered |= {name: float(inside[mask].mean()) for name, mask in masks.items() if mask.any()}
    return ErrorBarFigures(
        covered,
        interval_score(error, radius),
        interval_score(error, constant),
        float(np.median(radius) / np.quantile(error, COVERAGE)),
    )


def interval_score(error: FloatArray, radius: FloatArray) -> float:
    """Return the mean score of 90 % intervals: width, and ten times what lies beyond."""
    return float((radius + np.maximum(error - radius, 0.0) / (1.0 - COVERAGE)).mean())
