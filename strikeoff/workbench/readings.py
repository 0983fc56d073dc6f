"""Look at a file of readings before anything is made of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.inks.goods import Cloth
from strikeoff.measurement.consistency import own_light
from strikeoff.measurement.examine import examine
from strikeoff.measurement.mixing import compare_setups
from strikeoff.measurement.noise import DEFAULT_WANTED, PatchNoise, patch_noise, readings_needed
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import recipe_groups, repeat_noise
from strikeoff.measurement.sequence_problems import sequence_records
from strikeoff.workbench.light_doubt import light_doubts
from strikeoff.workbench.result import Result
from strikeoff.workbench.settled import channel_roles, with_known_roles
from strikeoff.workbench.undecided import mode_notes

if TYPE_CHECKING:
    from strikeoff.condition.record import Condition

InkScale = Literal["percent", "unit", "byte"]

_SMOOTHED_GROUPS = 3
_LISTED = 20


def load_checked(path: str | Path, ink_scale: InkScale = "percent") -> tuple[ReadingSet, list[Problem]]:
    """Read inks with colours and check them against each other; problems are returned, none is raised."""
    readings, problems = read_readings(path, ink_scale=ink_scale)
    return readings, [*problems, *examine(readings).problems]


def require_inks_of(
    record: Condition, readings: ReadingSet, path: str | Path, advice: str | None = None
) -> None:
    """Refuse readings of other inks than those of a condition, or of the same in another order.

    Raises
    ------
    InputError
        Names both.
    """
    if readings.ink_columns != record.ink_columns:
        raise InputError(
            "ink columns are not those of the condition",
            path=path,
            found=" ".join(readings.ink_columns),
            expected=" ".join(record.ink_columns),
            advice=advice,
        )


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


def check_readings(
    path: str | Path,
    *,
    ink_scale: InkScale = "percent",
    condition: str | Path | None = None,
    wanted: float | None = None,
) -> Result:
    """Report what a readings file holds and everything that is wrong with it.

    Parameters
    ----------
    path : str or Path
        ISO 28178 text, CxF3 or CSV.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the file.
    condition : str or Path, optional
        Condition whose prediction shows swapped rows, shifted strips and drift; the patches' neighbours by
        default.
    wanted : float, optional
        Half-width of the 95 % interval that each patch's mean should have; 0.5 by default. [CIELAB units]

    Returns
    -------
    Result
        Outcome ``fail`` when a problem makes values unfit for use.
    """
    if wanted is not None and not wanted > 0:
        raise UsageError("wanted half-width must be above 0", found=f"{wanted:g}")
    readings, problems = read_readings(path, ink_scale=ink_scale)
    record = None if condition is None else _of_same_inks(condition, readings, problems)
    light = (readings.setup.illuminant, readings.setup.observer)
    predicted = None if record is None else record.under(*light).lab(readings.coverages)
    examined = examine(readings, predicted)
    problems += examined.problems
    if record is not None:
        problems = with_known_roles(problems, readings, channel_roles(record.spaces))
        problems = [*light_doubts(record, readings), *problems]
    problems += mode_notes(readings.setup, Cloth(), problems)
    noise = repeat_noise(readings)
    scatter = patch_noise(readings, wanted or DEFAULT_WANTED)
    bands = readings.wavelengths_nm
    results: dict[str, Any] = {
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
        "noise": noise_record(readings, scatter, wanted or DEFAULT_WANTED),
        "sequence": sequence_records(readings, examined.sequence),
        "ink_loss": [
            {
                "ink": readings.inks[run.ink],
                "patches": [readings.sample_ids[row] for row in run.rows],
                "count": run.patches,
                "loss_percent": round(100 * run.loss, 1),
            }
            for run in examined.ink_runs
        ],
        "label": data_label(readings),
        "digest": readings.digest,
    }
    colour = f"spectra {bands[0]:g}-{bands[-1]:g} nm" if bands is not None else "XYZ or Lab, no spectra"
    lines = (
        f"{counted(len(readings), 'patch')}, {counted(results['recipes'], 'recipe')}, "
        f"inks {' '.join(readings.inks)}, {colour}",
        f"light {results['light']}, highest sum of inks {results['highest_total_percent']:g} % (each counts "
        f"alike), {results['label']}",
        noise_line(scatter, wanted or DEFAULT_WANTED),
    )
    bad = any(problem.severity == "error" for problem in problems)
    return Result(results, tuple(problems), (), "fail" if bad else "done", lines)


def noise_record(readings: ReadingSet, noise: PatchNoise, wanted: float) -> dict[str, Any]:
    """Return scatter, uncertainty and lacking readings as values that JSON can hold."""
    order = np.argsort(-noise.uncertainty, kind="stable")[:_LISTED]
    return {
        "source": noise.source,
        "reading_de": round(noise.reading_de, 4),
        "freedom": noise.freedom,
        "cloth_only": noise.cloth_only,
        "wanted_de": wanted,
        "readings_needed": readings_needed(noise.reading_de, wanted),
        "recipes_lacking": int((noise.more > 0).sum()),
        "worst": [
            {
                "patch": readings.sample_ids[noise.first[at]],
                "readings": int(noise.readings[at]),
                "reading_de": round(float(noise.patch_de[at]), 4),
                "uncertainty_de": round(float(noise.uncertainty[at]), 4),
                "more_readings": int(noise.more[at]),
            }
            for at in order
        ],
    }


def noise_line(noise: PatchNoise, wanted: float) -> str:
    """Return scatter and lacking readings in one sentence."""
    source = (
        f"from {counted(noise.freedom, 'repeat')}"
        + (" of bare cloth alone; prints scatter more" if noise.cloth_only else "")
        if noise.source == "repeats"
        else "assumed: nothing was read twice"
    )
    needed = readings_needed(noise.reading_de, wanted)
    lacking = int((noise.more > 0).sum())
    return (
        f"one reading scatters by {noise.reading_de:.2f} ({source}); a mean within {wanted:g} takes "
        f"{counted(needed, 'reading')}"
        + (f", which {counted(lacking, 'recipe lacks', 'recipes lack')}" if lacking else "")
    )


def _of_same_inks(condition: str | Path, readings: ReadingSet, problems: list[Problem]) -> Condition:
    from strikeoff.condition.archive import read_condition
    from strikeoff.condition.standing import date_problems

    record, _ = read_condition(condition)
    if record.ink_columns != readings.ink_columns:
        raise InputError(
            "readings are of other inks than the condition",
            path=readings.source,
            found=" ".join(readings.ink_columns),
            expected=" ".join(record.ink_columns),
        )
    problems += compare_setups(record.setup, readings.setup, f"condition {record.name}", readings.source)
    problems += date_problems(record.goods)
    return record
