"""How wrong the model is on readings that it has not seen.

Repeats of one recipe always stay on one side of a split. Few recipes leave the size of error bars to
chance: there every recipe is left out once more, in ten parts, and the bars rest on these errors.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator

from strikeoff.base.threads import side_by_side
from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.error_bars import (
    DARK_LIGHTNESS,
    NEUTRAL_CHROMA,
    Doubt,
    ErrorBarFigures,
    RadiusScale,
    doubt,
    joined,
    judge_bars,
    radius_scale,
)
from strikeoff.model.forward import View, fit_forward

FloatArray = NDArray[np.float64]

SPLITS = 5
HELD_OUT = 0.2
#: Up to so many recipes, error bars rest on parts, so many, that leave out every recipe once.
FEW, PARTS = 200, 10

_WORKERS = 2
_BARE = 1e-6


@dataclass(frozen=True)
class ErrorFigures:
    """Held-out CIEDE2000 of one group of patches."""

    group: str
    patches: int
    mean: float
    percentile_95: float
    maximum: float

    def as_record(self) -> dict[str, object]:
        """Return the figures for JSON output."""
        return {
            "group": self.group,
            "patches": self.patches,
            "mean_de00": round(self.mean, 4),
            "p95_de00": round(self.percentile_95, 4),
            "max_de00": round(self.maximum, 4),
        }


def split_recipes(count: int, *, splits: int = SPLITS) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Yield (training, held-out) row numbers of distinct recipes; split s is drawn with seed s."""
    held = max(1, round(HELD_OUT * count))
    for seed in range(splits):
        order = np.random.default_rng(seed).permutation(count)
        yield np.sort(order[held:]), np.sort(order[:held])


def parts_of_few(count: int) -> list[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Return (training, held-out) row numbers of few distinct recipes, each held out once; none of many."""
    if count > FEW:
        return []
    order = np.random.default_rng(SPLITS).permutation(count)
    held = [np.sort(part) for part in np.array_split(order, min(PARTS, count))]
    return [(np.setdiff1d(order, part), part) for part in held]


def held_out_rows(count: int) -> NDArray[np.intp]:
    """Return the recipe behind each of `Validation.errors`, for so many distinct recipes."""
    return np.concatenate([test for _, test in split_recipes(count)])


def patch_groups(recipes: FloatArray, lab: FloatArray) -> dict[str, NDArray[np.bool_]]:
    """Return masks of all patches, neutrals, darks, totals over 250 %, solids and single inks."""
    solid = (recipes <= _BARE) | (recipes >= 1.0 - _BARE)
    return {
        "all": np.ones(len(recipes), bool),
        "neutrals": np.hypot(lab[:, 1], lab[:, 2]) < NEUTRAL_CHROMA,
        "darks": lab[:, 0] < DARK_LIGHTNESS,
        "totals over 250 %": recipes.sum(axis=1) > 2.5,
        "solids": solid.all(axis=1) & (recipes > _BARE).any(axis=1),
        "single inks": (recipes > 0).sum(axis=1) == 1,
    }


@dataclass(frozen=True)
class Validation:
    """Held-out errors over all splits.

    Attributes
    ----------
    groups : tuple of ErrorFigures
        Figures by group of patches.
    radius_scale : RadiusScale
        What turns the model's doubt into a CIEDE2000 radius.
    errors : ndarray, shape (n,)
        Every held-out CIEDE2000.
    bars : ErrorBarFigures or None
        Whether such radii hold what they promise; None in conditions made before it was kept.
    """

    groups: tuple[ErrorFigures, ...]
    radius_scale: RadiusScale
    errors: FloatArray
    bars: ErrorBarFigures | None = None

    def figure(self, group: str) -> ErrorFigures:
        """Return the figures of a group."""
        return next(g for g in self.groups if g.group == group)


def validate(
    recipes: FloatArray,
    repeats: FloatArray,
    bands: FloatArray,
    view: View,
    step: Callable[[float], None] = lambda fraction: None,
) -> Validation:
    """Refit on each training part and judge on what was held out.

    Parameters
    ----------
    recipes, repeats, bands, view
        As for :func:`strikeoff.model.forward.fit_forward`.
    step : callable
        Told the fraction done; may raise to cancel.
    """
    truth = view.lab(bands)
    splits, parts = list(split_recipes(len(recipes))), parts_of_few(len(recipes))

    def judge(
        split: tuple[NDArray[np.intp], NDArray[np.intp]], wanted: Callable[[], None]
    ) -> tuple[FloatArray, Doubt]:
        train, test = split
        model = fit_forward(recipes[train], repeats[train], bands[train], view, wanted)
        under = model.under(view)
        error = delta_e_2000(truth[test], under.lab(recipes[test]))
        return error, doubt(model, under, recipes[test])

    every = splits + parts
    found = side_by_side(judge, every, _WORKERS, lambda done: step(done / len(every)))
    error = np.concatenate([errors for errors, _ in found[:SPLITS]])
    index = np.concatenate([test for _, test in splits])
    scale, bars = _bars(found[SPLITS:] or found, parts or splits, truth)
    return Validation(
        tuple(_figures(name, error[mask[index]]) for name, mask in patch_groups(recipes, truth).items()),
        scale,
        error,
        bars,
    )


def _bars(
    found: list[tuple[FloatArray, Doubt]],
    splits: list[tuple[NDArray[np.intp], NDArray[np.intp]]],
    truth: FloatArray,
) -> tuple[RadiusScale, ErrorBarFigures]:
    """Return the scale of the radii and how such radii did, from errors and doubts by split."""
    error, unsure = np.concatenate([errors for errors, _ in found]), joined([doubts for _, doubts in found])
    number = np.repeat(np.arange(len(splits)), [len(test) for _, test in splits])
    index = np.concatenate([test for _, test in splits])
    return radius_scale(error, unsure), judge_bars(error, unsure, number, truth[index])


def interpolation_errors(
    recipes: FloatArray, lab: FloatArray, train: NDArray[np.intp], test: NDArray[np.intp]
) -> FloatArray:
    """Return held-out CIEDE2000 of the baseline: cubic radial-basis interpolation of Lab.

    The smoothing is chosen by a further split of the training part alone.
    """
    inner = np.random.default_rng(len(train)).permutation(train)
    cut = max(1, len(inner) // 5)

    def predicted(rows: NDArray[np.intp], at: NDArray[np.intp], smoothing: float) -> FloatArray:
        spline = RBFInterpolator(recipes[rows], lab[rows], kernel="cubic", smoothing=smoothing)
        return np.asarray(spline(recipes[at]))

    choices = (1e-4, 1e-3, 3e-3, 1e-2, 3e-2, 1e-1)
    trials = [
        delta_e_2000(lab[inner[:cut]], predicted(inner[cut:], inner[:cut], value)).mean() for value in choices
    ]
    return np.asarray(delta_e_2000(lab[test], predicted(train, test, choices[int(np.argmin(trials))])))


def _figures(name: str, error: FloatArray) -> ErrorFigures:
    if len(error) == 0:
        return ErrorFigures(name, 0, 0.0, 0.0, 0.0)
    ordered = np.sort(error)
    rank = int(np.ceil(0.95 * len(ordered))) - 1
    return ErrorFigures(name, len(error), float(error.mean()), float(ordered[rank]), float(ordered[-1]))
