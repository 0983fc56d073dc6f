"""How far a prediction may be off: radii that hold 90 % of errors, and whether they do.

The shape of a radius comes from the model, its size from held-out errors. The power and the
share of the greys were chosen on two open CMYK sets, whole and thinned to 60-300 patches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.descent import colour_weights
from strikeoff.model.forward import ForwardModel, LabModel

FloatArray = NDArray[np.float64]

COVERAGE = 0.90
#: CIELAB chroma below which a patch counts as neutral, lightness below which it counts as dark.
NEUTRAL_CHROMA, DARK_LIGHTNESS = 8.0, 30.0

_APART_SHARE = 0.5
# Spread told by a process is too proud of itself near readings and too shy far from them.
_POWER = 0.8
# Equal errors in Lab are seen best in greys, where the errors of several inks also meet.
_METRIC_POWER = 0.4
_GREY_SHARE, _GREY_CHROMA = 0.35, 12.0
_SAFETY = 1.0


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


def doubt(forward: ForwardModel, model: LabModel, inks: FloatArray) -> FloatArray:
    """Return the shape of the radius, shape (m,): CIEDE2000 up to a common factor.

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
    raw = np.hypot(forward.relative_spread(inks), _APART_SHARE * apart)
    metric = (colour_weights(lab) ** 2).sum(axis=(1, 2)) / 3.0
    grey = 1.0 + _GREY_SHARE * np.exp(-np.hypot(lab[:, 1], lab[:, 2]) / _GREY_CHROMA)
    return np.asarray(raw**_POWER * metric**_METRIC_POWER * grey)


def covered_radius(forward: ForwardModel, model: LabModel, inks: FloatArray, scale: float) -> FloatArray:
    """Return the CIEDE2000 radius that holds 90 % of held-out errors, shape (m,).

    Parameters
    ----------
    forward, model, inks
        As for :func:`doubt`.
    scale : float
        ``Validation.radius_scale``.
    """
    return scale * doubt(forward, model, inks)


def radius_scale(ratio: FloatArray) -> float:
    """Return the 90 % quantile of errors over doubts, and its standard error more.

    Few errors say little about their tail.
    """
    level = COVERAGE + _SAFETY * np.sqrt(COVERAGE * (1.0 - COVERAGE) / len(ratio))
    return float(np.quantile(ratio, min(level, 1.0)))


def judge_bars(
    error: FloatArray, shape: FloatArray, split: NDArray[np.intp], lab: FloatArray
) -> ErrorBarFigures:
    """Say whether radii hold what they promise on patches that set neither model nor size.

    Parameters
    ----------
    error, shape : ndarray, shape (n,)
        Held-out CIEDE2000 and its doubt.
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
        radius[here] = radius_scale(error[~here] / shape[~here]) * shape[here]
        constant[here] = radius_scale(error[~here])
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
