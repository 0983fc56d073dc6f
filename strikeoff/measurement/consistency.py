"""Whether readings agree with themselves and with what their columns claim."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.base.words import beside, counted
from strikeoff.colour.cielab import spectra_to_lab, xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.weights import white_point
from strikeoff.measurement.findings import Finding, Rank, problems_in_order
from strikeoff.measurement.patch_checks import check_cloth, check_neighbours, check_repeats
from strikeoff.measurement.plausible import (
    check_contrast,
    check_count,
    check_lightness,
    check_ramps,
    patch_place,
)
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.setup_keywords import stated_light
from strikeoff.measurement.swapped_inks import swapped_inks

FloatArray = NDArray[np.float64]

_LIGHTS = (("D50", "2"), ("D65", "10"), ("D50", "10"), ("D65", "2"))
_USUAL_LIGHTS = tuple(
    (light, angle) for light in ("D50", "D65", "A", "C", "D55", "FL2") for angle in ("2", "10")
)
_MEAN_LIMIT, _MAX_LIMIT = 0.5, 2.0
_LISTED = 5
#: Reflectance above which an ink fluoresces or the instrument is off, and what is said of it. Common
#: practice, no source.
FAR_ABOVE_ONE, FAR_ABOVE = 1.3, "reflectance is far above 1"
# Reflectance below this is no noise of the instrument; common practice, no source.
_IMPOSSIBLE_REFLECTANCE = -0.02


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
    Limits are common practice, no source: colour columns 0.5 mean and 2 max, repeats 3 (8 and
    more: 4 times the median distance and 1), cloth 3 in lightness, neighbours 6 robust standard deviations
    and 5 units.
    """
    return problems_in_order(consistency_findings(readings))


def consistency_findings(readings: ReadingSet, explained: frozenset[int] = frozenset()) -> list[Finding]:
    """Return what is suspicious in readings with the rows that it rests on.

    Parameters
    ----------
    readings : ReadingSet
        See `check_consistency`.
    explained : frozenset of int
        Rows whose readings something else explains: patches among them and patches beside them are looked
        at for white lines apart.

    Returns
    -------
    list of Finding
    """
    findings = _reflectance(readings) + _colour_columns(readings)
    if _has_colour(readings):
        findings += check_lightness(readings)
    if readings.ink_columns and _has_colour(readings):
        lab = readings_lab(readings)
        findings += check_count(readings) + check_contrast(readings)
        findings += swapped_inks(readings, lab) + check_ramps(readings)
        findings += check_repeats(readings, lab) + check_cloth(readings, lab)
        findings += check_neighbours(readings, explained)
    return findings


def _has_colour(readings: ReadingSet) -> bool:
    return any(part is not None for part in (readings.spectra, readings.xyz, readings.lab))


def _reflectance(readings: ReadingSet) -> list[Finding]:
    if readings.spectra is None:
        return []
    findings = []
    low, high = readings.spectra.min(axis=1), readings.spectra.max(axis=1)
    calibrate = "Calibrate the instrument and measure again"
    for rows, message, value, advice in (
        (np.flatnonzero(low < -0.001), "reflectance is negative", low, calibrate),
        (
            np.flatnonzero(high > FAR_ABOVE_ONE),
            FAR_ABOVE,
            high,
            f"Only fluorescent inks do so, and are allowed to; if there are none: {calibrate.lower()}",
        ),
    ):
        if rows.size:
            worst = int(rows[np.argmax(np.abs(value[rows]))])
            problem = Problem(
                "error" if value[worst] < _IMPOSSIBLE_REFLECTANCE else "warning",
                patch_place(readings, worst),
                f"{message} in {counted(rows.size, 'patch')}, worst here",
                found=f"{value[worst]:.4f}",
                expected="0 to 1",
                advice=advice,
            )
            findings.append(Finding(problem, Rank.GROUP, message))
    bright = (high > 1.0) & (high <= FAR_ABOVE_ONE)
    if bright.any():
        patches = counted(int(bright.sum()), "more patch" if np.any(high > FAR_ABOVE_ONE) else "patch")
        message = f"reflectance exceeds 1 in {patches}: fluorescent whitener or another white"
        advice = "This is allowed; how such colours look under other lights stays undecided"
        found = f"{high[bright].max():.3f} at most"
        problem = Problem("note", "file", message, found=found, advice=advice)
        findings.append(Finding(problem, Rank.GROUP, "fluorescence"))
    return findings


