"""Look at a file of readings before anything is made of it."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from strikeoff.base.problems import Problem
from strikeoff.measurement.consistency import check_consistency, own_light
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import recipe_groups, repeat_noise
from strikeoff.workbench.result import Result

InkScale = Literal["percent", "unit", "byte"]

_SMOOTHED_GROUPS = 3


def load_checked(path: str | Path, ink_scale: InkScale = "percent") -> tuple[ReadingSet, list[Problem]]:
    """Read inks with colours and check them against each other; problems are returned, none is raised."""
    readings, problems = read_readings(path, ink_scale=ink_scale)
    return readings, problems + check_consistency(readings)


def data_label(readings: ReadingSet) -> str:
    """Return what figures from these readings rest on: measured, smoothed data or simulated.

    Repeats that agree to the last digit are not readings of a printed sheet.
    """
    if any("simulated" in text.lower() for text in readings.keywords.values()):
        return "simulated"
    noise = repeat_noise(readings)
    if noise is not None and noise.n_groups >= _SMOOTHED_GROUPS and noise.de_rms == 0.0:
        return "smoothed data"
    return "measured"


def check_readings(path: str | Path, *, ink_scale: InkScale = "percent") -> Result:
    """Report what a readings file holds and everything that is wrong with it.

    Parameters
    ----------
    path : str or Path
        ISO 28178 text or CSV.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the file.

    Returns
    -------
    Result
        Outcome ``fail`` when a problem makes values unfit for use.
    """
    readings, problems = load_checked(path, ink_scale)
    noise = repeat_noise(readings)
    bands = readings.wavelengths_nm
    results = {
        "patches": len(readings),
        "recipes": int(recipe_groups(readings.coverages).max()) + 1,
        "ink_columns": list(readings.ink_columns),
        "highest_total_percent": round(float(readings.coverages.sum(axis=1).max()) * 100, 2),
        "spectra": None
        if bands is None
        else {"bands": len(bands), "first_nm": float(bands[0]), "last_nm": float(bands[-1])},
        "has_xyz": readings.xyz is not None,
        "has_lab": readings.lab is not None,
        "light": "/".join(own_light(readings)),
        "mode": readings.setup.mode,
        "repeat_noise_de": None if noise is None else round(noise.de_rms, 4),
        "label": data_label(readings),
        "digest": readings.digest,
    }
    colour = f"spectra {bands[0]:g}-{bands[-1]:g} nm" if bands is not None else "XYZ or Lab, no spectra"
    lines = (
        f"{len(readings)} patches, {results['recipes']} recipes, inks {' '.join(readings.inks)}, {colour}",
        f"light {results['light']}, highest total {results['highest_total_percent']:g} %, {results['label']}",
    )
    bad = any(problem.severity == "error" for problem in problems)
    return Result(results, tuple(problems), (), "fail" if bad else "done", lines)
