"""Readings against aims: a verdict with its uncertainty."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import group_means, merge_repeats, recipe_groups
from strikeoff.verification.roles import ROLES, patch_roles
from strikeoff.verification.statistics import FORMULA_LABELS, FORMULAE, STATISTICS
from strikeoff.verification.tolerances import Guard, ToleranceItem, ToleranceSet
from strikeoff.verification.uncertainty import (
    Scatter,
    aim_sd_from_radius,
    more_readings,
    spread_of,
)
from strikeoff.verification.verdict import Outcome, Verdict, VerdictItem, overall

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# Below so many degrees of freedom the scatter of repeats is itself too uncertain to undercut the default.
_FEWEST_FREEDOM = 6


def judge(
    readings: ReadingSet,
    aim_lab: ArrayLike,
    tolerances: ToleranceSet,
    *,
    aim_radius_90: ArrayLike = 0.0,
    illuminant: str | None = None,
    observer: str | None = None,
    roles: Mapping[str, BoolArray] | None = None,
    trials: int = 1000,
    seed: int = 1,
) -> Verdict:
    """Judge readings against aims.

    Parameters
    ----------
    readings : ReadingSet
        Rows of one recipe are repeats and averaged as spectra, else as XYZ, else as Lab. A row is one
        reading, or the mean of as many as it says, which divides its noise.
    aim_lab : array_like, shape (n, 3)
        Aim of each row under the light of judgement; equal for rows of one recipe.
    tolerances : ToleranceSet
        Limits and guard.
    aim_radius_90 : array_like, shape () or (n,)
        Radius around each aim that holds the truth in 90 % of cases. [CIELAB units]
    illuminant, observer : str, optional
        Light of judgement; default the readings' own.
    roles : mapping of str to ndarray of bool, shape (n,), optional
        Masks over the rows, as `patch_roles` makes them; default made from inks and aims.
    trials, seed : int
        Of the simulation behind U.

    Returns
    -------
    Verdict

    Raises
    ------
    InputError
        When shapes disagree, a number is not finite, or no item of the set finds a patch.
    UsageError
        Another light is asked of readings without spectra.

    Notes
    -----
    U = k u. u comes from simulating the scatter of readings (pooled over repeats, widened by Student's t
    where they are few), the instrument (one error common to all patches) and the aims. Pass if
    value + U < limit; fail if value - U > limit, less what noise alone adds to the value; else undecided.
    """
    aims = np.asarray(aim_lab, dtype=np.float64)
    if len(readings) == 0:
        raise InputError("no readings to judge", path=readings.source or None, expected="one patch or more")
    if aims.shape != (len(readings), 3):
        raise InputError("as many aims as readings are needed", found=aims.shape, expected=(len(readings), 3))
    each = readings_lab(readings, illuminant, observer)
    for what, values in (("aim", aims), ("reading", each)):
        bad = np.flatnonzero(~np.isfinite(values).all(axis=1))
        if bad.size:
            raise InputError(
                f"{what} is not a finite colour",
                path=readings.source or None,
                where=f"patch {readings.sample_ids[bad[0]]}",
            )
    groups = recipe_groups(readings.coverages)
    _, first = np.unique(groups, return_index=True)
    merged = merge_repeats(readings)
    measured = readings_lab(merged, illuminant, observer)
    counts = np.rint(merged.counts).astype(np.intp)
    covariance, freedom, noise_words = _reading_scatter(each, groups, readings.counts, tolerances.guard)
    scatter = Scatter(
        reading_covariance=covariance,
        counts=counts,
        instrument_sd=tolerances.guard.instrument_sd,
        aim_sd=aim_sd_from_radius(aim_radius_90, len(readings))[first],
    )
    masks = _masks(readings, aims, roles)
    masks = {name: mask[first] for name, mask in masks.items()}
    items, absent = [], []
    for item in tolerances.items:
        rows = np.flatnonzero(masks[item.patches])
        if rows.size == 0 and item.optional:
            absent.append(item.name)
            continue
        items.append(
            _judge_item(item, rows, merged, aims[first], measured, scatter, tolerances.guard, trials, seed)
        )
    if all(item.value is None for item in items):
        raise InputError(
            "none of the patches is named in the tolerance set",
            path=readings.source or None,
            expected="patches for " + ", ".join(sorted({item.patches for item in tolerances.items})),
        )
    return Verdict(
        items=tuple(items),
        outcome=overall(item.outcome for item in items),
        setup=_setup_line(readings, illuminant, observer, tolerances.guard, noise_words, counts),
        counts={
            "patches": len(merged),
            "readings": int(counts.sum()),
            "repeat_freedom": freedom,
            **{name: int(masks[name].sum()) for name in ROLES if name != "all"},
        },
        tolerances=tolerances.name,
        origin=tolerances.origin,
        not_judged=tuple(absent),
    )


def _judge_item(
    item: ToleranceItem,
    rows: NDArray[np.intp],
    merged: ReadingSet,
    aims: FloatArray,
    measured: FloatArray,
    scatter: Scatter,
    guard: Guard,
    trials: int,
    seed: int,
) -> VerdictItem:
    label = FORMULA_LABELS[item.formula]
    if rows.size == 0:
        return VerdictItem(
            item.name, None, None, 0.0, item.limit, "undecided", label, item.statistic, (), None
        )
    part = Scatter(
        scatter.reading_covariance, scatter.counts[rows], scatter.instrument_sd, scatter.aim_sd[rows]
    )
    differences = FORMULAE[item.formula](aims[rows], measured[rows])
    value = float(STATISTICS[item.statistic](differences))
    spread = spread_of(
        aims[rows],
        measured[rows],
        part,
        item.formula,
        item.statistic,
        coverage_factor=guard.coverage_factor,
        trials=trials,
        seed=seed,
    )
    expanded = guard.coverage_factor * spread.sd
    outcome = decide(value, expanded, item.limit, spread.bias)
    more = None
    if outcome == "undecided":
        # Noise variances add, so the harmonic mean stands for unequal numbers of readings.
        readings_now = float(part.counts.size / (1.0 / part.counts).sum())
        more = more_readings(value, item.limit, spread, guard.coverage_factor, readings_now)
    order = rows[np.argsort(-differences, kind="stable")]
    return VerdictItem(
        name=item.name,
        value=value,
        uncertainty=expanded,
        noise_bias=spread.bias,
        limit=item.limit,
        outcome=outcome,
        formula=label,
        statistic=item.statistic,
        patches=tuple(merged.sample_ids[row] for row in order),
        more_readings=more,
    )


def decide(value: float, uncertainty: float, limit: float, noise_bias: float = 0.0) -> Outcome:
    """Return pass if value + U < limit, fail if value - noise - U > limit, else undecided.

    Examples
    --------
    >>> decide(0.6, 0.3, 1.0), decide(1.4, 0.3, 1.0), decide(0.8, 0.3, 1.0)
    ('pass', 'fail', 'undecided')
    """
    if value + uncertainty < limit:
        return "pass"
    return "fail" if value - noise_bias - uncertainty > limit else "undecided"


def _reading_scatter(
    lab: FloatArray, groups: NDArray[np.intp], counts: FloatArray, guard: Guard
) -> tuple[FloatArray, int, str]:
    """Return the covariance of one reading, its degrees of freedom and where it comes from in words.

    Rows that are means of several readings, ``counts`` of each, scatter less and are weighed for it.
    """
    default = np.eye(3) * guard.reading_sd**2
    freedom = len(lab) - int(groups.max() + 1)
    if freedom == 0:
        why = "only means are given" if counts.max() > 1 else "nothing was read twice"
        return default, 0, f"reading scatter assumed {guard.reading_sd:g} per axis ({why})"
    from scipy.stats import t as student

    gaps = lab - group_means(lab, groups, counts)[groups]
    pooled = (gaps * counts[:, None]).T @ gaps / freedom
    # Student's t over the normal quantile: a scatter known from few repeats may be larger than it looks.
    widened = pooled * (float(student.ppf(0.975, freedom)) / 1.959964) ** 2
    if freedom < _FEWEST_FREEDOM and np.trace(widened) < np.trace(default):
        return default, freedom, f"reading scatter assumed {guard.reading_sd:g} per axis (too few repeats)"
    size = float(np.sqrt(np.trace(pooled) / 3))
    return widened, freedom, f"reading scatter {size:.2f} per axis from repeats, {freedom} degrees of freedom"


def _masks(
    readings: ReadingSet, aims: FloatArray, roles: Mapping[str, BoolArray] | None
) -> Mapping[str, BoolArray]:
    if roles is None:
        return patch_roles(readings.inks, readings.coverages, aims)
    for name in ROLES:
        if name not in roles or np.shape(roles[name]) != (len(readings),):
            raise InputError("roles do not fit the readings", where=name, expected=f"{len(readings)} values")
    return roles


def _setup_line(
    readings: ReadingSet,
    illuminant: str | None,
    observer: str | None,
    guard: Guard,
    noise_words: str,
    counts: NDArray[np.intp],
) -> str:
    setup = readings.setup
    each = f"{counts.min()}" if counts.min() == counts.max() else f"{counts.min()} to {counts.max()}"
    plural = "" if counts.max() == 1 else "s"
    parts = [
        f"{illuminant or setup.illuminant}, {observer or setup.observer}° observer",
        setup.mode or "measuring mode not stated",
        setup.geometry or "geometry not stated",
        f"{setup.backing} backing" if setup.backing else "backing not stated",
        f"{each} reading{plural} of each patch",
        noise_words,
        f"U = {guard.coverage_factor:g} u, instrument {guard.instrument_sd:g} per axis",
        "percentile by rank ceil(0.95 n)",
    ]
    return "; ".join(parts)
