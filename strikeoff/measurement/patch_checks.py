"""Patches judged one by one: by their repeats, by the bare cloth and by their neighbours."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.colour.difference import delta_e_2000
from strikeoff.inks.roles import special_role
from strikeoff.measurement.findings import Finding, Rank
from strikeoff.measurement.neighbours import neighbour_predictions
from strikeoff.measurement.outliers import find_misfits, find_outliers
from strikeoff.measurement.plausible import check_white_lines, patch_place
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats, recipe_groups

FloatArray = NDArray[np.float64]

# Limits of this module are common practice, no source.
_REPEAT_LIMIT, _OTHERS_LIMIT = 3.0, 5.0
# Of so many repeats one is far from the others where it is so many times as far from their median as half of
# them are, and by so many CIEDE2000 at least. Common practice, no source.
_MANY_REPEATS, _TIMES, _LEAST_GAP = 8, 4.0, 1.0
_CLOTH_LIMIT = 3.0
# Cloth darker than this may be lightened by pigments that reflect, as yellow does, between the limit and so
# much; common practice, no source. [L*]
_DARK_CLOTH, _BY_PIGMENT = 50.0, 15.0
# No diffuser reflects so much; above it stands fluorescence, of which other messages tell. [-]
_FLUORESCES = 1.05
# Where more patches than this share are lighter than the cloth, the cloth's reading is doubted. [-]
_MANY = 0.1
# An ink lightens the cloth where so many steps of its ramp rise, none falls by more L* than this, and none
# makes up more than this share of all: a cloth that was read wrong would be one leap. Traces lighten nothing.
_FEWEST_STEPS, _FALL, _LEAP, _TRACE = 4, 1.0, 0.7, 0.01
# Most patches of one kind that are told one by one.
_MOST = 200
# A cause that holds this share of a finding's rows explains it.
_MOSTLY = 0.5


def check_repeats(readings: ReadingSet, lab: FloatArray) -> list[Finding]:
    """Return a warning for each patch that is far from its repeats, the worst first.

    The farthest is taken out before the other repeats are judged: next to it good ones look wrong. Of two
    nobody knows which is right, so that one warning tells of both. Many repeats tell their own noise, and
    with it of smaller faults.
    """
    groups = recipe_groups(readings.coverages)
    count = int(groups.max()) + 1 if groups.size else 0
    if count == len(readings):
        return []
    sums = np.zeros((count, 3))
    np.add.at(sums, groups, lab)
    sizes = np.bincount(groups, minlength=count)[groups]
    far = delta_e_2000(sums[groups] / sizes[:, None], lab) > _REPEAT_LIMIT
    others = delta_e_2000((sums[groups] - lab) / np.maximum(sizes - 1, 1)[:, None], lab)
    far |= (sizes > 1) & (others > _OTHERS_LIMIT)
    found: list[tuple[float, int, Finding]] = []
    for group in np.unique(groups[far]):
        rows = np.flatnonzero(groups == group)
        repeats = frozenset(rows.tolist())
        while rows.size > 1:
            beyond = [_from_mean(lab, row, rows[rows != row]) for row in rows.tolist()]
            worst = int(np.argmax(beyond))
            gap = _from_mean(lab, int(rows[worst]), rows)
            if not (gap > _REPEAT_LIMIT or beyond[worst] > _OTHERS_LIMIT):
                break
            row = int(rows[worst])
            problem = _apart(readings, rows, worst, beyond[worst], gap)
            found.append((beyond[worst], row, Finding(problem, Rank.PATCH, f"repeat {row}", repeats)))
            rows = np.delete(rows, worst) if rows.size > 2 else rows[:0]
    told = {row for _, row, _ in found}
    found += [one for one in _apart_from_many(readings, lab, groups) if one[1] not in told]
    found.sort(key=lambda one: (-one[0], one[1]))
    left = np.array([row for _, row, _ in found[_MOST:]], dtype=np.intp)
    return [finding for _, _, finding in found[:_MOST]] + _more(left, "repeats do not agree")


def _apart_from_many(
    readings: ReadingSet, lab: FloatArray, groups: NDArray[np.intp]
) -> list[tuple[float, int, Finding]]:
    """Return warnings of repeats that are far from many others, as `check_repeats` collects them."""
    found = []
    for group in np.flatnonzero(np.bincount(groups) >= _MANY_REPEATS):
        rows = np.flatnonzero(groups == group)
        gaps = delta_e_2000(np.median(lab[rows], axis=0), lab[rows])
        usual = float(np.median(gaps))
        limit = max(_TIMES * usual, _LEAST_GAP)
        for row, gap in zip(rows[gaps > limit].tolist(), gaps[gaps > limit].tolist(), strict=True):
            problem = Problem(
                "warning",
                patch_place(readings, row),
                f"patch differs from its {counted(rows.size - 1, 'repeat')}",
                found=f"{gap:.1f} CIEDE2000 from their median",
                expected=f"at most {limit:.1f}: half of them are within {usual:.2f}",
                advice="Measure it again, and leave it out if it is wrong",
            )
            finding = Finding(problem, Rank.PATCH, f"repeat {row}", frozenset(rows.tolist()))
            found.append((gap, row, finding))
    return found


def _from_mean(lab: FloatArray, row: int, rows: NDArray[np.intp]) -> float:
    return float(delta_e_2000(lab[rows].mean(axis=0), lab[row]))


def _apart(readings: ReadingSet, rows: NDArray[np.intp], worst: int, beyond: float, gap: float) -> Problem:
    """Return the warning that one of some repeats is far from the others; of two, that they are far apart."""
    if rows.size == 2:
        return Problem(
            "warning",
            patch_place(readings, int(rows[0])),
            f"patch differs from its repeat ({patch_place(readings, int(rows[1]))})",
            found=f"{beyond:.1f} CIEDE2000 apart",
            expected=f"at most {_OTHERS_LIMIT:g}",
            advice="Measure both again, and leave out the one that is wrong",
        )
    return Problem(
        "warning",
        patch_place(readings, int(rows[worst])),
        "patch differs from its repeats",
        found=f"{beyond:.1f} CIEDE2000 from the mean of {counted(rows.size - 1, 'other')}, "
        f"{gap:.1f} from that of all",
        expected=f"at most {_OTHERS_LIMIT:g}, and {_REPEAT_LIMIT:g} from that of all",
        advice="Measure the repeats again, and leave out the one that is wrong",
    )


def check_cloth(readings: ReadingSet, lab: FloatArray) -> list[Finding]:
    """Return what is to be said of patches that are lighter than the bare cloth.

    A note where inks that lighten the cloth, as white does on dark cloth, are in all of them: those whose
    ramps rise step by step, or that are named white and were printed without steps; else a warning.
    Patches that reflect more than all light of some band are not counted: they fluoresce.
    """
    bare = readings.coverages.max(axis=1) <= 0.0
    if not bare.any():
        return []
    cloth = float(lab[bare, 0].mean())
    lighter = lab[:, 0] > cloth + _CLOTH_LIMIT
    if readings.spectra is not None:
        lighter &= readings.spectra.max(axis=1) <= _FLUORESCES
    rows = np.flatnonzero(lighter)
    if rows.size == 0:
        return []
    worst = int(rows[np.argmax(lab[rows, 0])])
    covering = _lightening_inks(readings, lab, cloth)
    if covering and (readings.coverages[rows][:, covering].max(axis=1) > _TRACE).all():
        names = " and ".join(readings.inks[ink] for ink in covering)
        problem = Problem(
            "note",
            patch_place(readings, worst),
            f"{counted(rows.size, 'patch is', 'patches are')} lighter than the cloth, with ink {names}",
            found=f"L* {lab[worst, 0]:.1f} here, {cloth:.1f} bare",
        )
        return [Finding(problem, Rank.GROUP, "lighter than cloth")]
    if rows.size > _MANY * len(readings):
        darkest = int(np.flatnonzero(bare)[np.argmin(lab[bare, 0])])
        problem = Problem(
            "warning",
            patch_place(readings, darkest),
            f"bare cloth is darker than {counted(rows.size, 'patch')}",
            found=f"L* {lab[darkest, 0]:.1f}; {patch_place(readings, worst)} has {lab[worst, 0]:.1f}",
            expected="the cloth is the lightest patch",
            advice="Measure the cloth again, and check that rows and recipes belong together and that the "
            "columns hold reflectance, XYZ or Lab",
        )
        cloths = frozenset(np.flatnonzero(bare).tolist())
        return [Finding(problem, Rank.GROUP, "lighter than cloth", cloths)]
    problem = Problem(
        "warning",
        patch_place(readings, worst),
        f"{counted(rows.size, 'patch is', 'patches are')} lighter than the bare cloth, worst here",
        found=f"L* {lab[worst, 0]:.1f}",
        expected=f"at most {cloth:.1f} + {_CLOTH_LIMIT:g}",
        advice="Check that rows and recipes belong together",
    )
    return [Finding(problem, Rank.GROUP, "lighter than cloth", frozenset(rows.tolist()), _MOSTLY)]


def _lightening_inks(readings: ReadingSet, lab: FloatArray, cloth: float) -> list[int]:
    """Return the inks whose own ramps rise from the lightness of the cloth without falling back.

    White inks, by their names, that were printed without steps, over colours perhaps, lighten cloth too. So
    do pigments on dark cloth, a little; of few steps each must be lighter than it.
    """
    found = []
    for ink in range(len(readings.ink_columns)):
        others = np.delete(readings.coverages, ink, axis=1).max(axis=1, initial=0.0)
        alone = (others <= 0.0) & (readings.coverages[:, ink] > 0.0)
        amounts = np.unique(readings.coverages[alone, ink])
        steps = [lab[alone & (readings.coverages[:, ink] == amount), 0].mean() for amount in amounts]
        if len(amounts) < _FEWEST_STEPS:
            gains = [step - cloth for step in steps]
            lightens = (
                bool(gains) and cloth < _DARK_CLOTH and min(gains) > _CLOTH_LIMIT and max(gains) < _BY_PIGMENT
            )
            if lightens or special_role(readings.inks[ink]) == "white":
                found.append(ink)
            continue
        rises = np.diff([cloth, *steps])
        if steps[-1] > cloth + _CLOTH_LIMIT and rises.min() > -_FALL and rises.max() < _LEAP * rises.sum():
            found.append(ink)
    return found


def check_neighbours(readings: ReadingSet, explained: frozenset[int]) -> list[Finding]:
    """Return a warning for each patch that does not fit its neighbours, the worst first, and white lines.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks and colour.
    explained : frozenset of int
        Rows whose readings something else explains.

    Returns
    -------
    list of Finding
    """
    single = merge_repeats(readings)
    lab = readings_lab(single)
    recipes, distances = find_outliers(single.coverages, lab)
    groups = recipe_groups(readings.coverages)
    findings = []
    for recipe, distance in zip(recipes[:_MOST], distances, strict=False):
        problem = Problem(
            "warning",
            patch_place(single, int(recipe)),
            "patch does not fit its neighbours",
            found=f"{distance:.1f} CIELAB units from the colour that the other patches predict",
            advice="Measure it again; if the reading repeats, the print is so: keep it",
        )
        rows = frozenset(np.flatnonzero(groups == recipe).tolist())
        findings.append(Finding(problem, Rank.PATCH, f"neighbours {recipe}", rows))
    findings += _more(np.flatnonzero(np.isin(groups, recipes[_MOST:])), "patches do not fit their neighbours")
    if recipes.size:
        usable = np.ones(len(single), dtype=bool)
        usable[recipes] = False
        lighter = lab[recipes, 0] - neighbour_predictions(single.coverages, lab, usable)[recipes, 0]
        known = np.isin(recipes, groups[sorted(explained)])
        for some in (known, ~known):
            findings += check_white_lines(readings, single, recipes[some], lighter[some])
    return findings


def check_prediction(
    readings: ReadingSet, lab: FloatArray, predicted: FloatArray, named: frozenset[int]
) -> list[Finding]:
    """Return a warning for each patch that is far from what a condition predicts, the worst first.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks.
    lab, predicted : ndarray, shape (n, 3)
        CIELAB as read and as predicted.
    named : frozenset of int
        Rows that other findings name already.

    Returns
    -------
    list of Finding
    """
    rows, distances = find_misfits(lab, predicted)
    fresh = ~np.isin(rows, sorted(named))
    rows, distances = rows[fresh], distances[fresh]
    findings = []
    for row, distance in zip(rows[:_MOST].tolist(), distances, strict=False):
        problem = Problem(
            "warning",
            patch_place(readings, row),
            "patch is far from what the condition predicts, unlike the others",
            found=f"{distance:.1f} CIELAB units",
            advice="Measure it again; if the reading repeats, look at the print for white lines and stains",
        )
        findings.append(Finding(problem, Rank.PATCH, f"prediction {row}", frozenset({row})))
    return findings + _more(rows[_MOST:], "patches are far from what the condition predicts")


def _more(rows: NDArray[np.intp], what: str) -> list[Finding]:
    """Return how many rows more there are than are told one by one."""
    if rows.size == 0:
        return []
    problem = Problem("warning", "file", f"{rows.size} more {what}")
    return [Finding(problem, Rank.PATCH, f"more {what}", frozenset(rows.tolist()), _MOSTLY)]
