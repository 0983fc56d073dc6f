"""Which patches a condition should have read next, and when more are not worth their cloth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.progress import Progress, silent
from strikeoff.chart.designs import neutrals, overprints, single_ramps
from strikeoff.chart.patch_sets import ChartLimits
from strikeoff.chart.space_filling import MOST_TOGETHER, legal_points
from strikeoff.condition.record import Condition
from strikeoff.model.covariance import Kernel
from strikeoff.model.design import (
    amplitudes,
    choose,
    choose_together,
    squares_per_variance,
    trusted_kernel,
    usual_kernel,
)
from strikeoff.model.error_bars import covered_radius
from strikeoff.qualify.chart_limits import chart_limits

FloatArray = NDArray[np.float64]

#: Gain in mean CIEDE2000 per 50 patches below which more patches are not worth it.
LEAST_GAIN_DE00 = 0.1
BLOCK = 50

_CANDIDATES = 1200
_RAMP = (0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 1.0)
_NEUTRAL_SHARE = 0.2
_SAME = 0.02
#: Mean over root mean square length of a normal error in three dimensions.
_MEAN_OVER_RMS = 0.921
#: Mean error over mean 90 % radius: 0.43 to 0.60 for 60 to 400 patches of a measured four-ink set; no source.
_MEAN_OVER_RADIUS = 0.55

Reason = Literal["patches", "target", "gain"]


@dataclass(frozen=True)
class Proposal:
    """Patches to read next.

    Attributes
    ----------
    recipes : ndarray, shape (n, n_inks)
        The most useful first. [-]
    expected_de00 : ndarray, shape (n + 1,)
        Expected mean error over the recipes that matter, before and after each, reading noise
        included. [CIEDE2000]
    stopped_by : {"patches", "target", "gain"}
        All that were asked for; the target is reached; 50 more gain less than 0.1.
    """

    recipes: FloatArray
    expected_de00: FloatArray
    stopped_by: Reason


def next_patches(
    condition: Condition,
    patches: int,
    *,
    artwork: FloatArray | None = None,
    target_de00: float | None = None,
    seed: int = 0,
    progress: Progress = silent,
) -> Proposal:
    """Propose the patches that most reduce the expected error of a condition.

    Parameters
    ----------
    condition : Condition
        As it is now.
    patches : int
        At most so many.
    artwork : ndarray, shape (m, n_inks), optional
        Recipes of the artwork that matters; by default legal recipes (`usual_words`), edges and neutrals.
    target_de00 : float, optional
        Expected mean error to stop at. [CIEDE2000]
    seed : int
        Of the candidates.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Proposal
    """
    own = condition.recipe_limits
    limits = chart_limits(own)
    forward = condition.forward
    kernel = trusted_kernel(forward.free, len(forward.recipes))
    candidates = _candidates(condition.spaces.channels, limits, seed)
    if artwork is None:
        targets, share = _usual_targets(condition.spaces.channels, limits, seed)
    else:
        targets, share = artwork, np.full(len(artwork), 1.0 / len(artwork))
        candidates = np.vstack([candidates, _apart(artwork)])
    candidates = _unread(candidates, forward.recipes)
    lab = condition.native.view.lab(forward.bands)
    spread = amplitudes(kernel, forward.recipes, forward.repeats, lab)
    squares = squares_per_variance(*condition.native.jacobian(targets), spread)
    picks = choose(kernel, forward.recipes, forward.repeats, candidates, targets, squares, share)
    start = doubt_before(kernel, forward.recipes, forward.repeats, targets, squares, share)
    scale = _scale(condition, targets, share, start)
    expected = [scale * start]
    chosen: list[int] = []
    reason: Reason = "patches"
    for pick in picks:
        if len(chosen) == patches:
            break
        if target_de00 is not None and expected[-1] <= target_de00:
            reason = "target"
            break
        done = len(chosen)
        if done and done % BLOCK == 0 and expected[done - BLOCK] - expected[-1] < LEAST_GAIN_DE00:
            reason = "gain"
            break
        chosen.append(pick.index)
        expected.append(scale * pick.error)
        progress("choose patches", 0.5 * len(chosen) / patches)
    if target_de00 is not None and expected[-1] <= target_de00:
        reason = "target"
    given = (kernel, forward.recipes, forward.repeats, candidates, targets, squares, share)
    together = choose_together(*given, len(chosen), step=lambda f: progress("choose patches", 0.5 + 0.5 * f))
    recipes = candidates[together]
    ordered = list(choose(kernel, forward.recipes, forward.repeats, recipes, targets, squares, share))
    expected[1:] = [scale * pick.error for pick in ordered]
    return Proposal(recipes[[pick.index for pick in ordered]], np.array(expected), reason)


def usual_words(inks: int) -> str:
    """Return which recipes figures without artwork are about, by the number of inks.

    Examples
    --------
    >>> usual_words(2), usual_words(4), usual_words(8)
    ('all legal recipes', 'legal recipes of 2 to 4 inks', 'legal recipes of 2 to 5 inks')
    """
    return "all legal recipes" if inks <= 2 else f"legal recipes of 2 to {min(inks, MOST_TOGETHER)} inks"


def mean_radius(condition: Condition) -> float | None:
    """Return the mean 90 % radius over legal recipes, edges and neutrals; None without error figures.

    Of recipes as charts hold them, see `usual_words`. [CIEDE2000]
    """
    if condition.validation is None:
        return None
    own = condition.recipe_limits
    limits = chart_limits(own)
    targets, share = _usual_targets(condition.spaces.channels, limits, 0)
    return float(share @ _radii(condition, targets))


def expected_error(condition: Condition) -> float | None:
    """Return the expected mean error over legal recipes, edges and neutrals; None without error figures.

    From the radii of the condition; see `_scale` for why not from held-out patches. [CIEDE2000]
    """
    radius = mean_radius(condition)
    return None if radius is None else _MEAN_OVER_RADIUS * radius


def first_patches(inks: tuple[str, ...], limits: ChartLimits, patches: int, *, seed: int = 0) -> FloatArray:
    """Return the patches of a first chart, before anything is known but what inks usually do.

    Cloth and solids stand first; together the others most reduce a process's doubt, the kernel being usual.

    Returns
    -------
    ndarray, shape (patches, n_inks)
    """
    kernel = usual_kernel(len(inks))
    start = np.vstack([np.zeros((1, len(inks))), limits.kept(np.eye(len(inks)))])[:patches]
    candidates = _unread(_candidates(inks, limits, seed), start)
    targets, share = _usual_targets(inks, limits, seed)
    once, alike = np.ones(len(start)), np.ones(len(targets))
    count = patches - len(start)
    chosen = choose_together(kernel, start, once, candidates, targets, alike, share, count)
    return np.vstack([start, candidates[chosen]])


def doubt_before(
    kernel: Kernel,
    read: FloatArray,
    repeats: FloatArray,
    targets: FloatArray,
    squares: FloatArray,
    share: FloatArray,
) -> float:
    """Return the mean doubt over the targets as things are; as in `design.Choice`."""
    from strikeoff.model.gaussian import explained_variance, factor

    variance = explained_variance(kernel, read, factor(kernel, read, repeats), targets)
    return float(share @ np.sqrt(squares * (variance + kernel.noise)))


def _candidates(inks: tuple[str, ...], limits: ChartLimits, seed: int) -> FloatArray:
    """Return recipes that may be printed: points all over, and the named places of ink space."""
    named = [
        limits.kept(np.eye(len(inks))),
        limits.kept(single_ramps(len(inks), _RAMP) * limits.per_ink),
        overprints(limits),
        neutrals(inks, limits),
    ]
    rows = np.vstack([*named, legal_points(_CANDIDATES, limits, seed=seed)])
    _, first = np.unique(rows.round(4), axis=0, return_index=True)
    return rows[np.sort(first)]


def _usual_targets(inks: tuple[str, ...], limits: ChartLimits, seed: int) -> tuple[FloatArray, FloatArray]:
    """Return recipes that matter when no artwork is named, and the share of each."""
    points = legal_points(_CANDIDATES, limits, seed=seed + 1)
    grey = neutrals(inks, limits)
    share = np.full(len(points), 1.0 / len(points))
    if len(grey) == 0:
        return points, share
    grey_share = np.full(len(grey), _NEUTRAL_SHARE / len(grey))
    return np.vstack([points, grey]), np.append((1.0 - _NEUTRAL_SHARE) * share, grey_share)


def _unread(candidates: FloatArray, read: FloatArray) -> FloatArray:
    """Return the candidates that stand at least 2 % of an ink from everything read."""
    gap = np.full(len(candidates), np.inf)
    for row in read:
        gap = np.minimum(gap, np.abs(candidates - row).max(axis=1))
    return candidates[gap >= _SAME]


def _apart(recipes: FloatArray) -> FloatArray:
    """Return recipes at least 2 % of an ink from each other: flat artwork has few in many pixels."""
    kept = recipes[:1]
    for row in recipes[1:]:
        if np.abs(kept - row).max(axis=1).min() >= _SAME:
            kept = np.vstack([kept, row])
    return kept


def _scale(condition: Condition, targets: FloatArray, share: FloatArray, start: float) -> float:
    """Return what turns doubt into mean error: what the condition's own radii say of the targets over it.

    Mean errors on held-out recipes would not do: a small chart stands on its corners, and to leave one out is
    to extrapolate, which twice the error of its predictions comes from.
    """
    if condition.validation is None or start <= 0:
        return _MEAN_OVER_RMS
    return _MEAN_OVER_RADIUS * float(share @ _radii(condition, targets)) / start


def _radii(condition: Condition, targets: FloatArray) -> FloatArray:
    assert condition.validation is not None
    return covered_radius(condition.forward, condition.native, targets, condition.validation.radius_scale)
