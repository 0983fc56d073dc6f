"""Ink limits from ramps of the physical inks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.files import write_text
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.colour.weights import white_point
from strikeoff.condition.ink_space import CURVES_DIGEST
from strikeoff.inks.press_file import PressFile, press_text, read_press, with_limits
from strikeoff.inks.records import plain_inks
from strikeoff.inks.spaces import IDENTITY
from strikeoff.measurement.line_widths import read_line_widths
from strikeoff.measurement.records import ReadingSet
from strikeoff.qualify.clear_inks import clear_places, hidden_white_places
from strikeoff.qualify.light_inks import (
    find_light_inks,
    light_ink_notes,
    with_fluorescent_inks,
    with_light_inks,
)
from strikeoff.qualify.limit_range import limit_range
from strikeoff.qualify.limits import InkLimit, LimitRule, find_limits
from strikeoff.qualify.ramps import Ramp, ink_ramps, white_doubt
from strikeoff.report.plots_ramps import RampPlot, ramp_panels
from strikeoff.report.screen_colour import hex_colour
from strikeoff.report.style import LABELS
from strikeoff.workbench.picture_names import check_picture
from strikeoff.workbench.readings import InkScale, data_label, load_checked
from strikeoff.workbench.result import Result
from strikeoff.workbench.settled import with_known_roles

FloatArray = NDArray[np.float64]

_HALF_STEP = 0.05
# Range of a limit that is told beside it, and one that is worth a note. Common practice, no source. [%, -]
_OPEN_FROM, _WIDE = 2, 0.1


def find_ink_limits(
    readings: str | Path,
    out: str | Path,
    *,
    inks: str | Path | None = None,
    least_gain: float | None = None,
    hook: float | None = None,
    growth: float | None = None,
    ink_scale: InkScale = "percent",
    plot: str | Path | None = None,
) -> Result:
    """Find the limit of each ink from ramps printed without tone curves.

    Parameters
    ----------
    readings : str or Path
        Ramps of the physical inks; with columns LINE_MM and GAP_MM where lines were measured.
    out : str or Path
        File of ink limits to write.
    inks : str or Path, optional
        File of ink limits that describes inks and screen; names from the readings by default.
    least_gain : float, optional
        Gain of colour over 10 % of ink below which it has stopped growing; 2 by default. [%]
    hook : float, optional
        Turn of hue over 10 % of ink that is too much; 5 by default. [degree]
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
    measured, press, problems = read_physical(readings, inks, ink_scale)
    problems = with_known_roles(problems, measured, [ink.role for ink in press.inks])
    plain = LimitRule()
    rule = LimitRule(
        plain.least_gain if least_gain is None else least_gain / 100.0,
        plain.hook_degrees if hook is None else hook,
        plain.growth_mm if growth is None else growth,
    )
    ramps = ink_ramps(measured, press.over_white)
    over_white, doubts = white_doubt(measured) if press.over_white is None else (press.over_white, [])
    pairs = find_light_inks(press.inks, ramps)
    if inks is None:
        described, notes = with_light_inks(press.inks, pairs)
        press = PressFile(described)
    else:
        notes = light_ink_notes(press.inks, pairs)
    inks_now, glow = with_fluorescent_inks(press.inks, ramps, described=inks is not None)
    press, notes = replace(press, inks=inks_now, over_white=over_white), [*notes, *glow, *doubts]
    growths, clear = _growths(readings, measured), clear_places(press.inks)
    whites = hidden_white_places([ink.role for ink in press.inks], ramps)
    limits = find_limits(ramps, rule, growths, clear, whites)
    ranges = [
        (limit.limit, limit.limit) if k in (*clear, *whites) else limit_range(ramp, rule, grown)
        for k, (ramp, limit, grown) in enumerate(zip(ramps, limits, growths, strict=True))
    ]
    notes += [_dulled(limit) for limit in limits if limit.dulled]
    notes += _left_open([ink.name for ink in press.inks], ranges)
    done = with_limits(press, [limit.limit for limit in limits], [limit.reason for limit in limits])
    write_text(out, press_text(done))
    outputs = [Path(out)]
    label = data_label(measured)
    if plot is not None:
        write_text(plot, _picture(press, ramps, limits, rule, measured, label))
        outputs.append(Path(plot))
    results: dict[str, Any] = {
        "limits": [
            {
                "ink": ink.name,
                "limit_percent": round(limit.limit * 100, 2),
                "range_percent": [round(100 * end, 1) for end in ends],
                "reason": limit.reason,
                "richest_percent": None if limit.richest is None else round(limit.richest * 100, 1),
                "light_of": ink.light_of,
            }
            for ink, limit, ends in zip(press.inks, limits, ranges, strict=True)
        ],
        "label": label,
        "readings": measured.digest,
    }
    lines = tuple(
        f"{ink.name:<12} {limit.limit * 100:5.1f} %{_range_told(ends)}  {limit.reason}"
        for ink, limit, ends in zip(press.inks, limits, ranges, strict=True)
    )
    return Result(results, (*problems, *notes), tuple(outputs), "done", (*lines, LABELS[label][0]))


