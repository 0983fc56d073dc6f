"""Whether readings agree with themselves and with what their columns claim."""

from __future__ import annotations

from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.colour.cielab import lab_to_lch, spectra_to_lab, xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.weights import white_point
from strikeoff.measurement.outliers import find_outliers, neighbour_predictions
from strikeoff.measurement.plausible import (
    check_count,
    check_lightness,
    check_ramps,
    check_white_lines,
    patch_place,
)
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats, recipe_groups
from strikeoff.measurement.setup_keywords import stated_light

FloatArray = NDArray[np.float64]

_LIGHTS = (("D50", "2"), ("D65", "10"), ("D50", "10"), ("D65", "2"))
_MEAN_LIMIT, _MAX_LIMIT = 0.5, 2.0
_REPEAT_LIMIT = 3.0
_CLOTH_LIMIT = 3.0
_LISTED = 5
# Reflectance below this is no noise of the instrument; common practice, no source.
_IMPOSSIBLE_REFLECTANCE = -0.02
# Hue angle of process inks at full strength [degrees]; common practice, no source.
_HUES = {"C": 235.0, "M": 355.0, "Y": 95.0}


def check_consistency(readings: ReadingSet) -> list[Problem]:
    """Return what is suspicious in readings.

    Parameters
    ----------
    readings : ReadingSet
        Readings with colour; checks that need inks are left out where there are none.

    Returns
    -------
    list of Problem
        Errors: columns are swapped, reflectance below -0.02, impossible lightness, a ramp that goes up and
        down, too few recipes.
        Warnings: colour columns disagree, repeats disagree, a patch is lighter than the cloth, an ink hardly
        shows or falls back, reflectance is slightly negative or far above 1, patches do not fit
        their neighbours.
        Notes: which light fits best where the header is silent, fluorescence.

    Notes
    -----
    Limits are common practice, no source: colour columns 0.5 mean and 2 max, repeats 3, cloth 3 in
    lightness, neighbours 6 robust standard deviations and 5 units.
    """
    problems = _reflectance(readings) + _colour_columns(readings)
    if _has_colour(readings):
        problems += check_lightness(readings)
    if readings.ink_columns and _has_colour(readings):
        lab = readings_lab(readings)
        problems += check_count(readings) + _swapped_inks(readings, lab) + check_ramps(readings)
        problems += _repeats(readings, lab)
        problems += _lighter_than_cloth(readings, lab)
        problems += _neighbours(readings)
    return problems


def _has_colour(readings: ReadingSet) -> bool:
    return any(part is not None for part in (readings.spectra, readings.xyz, readings.lab))


def _reflectance(readings: ReadingSet) -> list[Problem]:
    if readings.spectra is None:
        return []
    problems = []
    low, high = readings.spectra.min(axis=1), readings.spectra.max(axis=1)
    calibrate = "Calibrate the instrument and measure again"
    for rows, message, value, advice in (
        (np.flatnonzero(low < -0.001), "reflectance is negative", low, calibrate),
        (
            np.flatnonzero(high > 1.3),
            "reflectance is far above 1",
            high,
            f"Only fluorescent inks do so, and are allowed to; if there are none: {calibrate.lower()}",
        ),
    ):
        if rows.size:
            worst = int(rows[np.argmax(np.abs(value[rows]))])
            problems.append(
                Problem(
                    "error" if value[worst] < _IMPOSSIBLE_REFLECTANCE else "warning",
                    patch_place(readings, worst),
                    f"{message} in {counted(rows.size, 'patch')}, worst here",
                    found=f"{value[worst]:.4f}",
                    expected="0 to 1",
                    advice=advice,
                )
            )
    if np.any((high > 1.0) & (high <= 1.3)):
        count = int(((high > 1.0) & (high <= 1.3)).sum())
        message = f"reflectance exceeds 1 in {counted(count, 'patch')}: fluorescent whitener or another white"
        advice = "This is allowed; how such colours look under other lights stays undecided"
        found = f"{high.max():.3f} at most"
        problems.append(Problem("note", "file", message, found=found, advice=advice))
    return problems


