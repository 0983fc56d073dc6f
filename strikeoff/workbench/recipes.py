"""Inks to colour and colour to inks, through files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.files import keep_inputs
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.base.progress import Progress, silent
from strikeoff.base.words import counted
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.archive import read_condition
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import ink_alone
from strikeoff.condition.standing import print_problems, recipe_problems
from strikeoff.inks.roles import ink_names_text
from strikeoff.measurement.read import read_readings, readings_lab
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.measurement.write import write_readings
from strikeoff.model.error_bars import covered_radius
from strikeoff.model.forward import LabModel
from strikeoff.model.inverse import IN_GAMUT_DE00, Recipes, solve
from strikeoff.workbench.object_colours import colours_found, object_colour_problems, row_places
from strikeoff.workbench.readings import InkScale, require_inks_of
from strikeoff.workbench.result import Result
from strikeoff.workbench.undecided import undecided_under

FloatArray = NDArray[np.float64]

_DIGITS = 8
# Least and most L*, and most of a* and b*: rounding goes below black a little, fluorescence above white.
_DARKEST, _LIGHTEST, _FARTHEST = -1.0, 110.0, 200.0


def predict(
    condition: str | Path,
    patches: str | Path,
    out: str | Path,
    *,
    illuminant: str | None = None,
    observer: str | None = None,
    ink_scale: InkScale = "percent",
    progress: Progress = silent,
) -> Result:
    """Predict the colour of ink recipes.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    patches : str or Path
        ISO 28178 text or CSV with the condition's ink columns.
    out : str or Path
        File to write: rows in the order given, ``LAB_*`` and ``DE00_U90``, the radius that holds
        90 % of the model's errors, ``undecided`` where nobody knows how a print looks under another
        light. CSV when it ends in .csv, else ISO 28178 text.
    illuminant, observer : str, optional
        Light and observer; the readings' own by default, others need spectra.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the patches.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    record, digest = read_condition(condition)
    keep_inputs(out, patches, condition)
    wanted, problems = read_readings(patches, ink_scale=ink_scale, need_colour=False)
    raise_first_error(problems, patches)
    problems += print_problems(record)
    require_inks_of(record, wanted, patches, "Rename the columns, or take the condition of these inks")
    light, eye = record.light(illuminant, observer)
    progress("predict", 0.1)
    model = record.under(light, eye)
    lab = model.lab(wanted.coverages)
    progress("predict", 0.6)
    unsure, reasons = undecided_under(record, wanted.coverages, light)
    problems += reasons
    extra: dict[str, Any] = {}
    median = None
    if record.validation is None:
        problems.append(
            Problem(
                "note",
                "condition",
                "has no error figures, so the predictions carry none",
                found=record.label,
                advice="Build a condition from readings to have them",
            )
        )
    else:
        radius = covered_radius(record.forward, model, wanted.coverages, record.validation.radius_scale)
        extra["DE00_U90"] = _cells(np.round(radius, _DIGITS), unsure)
        median = None if unsure.all() else round(float(np.median(radius[~unsure])), 4)
    over = int((record.limits.sums(wanted.coverages) > record.limits.total + 1e-6).sum())
    if over:
        problems.append(
            Problem(
                "warning",
                "patches",
                f"{over} are above the total ink limit",
                expected=f"{record.limits.total * 100:g} %",
            )
        )
    made = _made(wanted, record, lab, light, eye)
    write_readings(out, made, extra, _header(record, digest, "predicted colour"), _DIGITS)
    results = {
        "patches": len(wanted),
        "light": {"illuminant": light, "observer": eye},
        "condition": digest,
        "median_de00_u90": median,
        "undecided": int(unsure.sum()),
    }
    lines = (
        f"{counted(len(wanted), 'patch')} predicted under {light}, {eye} degree observer{_doubt(unsure)}",
    )
    return Result(results, tuple(problems), (Path(out),), "done", lines)


