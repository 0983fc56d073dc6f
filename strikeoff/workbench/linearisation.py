"""Tone curves from ramps: for a new press set-up, and again for a condition."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes, write_text
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.base.progress import Progress, silent
from strikeoff.colour.weights import white_point
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.ink_space import held_limits, ramp_space
from strikeoff.condition.other_goods import goods_problems
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems
from strikeoff.inks.press_file import read_inks, write_curves
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.tables import FULL, NODES, look_up, to_codes
from strikeoff.measurement.mixing import compare_setups
from strikeoff.measurement.records import ReadingSet
from strikeoff.model.limits import InkLimits
from strikeoff.qualify.linearise import AIMS, ToneCurveFit, linearise, match_tones
from strikeoff.qualify.profiles import build_profiles
from strikeoff.qualify.ramps import Ramp, ink_ramps
from strikeoff.qualify.reach import reached_again
from strikeoff.report.plots_ramps import RampPlot, ramp_panels
from strikeoff.report.screen_colour import hex_colour
from strikeoff.report.style import LABELS
from strikeoff.workbench.conditions import describe, summary
from strikeoff.workbench.readings import InkScale, data_label, load_checked
from strikeoff.workbench.result import Result

FloatArray = NDArray[np.float64]

CONDITION_AIM = "condition"
_OTHER_TONES = 0.02
_GOOD_STEPS = 11
_WEAKER = 0.98
# Amount of ink and white in a patch that tells what the ink is over white.
_KNOWN = 0.9
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
    if (limits is None) == (curves is None):
        raise UsageError("give ink limits or curves, one of the two", expected="--limits or --curves")
    described, goods = read_inks(limits, curves)
    spaces = described.straight()
    measured, problems = _load(readings, ink_scale)
    ramps, noticed = _ramps(measured, spaces)
    name, wanted = read_aim(aim)
    fits = linearise(ramps, _limits(spaces, ramps), name, wanted=wanted)
    done = spaces.with_tone(np.stack([fit.curve for fit in fits]), aim if wanted is None else Path(aim).name)
    write_curves(out, done, goods)
    outputs = [Path(out), *_picture(plot, spaces.channels, ramps, fits, measured)]
    return _result(done, fits, measured, (*problems, *noticed), outputs)


def relinearise(
    condition: str | Path,
    readings: str | Path,
    out: str | Path,
    *,
    aim: str = CONDITION_AIM,
    ink_scale: InkScale = "percent",
    plot: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Give a condition new tone curves from ramps; its model stays.

    Where the new curves lay more ink down, the total in calibrated ink is lowered so that the laid-down total
    holds, and gamut and profiles are made again. Inks whose ramps stand over white are brought back over it.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    readings : str or Path
        Ramps of each ink, printed through the condition's curves or, on its screen, without tone curves.
    out : str or Path
        Condition to write.
    aim : str
        ``condition`` brings back the tones that the model has learnt; else as for `make_tone_curves`.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the readings.
    plot : str or Path, optional
        SVG picture to write.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    record, _ = read_condition(condition)
    measured, problems = _load(readings, ink_scale)
    measured, compared = _as_condition(measured, record)
    ramps, noticed = _ramps(measured, record.spaces)
    limits = _limits(record.spaces, ramps)
    found = [*problems, *compared, *noticed]
    if aim == CONDITION_AIM:
        for k, ramp in enumerate(ramps):
            _require_known(record, k, ramp)
        model = [_model_ramp(record, k, ramp) for k, ramp in enumerate(ramps)]
        fits, stated = match_tones(ramps, limits, model), record.spaces.aim
    else:
        name, wanted = read_aim(aim)
        fits = linearise(ramps, limits, name, wanted=wanted)
        stated = aim if wanted is None else Path(aim).name
        model = [_model_ramp(record, k, ramp) for k, ramp in enumerate(ramps)]
        known = [k for k, ramp in enumerate(ramps) if _knows(record, k, ramp)]
        found += _other_tones([(record.inks[k], model[k]) for k in known], name, wanted)
    found += [_weaker(fit) for fit in fits if fit.reached < _WEAKER]
    spaces = record.spaces.with_tone(np.stack([fit.curve for fit in fits]), stated)
    found += date_problems(record.goods)
    held = held_limits(record.limits, spaces)
    done = replace(record, spaces=spaces, limits=held)
    if held is not record.limits:
        found.append(_moved_limit(record.limits, held))
        done = reached_again(done, progress)
        done = replace(done, profiles=build_profiles(done, progress) if record.profiles else {})
    digest = write_condition(out, done)
    outputs = [Path(out), *_picture(plot, record.inks, ramps, fits, measured)]
    result = _result(spaces, fits, measured, tuple(found), outputs)
    return replace(result, results=result.results | {"condition": digest})


def change_press(
    condition: str | Path,
    out: str | Path,
    *,
    limits: str | Path | None = None,
    curves: str | Path | None = None,
) -> Result:
    """Give a condition another screen, drops or light-ink split; its tone curves must then be made again.

    What it records of press, inks, cloth and finishing stays; where the file records others, warnings say so.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    out : str or Path
        Condition to write.
    limits : str or Path, optional
        File of ink limits that describes inks and screen; this or ``curves``.
    curves : str or Path, optional
        Curves with a light-ink split.

    Returns
    -------
    Result
    """
    if (limits is None) == (curves is None):
        raise UsageError("give ink limits or curves, one of the two", expected="--limits or --curves")
    record, _ = read_condition(condition)
    press, goods = read_inks(limits, curves)
    if len(press.channels) != record.n_inks:
        raise InputError(
            "inks are not those of the condition",
            path=limits or curves,
            found=", ".join(press.channels),
            expected=", ".join(record.inks),
        )
    before = replace(record.spaces, channels=press.channels, inks=_renamed(record.spaces, press))
    done = replace(record, spaces=before.with_press(press))
    digest = write_condition(out, done)
    problems = (*goods_problems(record.goods, goods), *date_problems(record.goods))
    facts = summary(done, digest)
    return Result(facts, problems, (Path(out),), "done", describe(done, digest, facts["expected_de00"]))


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


def _load(readings: str | Path, ink_scale: InkScale) -> tuple[ReadingSet, list[Problem]]:
    measured, problems = load_checked(readings, ink_scale)
    raise_first_error(problems, readings)
    return measured, problems


def _ramps(measured: ReadingSet, spaces: InkSpaces) -> tuple[tuple[Ramp, ...], tuple[Problem, ...]]:
    """Return the ramps in amounts of the colour, before any tone curve."""
    if len(measured.ink_columns) != len(spaces.channels):
        raise InputError(
            "inks and columns disagree",
            path=measured.source or None,
            found=f"{len(measured.ink_columns)} ink columns",
            expected=", ".join(spaces.channels),
            advice="Read ramps of each colour; light inks are printed through the split",
        )
    space, problems = ramp_space(measured, spaces)
    ramps = ink_ramps(measured)
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


def _limits(spaces: InkSpaces, ramps: Sequence[Ramp]) -> list[float]:
    limit = {ink.name: ink.limit for ink in spaces.inks}
    return [
        min(limit[name], float(ramp.amount[-1])) for name, ramp in zip(spaces.channels, ramps, strict=True)
    ]


def _as_condition(measured: ReadingSet, record: Condition) -> tuple[ReadingSet, list[Problem]]:
    """Return ramps under the condition's light; refuse those of another set-up."""
    problems = compare_setups(record.setup, measured.setup, f"condition {record.name}", measured.source)
    light = (record.setup.illuminant, record.setup.observer)
    if measured.spectra is None and (measured.setup.illuminant, measured.setup.observer) != light:
        raise InputError(
            "ramps are seen under another light than the condition",
            path=measured.source or None,
            found=f"{measured.setup.illuminant}/{measured.setup.observer}",
            expected="/".join(light),
            advice="Read them with spectra",
        )
    setup = replace(measured.setup, illuminant=light[0], observer=light[1])
    return replace(measured, setup=setup), problems