def _colour_columns(readings: ReadingSet) -> list[Problem]:
    """Compare spectra, XYZ and Lab under the stated light, or find the light that fits."""
    illuminant, observer = readings.setup.illuminant, readings.setup.observer
    problems: list[Problem] = []
    if readings.spectra is not None and readings.wavelengths_nm is not None:
        for name, values in (("XYZ", readings.xyz), ("LAB", readings.lab)):
            if values is None:
                continue
            candidates = [(illuminant, observer)]
            if None in stated_light(readings.keywords):
                candidates += [light for light in _LIGHTS if light != candidates[0]]
            gaps = {}
            for light in candidates:
                wanted = spectra_to_lab(readings.spectra, readings.wavelengths_nm, *light)
                given = xyz_to_lab(values, white_point(*light)) if name == "XYZ" else values
                gaps[light] = delta_e_2000(given, wanted)
            best = min(candidates, key=lambda light: float(np.mean(gaps[light])))
            if len(candidates) > 1:
                problems.append(
                    Problem(
                        "note",
                        "header",
                        f"light of the {name} columns is not stated; {'/'.join(best)} fits the spectra best",
                        found=f"mean difference {gaps[best].mean():.2f}",
                    )
                )
            problems += _disagreement(readings, gaps[best], f"{name} columns and spectra")
    elif readings.xyz is not None and readings.lab is not None:
        gap = delta_e_2000(readings.lab, xyz_to_lab(readings.xyz, white_point(illuminant, observer)))
        problems += _disagreement(readings, gap, "LAB and XYZ columns")
    return problems


def own_light(readings: ReadingSet) -> tuple[str, str]:
    """Return illuminant and observer of the readings: as stated, else the one that fits the columns best.

    Without spectra beside XYZ or Lab nothing can be compared, and the header or its default counts.
    """
    stated = (readings.setup.illuminant, readings.setup.observer)
    given = readings.xyz if readings.xyz is not None else readings.lab
    silent = None in stated_light(readings.keywords)
    spectra, wavelengths_nm = readings.spectra, readings.wavelengths_nm
    if not silent or given is None or spectra is None or wavelengths_nm is None:
        return stated

    def gap(light: tuple[str, str]) -> float:
        wanted = spectra_to_lab(spectra, wavelengths_nm, *light)
        lab = given if readings.xyz is None else xyz_to_lab(given, white_point(*light))
        return float(delta_e_2000(lab, wanted).mean())

    return min([stated, *(light for light in _LIGHTS if light != stated)], key=gap)


def _disagreement(readings: ReadingSet, gap: FloatArray, what: str) -> list[Problem]:
    if gap.mean() <= _MEAN_LIMIT and gap.max() <= _MAX_LIMIT:
        return []
    worst = np.argsort(-gap)[:_LISTED]
    names = ", ".join(f"{readings.sample_ids[row]} ({gap[row]:.1f})" for row in worst)
    return [
        Problem(
            "warning",
            patch_place(readings, int(worst[0])),
            f"{what} disagree",
            found=f"CIEDE2000 mean {gap.mean():.2f}, max {gap.max():.2f}; worst {names}",
            expected=f"mean {_MEAN_LIMIT}, max {_MAX_LIMIT}",
            advice="Spectra win over XYZ, XYZ over Lab; check light, observer and column order",
        )
    ]


