"""The total ink limit from measured overprints."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import write_text
from strikeoff.base.problems import Problem
from strikeoff.colour.weights import white_point
from strikeoff.inks.press_file import press_text
from strikeoff.inks.tables import to_codes
from strikeoff.measurement.line_widths import read_line_widths
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.qualify.total_ink import TotalInk, TotalRule, find_ladders, find_total
from strikeoff.report.plots_ramps import RampPlot, ramp_panels
from strikeoff.report.screen_colour import hex_colour
from strikeoff.report.style import LABELS
from strikeoff.workbench.ink_limits import read_physical
from strikeoff.workbench.picture_names import check_picture
from strikeoff.workbench.readings import InkScale, data_label
from strikeoff.workbench.result import Result
from strikeoff.workbench.settled import with_known_roles, without_settled

_BARE = 1e-4
#: Radius of the limit above which more steps or repeats are asked for. [-]
_UNSURE = 0.15
_EYE = (
    "Readings do not see filled-in type, rubbing, strike-through and tack: look at the finished page too, "
    "and take the lower limit"
)


def find_total_ink(
    readings: str | Path,
    out: str | Path,
    *,
    limits: str | Path,
    least_gain: float | None = None,
    growth: float | None = None,
    ink_scale: InkScale = "percent",
    plot: str | Path | None = None,
) -> Result:
    """Find how much ink in one place is of use, from overprints in steps.

    Parameters
    ----------
    readings : str or Path
        The bare cloth, and combinations of the physical inks that rise in one proportion, printed without
        curves; with columns LINE_MM and GAP_MM where lines were measured.
    out : str or Path
        File of ink limits to write: that of ``limits`` with the total.
    limits : str or Path
        File of ink limits that describes the inks.
    least_gain : float, optional
        Movement away from the cloth over 10 % of ink that is enough; 0.5 by default. [CIEDE2000]
    growth : float, optional
        Growth of a line's edge that is too much; 0.1 by default. [mm]
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the readings.
    plot : str or Path, optional
        SVG picture to write.

    Returns
    -------
    Result
    """
    check_picture(plot)
    measured, press, problems = read_physical(readings, limits, ink_scale)
    problems = without_settled(problems, measured, [ink.limit for ink in press.inks])
    problems = with_known_roles(problems, measured, [ink.role for ink in press.inks])
    for value, what in ((least_gain, "gain that is enough"), (growth, "growth of a line")):
        if value is not None and not value > 0:
            raise UsageError(f"a {what} is above 0", found=value)
    plain = TotalRule()
    rule = TotalRule(
        plain.least_gain_de00 if least_gain is None else least_gain,
        plain.growth_mm if growth is None else growth,
    )
    merged = merge_repeats(measured)
    lab = readings_lab(merged)
    spaces = press.each_ink().spaces()
    load = spaces.load(spaces.to_laid_down(to_codes(merged.coverages)))
    bare = np.flatnonzero(merged.coverages.max(axis=1) <= _BARE)
    if not len(bare):
        raise InputError(
            "overprints need the bare cloth",
            path=readings,
            expected="a patch without ink",
            advice="Read it and add it",
        )
    names = tuple(ink.name for ink in press.inks)
    try:
        ladders = find_ladders(names, merged.coverages, load, lab)
        found = find_total(ladders, lab[bare[0]], rule, _growths(readings, measured, merged))
    except InputError as error:
        error.path = error.path or str(readings)
        raise
    done = replace(press, total=found.total)
    write_text(out, press_text(done))
    outputs = [Path(out)]
    label = data_label(measured)
    if plot is not None:
        write_text(plot, _picture(found, rule, measured, label))
        outputs.append(Path(plot))
    ml_m2 = done.each_ink().spaces().total_ml_m2
    rows = [
        {
            "inks": list(limit.ladder.inks),
            "steps": len(limit.ladder.total),
            "last_percent": round(100 * float(limit.ladder.total[-1]), 2),
            "useful_percent": round(100 * limit.useful, 2),
            "useful_u90_percent": round(100 * limit.useful_u90, 2),
            "still_grows": limit.is_open,
            "clean_percent": None if limit.clean is None else round(100 * limit.clean, 2),
        }
        for limit in found.limits
    ]
    results: dict[str, Any] = {
        "total_percent": round(100 * found.total, 2),
        "total_u90_percent": round(100 * found.u90, 2),
        "total_ml_m2": None if ml_m2 is None else round(ml_m2, 3),
        "decided_by": list(found.inks),
        "reason": found.reason,
        "combinations": rows,
        "label": label,
        "readings": measured.digest,
    }
    volume = "" if ml_m2 is None else f" ({ml_m2:.2f} ml/m2)"
    lines = (
        f"total ink {100 * found.total:.0f} %{volume}, give or take {100 * found.u90:.0f} %: "
        f"{'+'.join(found.inks)}, {found.reason}",
        *(_line(row) for row in rows),
        LABELS[label][0],
    )
    return Result(results, (*problems, *_notes(found)), tuple(outputs), "done", lines)


def _line(row: dict[str, Any]) -> str:
    name = "+".join(row["inks"])
    useful = "grows up to" if row["still_grows"] else "useful up to"
    text = f"{name:<16} {row['steps']:>3} steps, {useful} {row['useful_percent']:.0f} %"
    if not row["still_grows"]:
        text += f", give or take {row['useful_u90_percent']:.0f} %"
    return text if row["clean_percent"] is None else f"{text}; lines run at {row['clean_percent']:.0f} %"


def _notes(found: TotalInk) -> list[Problem]:
    notes = [Problem("note", "total ink", "was found from readings alone", advice=_EYE)]
    decides = next(limit for limit in found.limits if limit.ladder.inks == found.inks)
    is_end = decides.is_open and not decides.ladder.is_full
    if is_end and found.total >= round(decides.useful, 3):
        notes.append(
            Problem(
                "warning",
                f"overprint {'+'.join(found.inks)}",
                "colour still grows at the last step, so the limit is only the most that was printed",
                f"{100 * found.total:.0f} %",
                advice="Print further steps, unless the cloth holds no more",
            )
        )
    if found.u90 > _UNSURE:
        notes.append(
            Problem(
                "warning",
                f"overprint {'+'.join(found.inks)}",
                "noise of the readings leaves the limit unsure",
                f"give or take {100 * found.u90:.0f} %",
                f"{100 * _UNSURE:.0f} % or less",
                "Read the steps several times, or print more of them",
            )
        )
    return notes


def _growths(path: str | Path, measured: ReadingSet, merged: ReadingSet) -> dict[int, float]:
    """Return the mean growth of edges by row of the merged readings. [mm]."""
    widths = read_line_widths(path)
    if widths is None:
        return {}
    by_name = dict(zip(widths.sample_ids, widths.growth_mm, strict=True))
    found: dict[int, float] = {}
    for row, recipe in enumerate(merged.coverages):
        same = np.flatnonzero((np.abs(measured.coverages - recipe) <= _BARE).all(axis=1))
        grown = [by_name[measured.sample_ids[k]] for k in same if measured.sample_ids[k] in by_name]
        if grown:
            found[row] = float(np.mean(grown))
    return found


def _picture(found: TotalInk, rule: TotalRule, readings: ReadingSet, label: str) -> str:
    white = white_point(readings.setup.illuminant, readings.setup.observer)
    plots = [
        RampPlot(
            "+".join(limit.ladder.inks),
            hex_colour(limit.ladder.lab[-1], white),
            limit.total,
            limit.gain / 100.0,
            limit.useful,
            "still grows at the last step" if limit.is_open else "",
        )
        for limit in found.limits
    ]
    return ramp_panels(
        plots,
        "Gain of colour over the next 10 % of ink",
        value_label="gain [CIEDE2000]",
        threshold=rule.least_gain_de00 / 100.0,
        label=LABELS[label][0],
        across="total ink, laid down [%]",
        ident="totals-drawing",
    )
