"""Tone curves of a new press set-up, from ramps."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem
from strikeoff.condition.ink_space import ramp_space
from strikeoff.inks.press_file import judged_over_white, read_inks, write_curves
from strikeoff.qualify.clear_inks import clear_channels, fit_others
from strikeoff.qualify.linearise import AIMS, linearise
from strikeoff.qualify.ramps import white_doubt
from strikeoff.qualify.tone_curve import ToneCurveFit
from strikeoff.workbench.picture_names import check_picture
from strikeoff.workbench.ramp_tones import (
    colour_ramps,
    draw_tones,
    hidden_by_cloth,
    load_ramps,
    ramp_limits,
    tones_told,
)
from strikeoff.workbench.readings import InkScale
from strikeoff.workbench.result import Result
from strikeoff.workbench.settled import channel_roles, with_known_roles, without_settled

FloatArray = NDArray[np.float64]

_CURVE_BYTES = 1 << 20


def make_tone_curves(
    readings: str | Path,
    out: str | Path,
    *,
    limits: str | Path | None = None,
    curves: str | Path | None = None,
    aim: str = "colour",
    ink_scale: InkScale = "percent",
    plot: str | Path | None = None,
) -> Result:
    """Make the tone curves of a press set-up from ramps printed without them.

    Parameters
    ----------
    readings : str or Path
        Ramps of each ink; with light inks, of each colour, printed through the split.
    out : str or Path
        Curves to write.
    limits : str or Path, optional
        File of ink limits; this or ``curves``.
    curves : str or Path, optional
        Curves with a light-ink split.
    aim : str
        ``colour``, ``sctv``, ``lightness``, or a CSV file of ink and tone value of ISO 20654 [%].
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the readings.
    plot : str or Path, optional
        SVG picture to write.

    Returns
    -------
    Result
    """
    check_picture(plot)
    if (limits is None) == (curves is None):
        raise UsageError("give ink limits or curves, one of the two", expected="--limits or --curves")
    described, goods = read_inks(limits, curves)
    spaces = described.straight()
    measured, problems = load_ramps(readings, ink_scale)
    over_white = judged_over_white(limits, curves)
    ramps, noticed = colour_ramps(measured, spaces, over_white)
    problems += white_doubt(measured)[1] if over_white is None else []
    name, wanted = read_aim(aim)
    clear, limit = clear_channels(spaces), ramp_limits(spaces, ramps)
    if ramp_space(measured, spaces)[0] != "calibrated":
        problems = without_settled(problems, measured, limit)
    problems = with_known_roles(problems, measured, channel_roles(spaces))

    def fit(places: list[int]) -> tuple[ToneCurveFit, ...]:
        return linearise([ramps[k] for k in places], [limit[k] for k in places], name, wanted=wanted)

    hidden, pale = hidden_by_cloth(spaces.channels, channel_roles(spaces), ramps, limit, clear)
    fits = fit_others(fit, ramps, limit, [*clear, *hidden])
    where = [f"ink {spaces.channels[k]}" for k in clear]
    stay = [Problem("note", ink, "a clear ink; its tones stay even in ink") for ink in where]
    done = spaces.with_tone(np.stack([fit.curve for fit in fits]), aim if wanted is None else Path(aim).name)
    write_curves(out, done, goods, over_white=over_white)
    outputs = [Path(out), *draw_tones(plot, spaces.channels, ramps, fits, measured)]
    return tones_told(done, fits, measured, (*problems, *noticed, *pale, *stay), outputs)


def read_aim(aim: str) -> tuple[str, tuple[FloatArray, FloatArray] | None]:
    """Return the measure of an aim and, for a CSV file, its course.

    Raises
    ------
    UsageError
        For a name that is neither an aim nor a file with the ending ``.csv``.
    InputError
        When the file holds no rising course from 0 to 100.
    """
    if aim in AIMS:
        return aim, None
    if not aim.lower().endswith(".csv"):
        raise UsageError("unknown tone aim", found=aim, expected=f"{', '.join(AIMS)} or FILE.csv")
    text = read_bytes(aim, _CURVE_BYTES).decode("utf-8", "replace")
    rows = []
    for line, cells in enumerate(csv.reader(text.splitlines()), 1):
        try:
            rows.append([float(cell) for cell in cells[:2]])
        except ValueError:
            if line > 1:
                raise InputError(
                    "not two numbers", path=aim, where=f"line {line}", found=",".join(cells)[:60]
                ) from None
    fits = len(rows) >= 2 and all(len(row) == 2 for row in rows)
    course = np.array(rows if fits else [[0.0, 0.0]], dtype=np.float64) / 100.0
    ends = fits and np.allclose(course[[0, -1]], [[0, 0], [1, 1]], atol=1e-9)
    if not ends or not ((np.diff(course[:, 0]) > 0).all() and (np.diff(course[:, 1]) >= 0).all()):
        raise InputError(
            "not a tone curve",
            path=aim,
            found=f"{len(rows)} rows",
            expected="ink and tone value [%], rising from 0,0 to 100,100",
        )
    return "sctv", (course[:, 0], course[:, 1])
