"""Values and ramps that no printed cloth has."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.colour.difference import delta_e_2000
from strikeoff.inks.roles import special_role
from strikeoff.measurement.findings import Finding, Rank
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats, recipe_groups

FloatArray = NDArray[np.float64]

# Limits of this module are common practice, no source. Fluorescent cloth reaches L* 112 or so.
_LIGHTNESS = (-2.0, 125.0)
_DARK_CLOTH = 30.0
_VIVID_CLOTH = 60.0
_LISTED = 5
# Kind of chart whose patches add to those of another.
_ADDS = "next"
# A ramp: steps of one ink, with at most so much of any other beside it.
_ALONE = 0.02
_FEWEST_STEPS = 4
_DEAD = 2.0
# Lightness from which on cloth may hide white ink.
_LIGHT_CLOTH = 75.0
#: What to do about an ink that is not to be seen on the cloth anyway.
UNSEEN_ADVICE = "Readings cannot tell it from a dead head: see on the print that it was laid down"
_FALLS = 3.0
_FALL_SHARE = 0.25
# White lines: outliers that are lighter than their neighbours and share an ink.
_FEWEST_LINES = 3
_SHARED = 0.9
_CHANCE = 0.05
# A cause that holds this share of a finding's rows explains it.
_MOSTLY = 0.5


def patch_place(readings: ReadingSet, row: int) -> str:
    """Return line and name of a patch, as messages name it."""
    name = f"patch {readings.sample_ids[row]}"
    return f"line {readings.lines[row]}, {name}" if readings.lines else name


def run_place(readings: ReadingSet, first: int, last: int) -> str:
    """Return lines and names of the patches from one row to another, as messages name them."""
    if first == last:
        return patch_place(readings, first)
    names = f"patches {readings.sample_ids[first]} to {readings.sample_ids[last]}"
    return f"lines {readings.lines[first]} to {readings.lines[last]}, {names}" if readings.lines else names


def rows_of_recipes(readings: ReadingSet, recipes: Iterable[int]) -> frozenset[int]:
    """Return the rows of recipes, which are numbered as `merge_repeats` leaves them."""
    groups = recipe_groups(readings.coverages)
    return frozenset(np.flatnonzero(np.isin(groups, list(recipes))).tolist())


def check_lightness(readings: ReadingSet) -> list[Finding]:
    """Return errors where Lab or XYZ cannot be: lightness beyond its range, cloth that is dark and vivid."""
    lab = readings_lab(readings)
    findings = []
    low, high = _LIGHTNESS
    rows = np.flatnonzero((lab[:, 0] < low) | (lab[:, 0] > high))
    advice = "Correct the order of LAB_L, LAB_A and LAB_B (or XYZ), or the scale of the columns"
    if readings.spectra is not None:
        # Negative reflectance is told as such.
        rows = rows[readings.spectra[rows].min(axis=1) >= 0.0]
        advice = "Correct the scale of the spectra, or calibrate the instrument and measure again"
    if rows.size:
        worst = int(rows[np.argmax(np.abs(lab[rows, 0] - 50.0))])
        problem = Problem(
            "error",
            patch_place(readings, worst),
            f"lightness is impossible in {counted(rows.size, 'patch')}, worst here",
            found=f"L* {lab[worst, 0]:.1f}",
            expected="0 to 100",
            advice=advice,
        )
        cures = frozenset({"vivid cloth", "lighter than cloth"})
        findings.append(Finding(problem, Rank.COLUMNS, "lightness", cures=cures))
    bare = np.flatnonzero(readings.coverages.max(axis=1) <= 0.0) if readings.ink_columns else rows[:0]
    if bare.size:
        cloth = lab[bare].mean(axis=0)
        vivid = float(np.abs(cloth[1:]).max())
        if cloth[0] < _DARK_CLOTH and vivid > _VIVID_CLOTH:
            problem = Problem(
                "error",
                patch_place(readings, int(bare[0])),
                "colour columns seem to be swapped: bare cloth would be dark and vivid",
                found=" ".join(f"{value:.1f}" for value in cloth),
                expected="L* above 30, or a* and b* within 60",
                advice="Correct the order of LAB_L, LAB_A and LAB_B (or XYZ) in the file",
            )
            cloths = frozenset(bare.tolist())
            findings.append(Finding(problem, Rank.COLUMNS, "vivid cloth", cloths, _MOSTLY, explains=cloths))
    return findings


def check_contrast(readings: ReadingSet) -> list[Finding]:
    """Return an error where all patches have nearly one colour, though they hold much ink and little."""
    lab, inks = readings_lab(readings), readings.coverages
    reach = np.ptp(lab, axis=0) if len(lab) else np.zeros(3)
    if len(lab) < _FEWEST_STEPS or np.ptp(inks.max(axis=1)) <= 0.5 or reach.max() >= _DEAD:
        return []
    problem = Problem(
        "error",
        "file",
        "all patches have nearly the same colour",
        found="L* a* b* within " + " ".join(f"{value:.2f}" for value in reach),
        expected=f"more than {_DEAD:g} between cloth and ink",
        advice="Look at the scale of the colour columns (L* is 0 to 100), and that rows and recipes belong "
        "together",
    )
    dead = frozenset(f"ramp {ink}" for ink in readings.inks)
    return [Finding(problem, Rank.COLUMNS, "contrast", cures=dead)]


def check_count(readings: ReadingSet) -> list[Finding]:
    """Return an error below one recipe an ink and cloth, and a note for what of these is missing.

    Nothing is said of a chart that only adds patches to others.
    """
    if readings.keywords.get("CHART_KIND") == _ADDS:
        return []
    recipes = int(recipe_groups(readings.coverages).max(initial=-1)) + 1
    wanted = len(readings.ink_columns) + 1
    if recipes >= wanted:
        return _missing(readings)
    problem = Problem(
        "error",
        "file",
        "fewer recipes than inks",
        found=f"{counted(recipes, 'recipe')}, {counted(len(readings.ink_columns), 'ink')}",
        expected=f"{wanted} recipes or more: bare cloth and every ink",
        advice="Print and read a chart that has all inks",
    )
    return [Finding(problem, Rank.SETUP, "count")]


def _missing(readings: ReadingSet) -> list[Finding]:
    """Return a note for bare cloth and for each ink that no patch has."""
    advice = "Print and read it before a condition is built"
    found = []
    if readings.coverages.max(axis=1).min() > 0.0:
        least = 100 * readings.coverages.sum(axis=1).min()
        problem = Problem(
            "note", "file", "no patch of bare cloth", f"{least:.0f} % of ink at least", None, advice
        )
        found.append(Finding(problem, Rank.SETUP, "no cloth"))
    for name, ink, most in zip(
        readings.ink_columns, readings.inks, readings.coverages.max(axis=0), strict=True
    ):
        if most <= 0.0:
            problem = Problem(
                "note", f"column {name}", f"no patch with ink {ink}", "0 % everywhere", None, advice
            )
            found.append(Finding(problem, Rank.SETUP, f"no ink {ink}"))
    return found


def check_ramps(readings: ReadingSet) -> list[Finding]:
    """Return what is wrong with the steps of each ink alone.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks and colour.

    Returns
    -------
    list of Finding
        Errors: a ramp that goes up and down. Warnings: one that falls back a little, an ink that does not
        show.
    """
    single = merge_repeats(readings)
    lab = readings_lab(single)
    bare = np.flatnonzero(single.coverages.max(axis=1, initial=0.0) <= 0.0)
    if bare.size == 0:
        return []
    findings = []
    for column, ink in enumerate(single.inks):
        others = np.delete(single.coverages, column, axis=1).max(axis=1, initial=0.0)
        rows = np.flatnonzero(
            (others < _ALONE * single.coverages[:, column]) & (single.coverages[:, column] > 0.0)
        )
        rows = rows[np.argsort(single.coverages[rows, column], kind="stable")]
        if len(rows) >= _FEWEST_STEPS:
            away = delta_e_2000(np.broadcast_to(lab[bare[0]], (len(rows), 3)), lab[rows])
            role = special_role(ink)
            plain = role == "clear" or (role == "white" and lab[bare[0], 0] >= _LIGHT_CLOTH)
            amounts = single.coverages[rows, column]
            for problem, upset, explains in _ramp(single, ink, amounts, rows, away, hardly_seen=plain):
                steps = rows_of_recipes(readings, upset)
                wrong = rows_of_recipes(readings, explains)
                findings.append(Finding(problem, Rank.GROUP, f"ramp {ink}", steps, explains=wrong))
    return findings


def falls_back(ink: str) -> str:
    """Return what is said of an ink that loses colour towards full tone."""
    return f"ink {ink} falls back: more ink gives less colour"


def hardly_changes(ink: str) -> str:
    """Return what is said of an ink that hardly shows on the cloth."""
    return f"ink {ink} hardly changes the cloth"


def _ramp(
    readings: ReadingSet,
    ink: str,
    amounts: FloatArray,
    rows: NDArray[np.intp],
    away: FloatArray,
    *,
    hardly_seen: bool,
) -> list[tuple[Problem, list[int], list[int]]]:
    """Return at most one problem, the recipes of the steps that it rests on, and those that it explains.

    Clear inks and white on light cloth are ``hardly_seen``.
    """
    if away.max() < _DEAD and amounts[-1] > 0.5:
        problem = Problem(
            "note" if hardly_seen else "warning",
            patch_place(readings, int(rows[-1])),
            hardly_changes(ink),
            found=f"CIEDE2000 {away.max():.1f} at most",
            expected=f"{_DEAD:g} or more, unless the ink is clear or of the cloth's colour",
            advice=UNSEEN_ADVICE if hardly_seen else "Look at the print: the channel may be dead",
        )
        return [(problem, [], [])]
    falls = np.maximum.accumulate(away) - away
    total = float(np.maximum(-np.diff(away), 0.0).sum())
    worst = int(np.argmax(falls))
    if falls[worst] <= _FALLS:
        return []
    turns = int((np.diff(away) < -_FALLS).sum())
    # One fall towards full tone is saturation (bronzing, filling in); steps in the wrong order fall often
    # or by much.
    wrong = total > _FALL_SHARE * float(away.max()) and (turns > 1 or bool(away[-1] >= away[worst] + _FALLS))
    before = int(np.argmax(away[:worst]))
    steps = rows.tolist()
    if wrong:
        message = f"steps of ink {ink} are no ramp: more ink gives less colour"
        advice, explains = (
            "Check that rows and recipes belong together, and the print for missing lines",
            steps,
        )
    elif away[-1] > away[before]:
        message = f"one step of ink {ink} gives less colour than less ink"
        advice, explains = "Measure this step again, and look at the print for missing lines", [steps[worst]]
    else:
        message = falls_back(ink)
        advice, explains = "Set the ink limit below this step", []
    problem = Problem(
        "error" if wrong else "warning",
        patch_place(readings, steps[worst]),
        message,
        found=f"CIEDE2000 from the cloth {away[worst]:.1f} after {away[before]:.1f}",
        expected="more colour with every step",
        advice=advice,
    )
    return [(problem, [steps[before], steps[worst]], explains)]


def check_white_lines(
    readings: ReadingSet, single: ReadingSet, rows: NDArray[np.intp], lighter: FloatArray
) -> list[Finding]:
    """Return a warning where patches that are too light share an ink: lines of a dead nozzle.

    Parameters
    ----------
    readings, single : ReadingSet
        The readings, and one row a recipe of them.
    rows : ndarray of int, shape (k,)
        Recipes that do not fit their neighbours.
    lighter : ndarray, shape (k,)
        How much lighter each is than they predict. [L*]

    Returns
    -------
    list of Finding
        Empty, or one for the ink that explains most; it explains these patches too.
    """
    light = rows[lighter > 0.0]
    if len(light) < _FEWEST_LINES or len(light) < 0.75 * len(rows):
        return []
    has = single.coverages > 0.05
    share, usual = has[light].mean(axis=0), has.mean(axis=0)
    fits = np.flatnonzero((share >= _SHARED) & (usual ** len(light) <= _CHANCE))
    if fits.size == 0:
        return []
    ink = single.inks[int(fits[np.argmax(share[fits] - usual[fits])])]
    places = "; ".join(patch_place(single, int(row)) for row in light[:_LISTED])
    more = f" and {len(light) - _LISTED} more" if len(light) > _LISTED else ""
    problem = Problem(
        "warning",
        patch_place(single, int(light[0])),
        f"{len(light)} patches with ink {ink} are lighter than their neighbours",
        found=places + more,
        expected="the colour of even ink",
        advice=f"Look for white lines: a nozzle of {ink} may be dead",
    )
    lines = rows_of_recipes(readings, light.tolist())
    return [Finding(problem, Rank.GROUP, f"white lines {ink}", lines, _MOSTLY, explains=lines)]