def _knows(record: Condition, ink: int, ramp: Ramp) -> bool:
    """Return whether readings tell the model what an ink is where its ramp stands, over white if it does."""
    if ramp.over is None:
        return True
    printed = record.forward.recipes[:, [ink, _white_channel(record, ramp.over)]]
    return bool((printed >= _KNOWN).all(axis=1).any())


def _require_known(record: Condition, ink: int, ramp: Ramp) -> None:
    if _knows(record, ink, ramp):
        return
    white = _white_channel(record, str(ramp.over))
    name, over = record.spaces.channels[ink], record.spaces.channels[white]
    raise InputError(
        "the condition has no reading of this ink over white, so its tones there cannot come back",
        where=f"ink {name}",
        found=f"a ramp over {over}",
        expected=f"a patch of full {name} over full {over} in the condition's readings",
        advice="Print and read a characterisation chart with a total ink of "
        f"{100 * float(record.limits.weights[[ink, white]].sum()):.0f} % or more, which holds {name} over "
        f"{over}, and build again; or take an aim that counts from white, such as --aim colour",
    )


def _model_ramp(record: Condition, ink: int, ramp: Ramp) -> FloatArray:
    """Return what the model says of an ink in even steps, over full white where its ramp stands there."""
    inks = np.zeros((NODES, record.n_inks))
    if ramp.over is not None:
        white = _white_channel(record, ramp.over)
        inks[:, white] = record.limits.per_ink[white]
    inks[:, ink] = np.linspace(0.0, 1.0, NODES)
    return record.native.lab(inks)


