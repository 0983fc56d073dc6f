"""Ramps of a press set-up, and what is told of the tone curves made from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.base.files import write_text
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.colour.weights import white_point
from strikeoff.condition.ink_space import ramp_space
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.tables import FULL, look_up, to_codes
from strikeoff.measurement.records import ReadingSet
from strikeoff.qualify.clear_inks import hidden_white_places
from strikeoff.qualify.linearise import LEAST_COLOUR, LEAST_RANGE, hidden_inks
from strikeoff.qualify.ramps import Ramp, ink_ramps
from strikeoff.qualify.tone_curve import ToneCurveFit
from strikeoff.report.plots_ramps import RampPlot, ramp_panels
from strikeoff.report.screen_colour import hex_colour
from strikeoff.report.style import LABELS
from strikeoff.workbench.readings import InkScale, data_label, load_checked
from strikeoff.workbench.result import Result

_GOOD_STEPS = 11
# Most tone between two steps; in steps of 10 % it is up to 0.3 in the lights. Common practice, no source.
_LEAP = 0.33
# Tone over ink from which the ink, not the distance of steps, makes a leap. Common practice, no source.
_STEEP = 1.5
# Least rise over so much of the ink, below that tone. Common practice, no source.
_REST_TONE, _REST_INK, _REST_BELOW = 0.03, 0.15, 0.9


def load_ramps(readings: str | Path, ink_scale: InkScale) -> tuple[ReadingSet, list[Problem]]:
    """Return readings of ramps and what was noticed; refuse those that cannot be right."""
    measured, problems = load_checked(readings, ink_scale)
    raise_first_error(problems, readings)
    return measured, problems


def colour_ramps(
    measured: ReadingSet, spaces: InkSpaces, over_white: bool | None = None
) -> tuple[tuple[Ramp, ...], tuple[Problem, ...]]:
    """Return the ramps in amounts of the colour, before any tone curve; over white where that is said."""
    if len(measured.ink_columns) != len(spaces.channels):
        raise InputError(
            "inks and columns disagree",
            path=measured.source or None,
            found=f"{len(measured.ink_columns)} ink columns",
            expected=", ".join(spaces.channels),
            advice="Read ramps of each colour; light inks are printed through the split",
        )
    space, problems = ramp_space(measured, spaces)
    ramps = ink_ramps(measured, over_white)
    problems = (*problems, *(_few_steps(ramp) for ramp in ramps if len(ramp.amount) < _GOOD_STEPS))
    if space == "calibrated":
        ramps = tuple(
            replace(ramp, amount=look_up(curve, to_codes(ramp.amount)) / FULL)
            for ramp, curve in zip(ramps, spaces.tone, strict=True)
        )
    return ramps, problems


def _few_steps(ramp: Ramp) -> Problem:
    return Problem(
        "warning",
        f"ink {ramp.ink}",
        "few steps: between them the tone may be several percent off",
        f"{len(ramp.amount)} steps",
        f"{_GOOD_STEPS} or more",
        "Print the chart of kind linearisation",
    )


def ramp_limits(spaces: InkSpaces, ramps: Sequence[Ramp]) -> list[float]:
    """Return where each ramp ends: at the limit of its ink, or where readings end. [-]."""
    limit = {ink.name: ink.limit for ink in spaces.inks}
    return [
        min(limit[name], float(ramp.amount[-1])) for name, ramp in zip(spaces.channels, ramps, strict=True)
    ]


def hidden_by_cloth(
    names: Sequence[str],
    roles: Sequence[str],
    ramps: Sequence[Ramp],
    limits: Sequence[float],
    clear: Sequence[int],
) -> tuple[list[int], list[Problem]]:
    """Return places of inks other than clear ones that the cloth hides, and a warning for each."""
    others = [place for place in range(len(ramps)) if place not in clear]
    named = [replace(ramps[k], ink=names[k]) for k in others]
    unseen = hidden_white_places([roles[k] for k in others], named)
    hidden = hidden_inks(named, [limits[k] for k in others], unseen)
    problems = [
        Problem(
            "warning",
            f"ink {named[k].ink}",
            "hardly shows on this cloth: no tone curve is made of its ramp",
            f"{reach:.1f} CIEDE2000 between cloth and solid",
            f"{LEAST_COLOUR:g} or more for a tone curve",
            "See whether its head fires; if it does, leave it so, or leave the ink out on this cloth",
        )
        for k, reach in hidden.items()
    ]
    return [others[k] for k in hidden], problems


def draw_tones(
    plot: str | Path | None,
    names: Sequence[str],
    ramps: Sequence[Ramp],
    fits: Sequence[ToneCurveFit],
    measured: ReadingSet,
) -> list[Path]:
    """Write the picture of the tones of each ink, if one is wished for, and return its path."""
    if plot is None:
        return []
    white = white_point(measured.setup.illuminant, measured.setup.observer)
    plots = [
        RampPlot(
            name,
            hex_colour(ramp.lab[-1], white),
            fit.amount,
            fit.smooth / fit.smooth[-1],
            fit.limit,
            f"steps off by {100 * fit.residual_max:.1f} % at most",
            (fit.amount, fit.tone / fit.smooth[-1]),
        )
        for name, ramp, fit in zip(names, ramps, fits, strict=True)
    ]
    svg = ramp_panels(
        plots,
        "Tone of each ink before its tone curve",
        value_label="tone [%]",
        label=LABELS[data_label(measured)][0],
    )
    write_text(plot, svg)
    return [Path(plot)]


def tones_told(
    spaces: InkSpaces,
    fits: Sequence[ToneCurveFit],
    measured: ReadingSet,
    problems: tuple[Problem, ...],
    outputs: Sequence[Path],
) -> Result:
    """Return what a command tells of the tone curves that it made."""
    per_ink = [
        {
            "ink": name,
            "ends_at_percent": round(fit.limit * 100, 2),
            "residual_max_percent": round(fit.residual_max * 100, 3),
            "residual_rms_percent": round(fit.residual_rms * 100, 3),
            "reached_percent": round(fit.reached * 100, 2),
        }
        for name, fit in zip(spaces.channels, fits, strict=True)
    ]
    results: dict[str, Any] = {
        "aim": spaces.aim,
        "inks": per_ink,
        "screen": None if spaces.screen is None else asdict(spaces.screen),
        "curves_digest": spaces.curves_digest,
        "readings": measured.digest,
        "label": data_label(measured),
    }
    lines = tuple(
        f"{name:<12} ends at {fit.limit * 100:5.1f} % of the ink, "
        f"steps off by {100 * fit.residual_rms:.2f} % (rms), {100 * fit.residual_max:.2f} % at most"
        for name, fit in zip(spaces.channels, fits, strict=True)
    )
    label = LABELS[results["label"]][0]
    pale = tuple(
        Problem(
            "note",
            f"ink {name}",
            "too pale for tones even in lightness: its tones are even in colour",
            f"{fit.pale_l:.1f} L* between cloth and solid",
            f"{LEAST_RANGE:g} or more",
        )
        for name, fit in zip(spaces.channels, fits, strict=True)
        if fit.pale_l is not None
    )
    shared = {ink.light_of for ink in spaces.inks}
    split = [fit for name, fit in zip(spaces.channels, fits, strict=True) if name in shared]
    told = (*problems, *pale, *leaping(fits), *resting(split))
    return Result(results, told, tuple(outputs), "done", (*lines, f"tone aim {spaces.aim}, {label}"))


def leaping(fits: Sequence[ToneCurveFit]) -> list[Problem]:
    """Return a warning for each ink whose tone leaps between two steps: its curve is guessed there."""
    problems = []
    for fit in fits:
        rises = np.diff(fit.tone) / fit.smooth[-1]
        # Steps far apart are told of by their number.
        rises[rises < _STEEP * np.diff(fit.amount) / fit.limit] = 0.0
        at = int(rises.argmax())
        if rises[at] > _LEAP:
            first, second = (f"{100 * amount:.3g} %" for amount in fit.amount[at : at + 2])
            problems.append(
                Problem(
                    "warning",
                    f"ink {fit.ink}",
                    "tone leaps between two steps: what the curve does there is guessed",
                    f"{100 * rises[at]:.0f} % of the tone between {first} and {second} of the ink",
                    f"at most {100 * _LEAP:.0f} %",
                    "Print and read steps between them; smaller drops or a light ink begin more softly",
                )
            )
    return problems


def resting(fits: Sequence[ToneCurveFit]) -> list[Problem]:
    """Return a warning for each colour of two inks whose tone rests while the light one gives way.

    The tone curve goes through such a rest in a step or two, from nearly all light ink to mostly dark.
    """
    problems = []
    for fit in fits:
        ink, tone = fit.amount / fit.limit, fit.smooth / fit.smooth[-1]
        waits = np.where((tone - tone[:, None] < _REST_TONE) & (tone[:, None] < _REST_BELOW), ink, 0.0)
        lengths = waits - ink[:, None]
        first, last = divmod(int(lengths.argmax()), len(ink))
        if lengths[first, last] < _REST_INK:
            continue
        begin, end = (f"{100 * fit.amount[at]:.3g} %" for at in (first, last))
        problems.append(
            Problem(
                "warning",
                f"ink {fit.ink}",
                "tone rests while the light ink gives way to the dark one, so the curve leaps from one to "
                "the other and grain may show a step",
                f"{100 * (tone[last] - tone[first]):.1f} % of the tone between {begin} and {end} of the ink",
                f"{100 * _REST_TONE:.0f} % or more in {100 * _REST_INK:.0f} % of the ink",
                "Split again with a lower --most-laid-down, and print and read these ramps again",
            )
        )
    return problems