def _swapped_inks(readings: ReadingSet, lab: FloatArray) -> list[Problem]:
    """Compare the strongest single-ink patches with the hues that their column names promise."""
    names = [ink for ink in readings.inks if ink in (*_HUES, "K")]
    if not readings.ink_columns[0].startswith("C") or len(names) < 3:
        return []
    rows, columns = [], []
    for column, ink in enumerate(readings.inks):
        others = np.delete(readings.coverages, column, axis=1).max(axis=1)
        alone = np.where(others < 0.02, readings.coverages[:, column], 0.0)
        row = int(np.argmax(alone))
        if ink in names and alone[row] >= 0.7:
            rows.append(row)
            columns.append(ink)
    if len(rows) < 2:
        return []
    cost = np.array([[_misfit(lab[row], ink) for ink in columns] for row in rows])
    order = list(range(len(columns)))
    best = min(permutations(order), key=lambda p: float(sum(cost[i, j] for i, j in enumerate(p))))
    gain = sum(cost[i, i] for i in order) - sum(cost[i, j] for i, j in enumerate(best))
    if list(best) == order or gain < 1.0:
        return []
    wrong = [i for i in order if best[i] != i]
    places = ", ".join(
        f"{columns[i]} solid ({patch_place(readings, rows[i])}) looks like {columns[best[i]]}" for i in wrong
    )
    return [
        Problem(
            "error",
            patch_place(readings, rows[wrong[0]]),
            f"ink columns seem to be swapped: {' and '.join(columns[i] for i in wrong)}",
            found=places,
            expected="solids in the hue of their column's ink",
            advice="Correct the order of the ink columns, or of LAB_A and LAB_B, in the file",
        )
    ]


def _misfit(lab: FloatArray, ink: str) -> float:
    """How unlike an ink a solid is: 0 alike, about 1 a neighbour in hue, 2 opposite."""
    _, chroma, hue = lab_to_lch(lab)
    if ink == "K":
        return float(min(chroma / 30.0, 2.0))
    if chroma < 12.0:
        return 1.5
    turn = abs((hue - _HUES[ink] + 180.0) % 360.0 - 180.0)
    return float(turn / 90.0)


def _repeats(readings: ReadingSet, lab: FloatArray) -> list[Problem]:
    groups = recipe_groups(readings.coverages)
    count = int(groups.max()) + 1 if groups.size else 0
    if count == len(readings):
        return []
    sums = np.zeros((count, 3))
    np.add.at(sums, groups, lab)
    means = sums / np.bincount(groups, minlength=count)[:, None]
    gap = delta_e_2000(means[groups], lab)
    rows = np.flatnonzero(gap > _REPEAT_LIMIT)
    rows = rows[np.argsort(-gap[rows])]
    return [
        Problem(
            "warning",
            patch_place(readings, int(row)),
            "patch differs from the mean of its repeats",
            found=f"CIEDE2000 {gap[row]:.2f}",
            expected=f"{_REPEAT_LIMIT:g} or less",
        )
        for row in rows[: 4 * _LISTED]
    ]


def _lighter_than_cloth(readings: ReadingSet, lab: FloatArray) -> list[Problem]:
    bare = readings.coverages.max(axis=1) <= 0.0
    if not bare.any():
        return []
    cloth = float(lab[bare, 0].mean())
    rows = np.flatnonzero(lab[:, 0] > cloth + _CLOTH_LIMIT)
    if rows.size == 0:
        return []
    worst = int(rows[np.argmax(lab[rows, 0])])
    return [
        Problem(
            "warning",
            patch_place(readings, worst),
            f"{counted(rows.size, 'patch is', 'patches are')} lighter than the bare cloth, worst here",
            found=f"L* {lab[worst, 0]:.1f}",
            expected=f"at most {cloth:.1f} + {_CLOTH_LIMIT:g}",
            advice="Check that rows and recipes belong together",
        )
    ]


def _neighbours(readings: ReadingSet) -> list[Problem]:
    single = merge_repeats(readings)
    lab = readings_lab(single)
    rows, distances = find_outliers(single.coverages, lab)
    problems = [
        Problem(
            "warning",
            patch_place(single, int(row)),
            "patch does not fit its neighbours",
            found=f"{distance:.1f} CIELAB units off",
            advice="Measure it again, or leave it out",
        )
        for row, distance in list(zip(rows, distances, strict=True))[: 4 * _LISTED]
    ]
    if rows.size > 4 * _LISTED:
        problems.append(
            Problem(
                "warning",
                "file",
                f"{counted(rows.size - 4 * _LISTED, 'more patch does', 'more patches do')} not fit",
            )
        )
    if rows.size:
        usable = np.ones(len(single), dtype=bool)
        usable[rows] = False
        aims = neighbour_predictions(single.coverages, lab, usable)
        problems += check_white_lines(single, rows, lab[rows, 0] - aims[rows, 0])
    return problems