def _white_channel(record: Condition, over: str) -> int:
    """Return the channel of the white ink that readings name."""
    for names in (record.inks, record.spaces.channels):
        if over in names:
            return names.index(over)
    roles = {ink.name: ink.role for ink in record.spaces.inks}
    return next(k for k, name in enumerate(record.spaces.channels) if roles[name] == "white")


def _other_tones(
    model: Sequence[tuple[str, FloatArray]],
    aim: str,
    wanted: tuple[FloatArray, FloatArray] | None,
) -> list[Problem]:
    """Warn where the model has learnt other tones than the aim: its colours would be wrong."""
    nominal = np.linspace(0.0, 1.0, NODES)
    target = nominal if wanted is None else np.interp(nominal, *wanted)
    problems = []
    for name, lab in model:
        gap = float(np.abs(AIMS[aim](lab, lab[0], lab[-1]) - target).max())
        if gap > _OTHER_TONES:
            problems.append(
                Problem(
                    "warning",
                    f"ink {name}",
                    "the model has learnt other tones than this aim gives",
                    f"{100 * gap:.1f} % apart",
                    f"at most {100 * _OTHER_TONES:.0f} %",
                    "Use the aim 'condition', or read a characterisation chart and build again",
                )
            )
    return problems


def _weaker(fit: ToneCurveFit) -> Problem:
    return Problem(
        "warning",
        f"ink {fit.ink}",
        "the solid falls short of the condition's",
        f"{100 * fit.reached:.1f} % of its tone",
        f"{100 * _WEAKER:.0f} % or more",
        "Check the heads, or build a condition for the press as it is",
    )


def _moved_limit(before: InkLimits, after: InkLimits) -> Problem:
    return Problem(
        "note",
        "total ink",
        "the new curves lay more ink down, so recipes hold less of it in calibrated ink; gamut and profiles "
        "were made again",
        f"at most {100 * after.total:.4g} % calibrated",
        f"{100 * before.total:.4g} % before",
        "Separate artwork again",
    )


def _renamed(spaces: InkSpaces, press: InkSpaces) -> Any:
    """Give a condition's inks the names of a press file, so that both can be compared."""
    names = dict(zip(spaces.channels, press.channels, strict=True))
    return tuple(
        replace(
            ink,
            name=names.get(ink.name, ink.name),
            light_of=None if ink.light_of is None else names[ink.light_of],
        )
        for ink in spaces.inks
    )


def _picture(
    plot: str | Path | None,
    names: Sequence[str],
    ramps: Sequence[Ramp],
    fits: Sequence[ToneCurveFit],
    measured: ReadingSet,
) -> list[Path]:
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


def _result(
    spaces: InkSpaces,
    fits: Sequence[ToneCurveFit],
    measured: ReadingSet,
    problems: tuple[Problem, ...],
    outputs: Sequence[Path],
) -> Result:
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
    return Result(results, problems, tuple(outputs), "done", (*lines, f"tone aim {spaces.aim}, {label}"))
