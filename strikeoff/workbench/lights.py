"""How colours and their prints look under other lights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.base.progress import Progress, silent
from strikeoff.base.words import counted
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.metamerism import inconstancy_cmccon02, special_metamerism_iso_18314_4
from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.colour.weights import Illuminant, canonical_illuminant, white_point
from strikeoff.condition.archive import read_condition
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems
from strikeoff.inks.roles import ink_names_text
from strikeoff.measurement.light_file import light_name, read_light
from strikeoff.measurement.mixing import compare_setups
from strikeoff.measurement.read import read_readings, readings_lab
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.measurement.write import write_readings
from strikeoff.model.inverse import IN_GAMUT_DE00, solve
from strikeoff.workbench.lights_picture import screen_patches, write_picture
from strikeoff.workbench.lights_table import FORMULAS, lights_lines
from strikeoff.workbench.lights_undecided import undecided_colours
from strikeoff.workbench.picture_names import check_picture
from strikeoff.workbench.readings import InkScale, require_inks_of
from strikeoff.workbench.result import Result

FloatArray = NDArray[np.float64]
Mask = NDArray[np.bool_]

LIGHTS = ("D50", "D65", "A", "FL2", "FL11", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")


@dataclass(frozen=True)
class _Pair:
    """What is compared: inks, the spectra that they give, and the wanted spectra if there are any."""

    inks: FloatArray
    printed: FloatArray
    wanted: FloatArray | None


def compare_lights(
    condition: str | Path,
    colours: str | Path,
    out: str | Path,
    *,
    illuminants: Sequence[str] = (),
    measured: Sequence[str | Path] = (),
    reference: str | None = None,
    observer: str | None = None,
    uv_excluded: str | Path | None = None,
    ink_scale: InkScale = "percent",
    plot: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Say how colours and their prints look under other lights.

    Parameters
    ----------
    condition : str or Path
        Condition made from spectra.
    colours : str or Path
        Readings: ink recipes of the condition, or colours that are matched under the reference light. Where
        they hold spectra the print is compared with them under every light.
    out : str or Path
        File to write: the print's inks and Lab under the reference light, and for each light ``DE00_…``,
        ``MI_…`` (both against the colours' spectra) and ``CII_…`` (of the print). A cell is ``undecided``
        where light that a whitener adds makes the number meaningless.
    illuminants : sequence of str
        CIE illuminants; ten usual ones by default.
    measured : sequence of str or Path
        Files of measured lights: wavelength and power.
    reference, observer : str, optional
        Reference light and observer; the condition's own by default.
    uv_excluded : str or Path, optional
        The same colours read without ultraviolet, row by row.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the recipes.
    plot : str or Path, optional
        Picture to write, ``.svg``, or a page with it, ``.html``: patches under each light, and how far
        print and colour are apart there.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    check_picture(plot, (".svg", ".html", ".htm"))
    record, digest = read_condition(condition)
    if record.wavelengths_nm is None:
        raise UsageError(
            "this condition was made from readings without spectra and knows one light only",
            found=f"{record.setup.illuminant}/{record.setup.observer}",
            advice="Measure the chart with a spectral instrument",
        )
    given, problems = read_readings(colours, ink_scale=ink_scale, need_inks=False, need_colour=False)
    raise_first_error(problems, colours)
    light, eye = record.light(reference, observer)
    lights: dict[str, Illuminant] = {canonical_illuminant(n): canonical_illuminant(n) for n in illuminants}
    for path in measured:
        if light_name(path) in lights:
            raise UsageError(
                "two lights have one name",
                found=light_name(path),
                expected="files of different names",
                advice="Rename one of the files: lights are called after them",
            )
        lights[light_name(path)] = read_light(path)
    if not lights:
        lights = {name: name for name in LIGHTS if name != light}
    if given.spectra is not None:
        problems += compare_setups(record.setup, given.setup, f"condition {record.name}", str(colours))
    progress("find the inks", 0.1)
    pair, missed = _pair(record, given, colours, light, eye)
    unsure, reasons = undecided_colours(record, given, pair.inks, pair.printed, uv_excluded)
    reasons = [*missed, *reasons]
    problems += [*reasons, *date_problems(record.goods)]
    progress("compare the lights", 0.7)
    grids: tuple[Any, Any] = (record.wavelengths_nm, given.wavelengths_nm)
    extra, table, shown = {}, [], []
    for name, lamp in lights.items():
        figures = _figures(pair, grids, (light, lamp), eye)
        shown.append(_shown(figures))
        row: dict[str, Any] = {"light": name}
        for key, values in figures.items():
            extra[f"{key.upper()}_{name}"] = _cells(values, unsure)
            sure = None if values is None or unsure.all() else values[~unsure]
            row[f"mean_{key}"] = None if sure is None else round(float(sure.mean()), 4)
            row[f"max_{key}"] = None if sure is None else round(float(sure.max()), 4)
        table.append(row)
    lab = xyz_to_lab(spectra_to_xyz(pair.printed, grids[0], light, eye), white_point(light, eye))
    made = ReadingSet(
        sample_ids=given.sample_ids,
        ink_columns=record.ink_columns,
        coverages=pair.inks,
        lab=lab,
        setup=Setup(illuminant=light, observer=eye),
    )
    header = {
        "ORIGINATOR": "strikeoff",
        "DESCRIPTOR": "colours under other lights",
        "INK_NAMES": ink_names_text(record.inks),
        "CONDITION_NAME": record.name,
        "CONDITION_DIGEST": digest,
        "DATA_SOURCE": f"model of {record.readings_name} ({record.label})",
        **{f"FORMULA_{key.upper()}": text for key, text in FORMULAS.items()},
    }
    write_readings(out, made, {k: v for k, v in extra.items() if v is not None}, header, 8)
    outputs = [Path(out)]
    if plot is not None:
        progress("draw the patches", 0.9)
        here = _shown(_figures(pair, grids, (light, light), eye))
        others = [name for name in lights if name != light]
        lamps = [light, *(lights[name] for name in others)]
        shown = [figures for name, figures in zip(lights, shown, strict=True) if name != light]
        write_picture(
            plot,
            names=given.sample_ids,
            lights=[light, *others],
            printed=screen_patches(pair.printed, grids[0], lamps, eye),
            wanted=None if pair.wanted is None else screen_patches(pair.wanted, grids[1], lamps, eye),
            figures=np.stack([here, *shown], axis=1),
            unsure=unsure,
            table=table,
            facts={
                "title": f"Colours of {record.name} under other lights",
                "lead": f"{counted(len(given), 'colour')}, {int(unsure.sum())} undecided; reference {light}, "
                f"{eye} degree observer. {digest}",
            },
            reasons=reasons,
            label=record.label,
        )
        outputs.append(Path(plot))
    results = {
        "colours": len(given),
        "undecided": int(unsure.sum()),
        "reference": {"illuminant": light, "observer": eye},
        "lights": table,
        "formulas": FORMULAS,
        "mode": record.setup.mode,
        "label": record.label,
        "condition": digest,
    }
    return Result(results, tuple(problems), tuple(outputs), "done", _lines(results))


def _pair(
    record: Condition, given: ReadingSet, path: str | Path, light: str, eye: str
) -> tuple[_Pair, list[Problem]]:
    """Return the recipes given, or those that match the colours best, and what they miss."""
    problems = []
    if given.ink_columns:
        require_inks_of(record, given, path)
        inks = given.coverages
    else:
        aim = readings_lab(given, light, eye)
        recipes = solve(record.inverse_under(light, eye), aim)
        inks, missed = recipes.inks, recipes.de00 > IN_GAMUT_DE00
        if missed.any():
            worst = int(recipes.de00.argmax())
            problems.append(
                Problem(
                    "warning",
                    f"patch {given.sample_ids[worst]}",
                    f"{int(missed.sum())} of {counted(len(given), 'colour')} out of reach under {light}: "
                    "figures are of the nearest prints, worst here",
                    found=f"CIEDE2000 {recipes.de00[worst]:.2f}",
                    expected=f"at most {IN_GAMUT_DE00:g}",
                )
            )
    return _Pair(inks, record.forward.reflectance(inks), given.spectra), problems


def _figures(
    pair: _Pair, grids: tuple[Any, Any], lamps: tuple[str, Illuminant], eye: str
) -> dict[str, FloatArray | None]:
    """Return difference, metamerism (both null without spectra of the colours) and inconstancy."""
    whites = [white_point(lamp, eye) for lamp in lamps]
    printed = [spectra_to_xyz(pair.printed, grids[0], lamp, eye) for lamp in lamps]
    found: dict[str, FloatArray | None] = {"de00": None, "mi": None}
    if pair.wanted is not None:
        wanted = [spectra_to_xyz(pair.wanted, grids[1], lamp, eye) for lamp in lamps]
        aims = [xyz_to_lab(xyz, white) for xyz, white in zip(wanted, whites, strict=True)]
        seen = [xyz_to_lab(xyz, white) for xyz, white in zip(printed, whites, strict=True)]
        found["de00"] = delta_e_2000(aims[1], seen[1])
        found["mi"] = special_metamerism_iso_18314_4(aims[0], aims[1], seen[0], seen[1])
    found["cii"] = inconstancy_cmccon02(printed[0], printed[1], whites[0], whites[1])
    return found


def _shown(figures: dict[str, FloatArray | None]) -> FloatArray:
    """Return the figure for the picture: the difference, or inconstancy where nothing is compared."""
    found = figures["de00"] if figures["de00"] is not None else figures["cii"]
    assert found is not None
    return found


def _cells(values: FloatArray | None, unsure: Mask) -> list[str] | None:
    if values is None:
        return None
    return ["undecided" if mask else f"{value:.4f}" for mask, value in zip(unsure, values, strict=True)]


def _lines(results: dict[str, Any]) -> tuple[str, ...]:
    light = results["reference"]
    return (
        f"{counted(results['colours'], 'colour')}, {results['undecided']} undecided; "
        f"reference {light['illuminant']}, {light['observer']} degree observer",
        *lights_lines(results["lights"], results["colours"]),
    )