def _range_told(ends: tuple[float, float]) -> str:
    """Return where else a limit may lie by the noise of its readings; nothing where it is hardly open."""
    low, high = (round(100 * end) for end in ends)
    return "" if high - low < _OPEN_FROM else f" ({low} to {high})"


def _left_open(names: Sequence[str], ranges: Sequence[tuple[float, float]]) -> list[Problem]:
    """Return a note of limits that another print of the ramps could put far from these."""
    wide = [
        f"{name} {100 * low:.0f} to {100 * high:.0f} %"
        for name, (low, high) in zip(names, ranges, strict=True)
        if high - low > _WIDE
    ]
    if not wide:
        return []
    return [
        Problem(
            "note",
            "ink limits",
            "the noise of the readings leaves some limits open: nine of ten such prints would put them "
            "somewhere between",
            found=", ".join(wide),
            advice="Print and read the ramps with more repeats, or look at the print and write the limit "
            "into the file",
        )
    ]


def _dulled(limit: InkLimit) -> Problem:
    best = 100 * (limit.richest or 0.0)
    return Problem(
        "note",
        f"ink {limit.ink}",
        f"is purest at {best:.0f} % and darkens beyond at the cost of chroma",
        found=f"{100 * limit.dulled:.0f} % less chroma at the limit of {100 * limit.limit:.0f} %",
        advice="Where pure colours and little ink count for more than this ink's darkest tones, "
        f"write limit_percent = {best:.0f} into the file",
    )


def read_physical(
    readings: str | Path, limits: str | Path | None, ink_scale: InkScale
) -> tuple[ReadingSet, PressFile, list[Problem]]:
    """Read what was printed with the inks in the heads, without curves, and what describes them.

    Parameters
    ----------
    readings : str or Path
        Readings.
    limits : str or Path, optional
        File of ink limits; the inks of the readings by their names without it.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the readings.

    Raises
    ------
    InputError
        When either cannot be used or they do not belong together.
    """
    measured, problems = load_checked(readings, ink_scale)
    raise_first_error(problems, readings)
    press = PressFile(plain_inks(measured.inks)) if limits is None else read_press(limits)
    _check_count(press, measured)
    refuse_curved(measured, press)
    return measured, press, problems


def refuse_curved(readings: ReadingSet, press: PressFile) -> None:
    """Refuse ramps of physical inks that were printed through curves or on another press.

    Raises
    ------
    InputError
        When the header names others than the press's plain drop curves.
    """
    stated = readings.keywords.get(CURVES_DIGEST, IDENTITY)
    if stated not in (IDENTITY, press.each_ink().spaces().curves_digest):
        raise InputError(
            "ramps were printed through curves, or on another press",
            path=readings.source or None,
            where=f"keyword {CURVES_DIGEST}",
            found=stated[:19],
            expected=IDENTITY,
            advice="Print the ramps of the physical inks without split and tone curves",
        )


def _check_count(press: PressFile, readings: ReadingSet) -> None:
    if len(press.inks) != len(readings.ink_columns):
        raise InputError(
            "inks and columns disagree",
            path=readings.source or None,
            found=f"{len(readings.ink_columns)} ink columns",
            expected=", ".join(ink.name for ink in press.inks),
            advice="Describe each ink column of the chart, in that order",
        )


def _growths(path: str | Path, readings: ReadingSet) -> list[tuple[FloatArray, FloatArray] | None]:
    widths = read_line_widths(path)
    if widths is None:
        return [None] * len(readings.inks)
    place = {name: row for row, name in enumerate(readings.sample_ids)}
    known = [(place[name], n) for n, name in enumerate(widths.sample_ids) if name in place]
    found: list[tuple[FloatArray, FloatArray] | None] = []
    for column in range(len(readings.inks)):
        alone = [
            (readings.coverages[row, column], widths.growth_mm[n])
            for row, n in known
            if readings.coverages[row, column] > 0
            and np.delete(readings.coverages[row], column).max(initial=0.0) == 0
        ]
        pairs = np.array(alone).reshape(-1, 2)
        found.append((pairs[:, 0], pairs[:, 1]))
    return found


def _picture(
    press: PressFile,
    ramps: tuple[Ramp, ...],
    limits: tuple[InkLimit, ...],
    rule: LimitRule,
    readings: ReadingSet,
    label: str,
) -> str:
    white = white_point(readings.setup.illuminant, readings.setup.observer)
    plots = []
    for ink, ramp, limit in zip(press.inks, ramps, limits, strict=True):
        # Beyond this a tenth of ink ahead is more than the ramp holds.
        shown = limit.amount <= limit.amount[-1] - _HALF_STEP
        colour = hex_colour(ramp.lab[-1], white)
        plots.append(
            RampPlot(ink.name, colour, limit.amount[shown], limit.gain[shown], limit.limit, limit.reason)
        )
    return ramp_panels(
        plots,
        "Gain of colour over the next 10 % of ink",
        value_label="gain [% of range]",
        threshold=rule.least_gain,
        label=LABELS[label][0],
    )