def _colour_columns(readings: ReadingSet) -> list[Finding]:
    """Compare spectra, XYZ and Lab under the stated light, or find the light that fits."""
    illuminant, observer = readings.setup.illuminant, readings.setup.observer
    findings: list[Finding] = []
    if readings.spectra is not None and readings.wavelengths_nm is not None:
        for name, values in (("XYZ", readings.xyz), ("LAB", readings.lab)):
            if values is None:
                continue
            candidates = [(illuminant, observer)]
            if None in stated_light(readings.keywords):
                candidates += [light for light in _LIGHTS if light != candidates[0]]
            gap = partial(_gap_under, readings, values, is_xyz=name == "XYZ")
            gaps = {light: gap(light) for light in candidates}
            best = min(candidates, key=lambda light: float(np.mean(gaps[light])))
            if len(candidates) > 1:
                note = Problem(
                    "note",
                    "header",
                    f"light of the {name} columns is not stated; {'/'.join(best)} fits the spectra best",
                    found=f"mean difference {gaps[best].mean():.2f}",
                )
                findings.append(Finding(note, Rank.SETUP, f"light {name}"))
            findings += _disagreement(readings, gaps[best], f"{name} columns and spectra", gap)
        return findings
    if (readings.xyz is not None or readings.lab is not None) and None in stated_light(readings.keywords):
        note = Problem(
            "note",
            "header",
            f"light of the colours is not wholly stated; they are read as of {illuminant}/{observer}",
            advice="State ILLUMINATION_NAME and OBSERVER_ANGLE if they are of another light or observer",
        )
        findings.append(Finding(note, Rank.SETUP, "light"))
    if readings.xyz is not None and readings.lab is not None:
        between = partial(_lab_and_xyz, readings.lab, readings.xyz)
        findings += _disagreement(readings, between((illuminant, observer)), "LAB and XYZ columns", between)
    return findings


def _gap_under(
    readings: ReadingSet, values: FloatArray, light: tuple[str, str], *, is_xyz: bool
) -> FloatArray:
    """Return how far XYZ or Lab columns are from the spectra under a light, in CIEDE2000."""
    if readings.spectra is None or readings.wavelengths_nm is None:
        return np.full(len(readings), np.inf)
    wanted = spectra_to_lab(readings.spectra, readings.wavelengths_nm, *light)
    given = xyz_to_lab(values, white_point(*light)) if is_xyz else values
    return np.asarray(delta_e_2000(given, wanted))


def _lab_and_xyz(lab: FloatArray, xyz: FloatArray, light: tuple[str, str]) -> FloatArray:
    """Return how far Lab columns are from XYZ columns under a light, in CIEDE2000."""
    return np.asarray(delta_e_2000(lab, xyz_to_lab(xyz, white_point(*light))))


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


def _disagreement(
    readings: ReadingSet,
    gap: FloatArray,
    what: str,
    others: Callable[[tuple[str, str]], FloatArray],
) -> list[Finding]:
    """Return a warning where columns differ, with the light under which they would not."""
    if gap.mean() <= _MEAN_LIMIT and gap.max() <= _MAX_LIMIT:
        return []
    worst = np.argsort(-gap)[:_LISTED]
    names = ", ".join(f"{readings.sample_ids[row]} ({gap[row]:.1f})" for row in worst)
    fits = [
        "/".join(light)
        for light in _USUAL_LIGHTS
        if (other := others(light)).mean() <= _MEAN_LIMIT and other.max() <= _MAX_LIMIT
    ]
    mean, most = beside(gap.mean(), _MEAN_LIMIT, 2), beside(gap.max(), _MAX_LIMIT, 2)
    problem = Problem(
        "warning",
        patch_place(readings, int(worst[0])),
        f"{what} disagree",
        found=f"CIEDE2000 mean {mean}, max {most}; worst {names}"
        + (f"; under {fits[0]} they agree" if fits else ""),
        expected=f"mean at most {_MEAN_LIMIT}, max at most {_MAX_LIMIT}",
        advice="Spectra win over XYZ, XYZ over Lab; "
        + ("correct light and observer in the header" if fits else "check light, observer and column order"),
    )
    return [Finding(problem, Rank.COLUMNS, what)]