def match(
    condition: str | Path,
    colours: str | Path,
    out: str | Path,
    *,
    illuminant: str | None = None,
    observer: str | None = None,
    progress: Progress = silent,
) -> Result:
    """Find ink recipes for absolute Lab colours.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    colours : str or Path
        ISO 28178 text or CSV with ``LAB_L LAB_A LAB_B`` (or XYZ, or spectra).
    out : str or Path
        File to write: rows in the order given, inks, the Lab that they give, ``DE00`` between
        target and that, ``IN_GAMUT`` (1 or 0), and the target as ``AIM_L AIM_A AIM_B``. Where nobody
        knows how the print looks under another light, ``DE00`` is ``undecided``, ``IN_GAMUT`` 0.
    illuminant, observer : str, optional
        Light and observer of the Lab values; the condition's own by default.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    record, digest = read_condition(condition)
    keep_inputs(out, colours, condition)
    wanted, problems = read_readings(colours, need_inks=False)
    raise_first_error(problems, colours)
    problems += recipe_problems(record)
    light, eye = record.light(illuminant, observer)
    aim = readings_lab(wanted, light, eye) if wanted.spectra is not None else readings_lab(wanted)
    places = row_places(wanted)
    _refuse_odd(aim, places, colours)
    progress("prepare the inverse", 0.0)
    inverse = record.inverse_under(light, eye)
    recipes = solve(inverse, aim, step=lambda f: progress("match", f))
    recipes = _black_type(record, aim, recipes, record.under(light, eye))
    problems += object_colour_problems(aim, (light, eye), places, recipes.de00 > IN_GAMUT_DE00)
    unsure, reasons = undecided_under(record, recipes.inks, light)
    problems += reasons
    inside = (recipes.de00 <= IN_GAMUT_DE00) & ~unsure
    sure = recipes.de00[~unsure]
    made = replace(
        _made(wanted, record, recipes.lab, light, eye),
        coverages=recipes.inks,
    )
    extra = {
        "DE00": _cells(np.round(recipes.de00, 4), unsure),
        "IN_GAMUT": inside.astype(int),
        "AIM_L": aim[:, 0],
        "AIM_A": aim[:, 1],
        "AIM_B": aim[:, 2],
    }
    write_readings(out, made, extra, _header(record, digest, "matched recipes"), _DIGITS)
    results = {
        "colours": len(aim),
        "in_gamut": int(inside.sum()),
        "undecided": int(unsure.sum()),
        "mean_de00": round(float(sure.mean()), 4) if sure.size else None,
        "max_de00": round(float(sure.max()), 4) if sure.size else None,
        "light": {"illuminant": light, "observer": eye},
        "condition": digest,
    }
    lines = (
        f"{counted(len(aim), 'colour')} matched under {light}, {eye} degree observer; "
        f"{int(inside.sum())} in gamut{_doubt(unsure)}",
        *((f"CIEDE2000 mean {sure.mean():.3f}, largest {sure.max():.3f}",) if sure.size else ()),
    )
    return Result(results, tuple(problems), (Path(out),), "done", lines)


def _refuse_odd(aim: FloatArray, places: list[str], path: str | Path) -> None:
    """Refuse what is no Lab colour."""
    odd = (np.abs(aim) > _FARTHEST).any(axis=1) | (aim[:, 0] < _DARKEST) | (aim[:, 0] > _LIGHTEST)
    if odd.any():
        raise InputError(
            "not a Lab colour",
            path=path,
            where=places[int(odd.argmax())],
            found=colours_found(aim, odd),
            expected=f"L* 0 to 100, to {_LIGHTEST:g} where it fluoresces; a* and b* -200 to 200",
            advice="Correct these rows, or the order of the columns",
        )


def _black_type(record: Condition, aim: FloatArray, recipes: Recipes, model: LabModel) -> Recipes:
    """Give L* 0, a* 0, b* 0 black ink alone, where the policy asks for pure black."""
    black = record.inverse.black
    asked = np.abs(aim).max(axis=1) == 0.0
    if not record.policy.pure_black or black is None or not asked.any():
        return recipes
    inks = recipes.inks.copy()
    inks[asked] = ink_alone(record, black)
    lab = recipes.lab.copy()
    lab[asked] = model.lab(inks[asked])
    return Recipes(inks, lab, delta_e_2000(aim, lab))


def _cells(values: FloatArray, unsure: NDArray[np.bool_]) -> FloatArray | list[str]:
    """Return a column: numbers, and ``undecided`` for some rows."""
    if not unsure.any():
        return values
    return ["undecided" if mask else f"{value:g}" for mask, value in zip(unsure, values, strict=True)]


def _doubt(unsure: NDArray[np.bool_]) -> str:
    return f", {int(unsure.sum())} undecided" if unsure.any() else ""


def _made(wanted: ReadingSet, record: Condition, lab: Any, light: str, eye: str) -> ReadingSet:
    return ReadingSet(
        sample_ids=wanted.sample_ids,
        ink_columns=record.ink_columns,
        coverages=wanted.coverages if wanted.ink_columns else np.zeros((len(wanted), record.n_inks)),
        lab=lab,
        setup=Setup(illuminant=light, observer=eye),
    )


def _header(record: Condition, digest: str, what: str) -> dict[str, str]:
    return {
        "ORIGINATOR": "strikeoff",
        "DESCRIPTOR": what,
        "INK_NAMES": ink_names_text(record.inks),
        "CONDITION_NAME": record.name,
        "CONDITION_DIGEST": digest,
        "DATA_SOURCE": f"model of {record.readings_name} ({record.label})",
    }
