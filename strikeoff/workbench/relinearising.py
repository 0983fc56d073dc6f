"""Tone curves made again for a condition; its model stays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.base.words import beside
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.ink_space import held_limits
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems
from strikeoff.measurement.mixing import compare_setups
from strikeoff.measurement.records import ReadingSet
from strikeoff.model.limits import InkLimits
from strikeoff.qualify.clear_inks import clear_channels, fit_others, hidden_white_places
from strikeoff.qualify.learnt_tones import match_tones, no_worse
from strikeoff.qualify.linearise import hidden_inks, linearise
from strikeoff.qualify.profiles import build_profiles, with_facts
from strikeoff.qualify.ramps import Ramp
from strikeoff.qualify.reach import reached_again
from strikeoff.qualify.tone_curve import InkChange, InkRest, ToneCurveFit
from strikeoff.workbench.linearisation import read_aim
from strikeoff.workbench.model_ramps import (
    SOLID_OFF,
    WEAK_ADVICE,
    knows_ramp,
    model_ramp,
    other_tones,
    readings_behind,
    require_known,
    too_few_behind,
    weak_solids,
)
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
from strikeoff.workbench.settled import channel_roles, with_known_roles

FloatArray = NDArray[np.float64]

CONDITION_AIM = "condition"
# Least tone of a solid; common practice, no source. [-]
_WEAKER = 0.98
# Colour that is none. [CIEDE2000]
_NO_COLOUR = 0.005


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
    With the aim ``condition`` curves that still belong to the screen change only as far as the ramps tell a
    drift from their own noise. What they cannot bring back of a weakened solid is told and warned of.

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
    check_picture(plot)
    measured, problems = load_ramps(readings, ink_scale)
    problems = with_known_roles(problems, measured, channel_roles(record.spaces))
    measured, compared = _as_condition(measured, record)
    ramps, noticed = colour_ramps(measured, record.spaces, record.over_white)
    limits = ramp_limits(record.spaces, ramps)
    found = [*problems, *compared, *noticed]
    clear = clear_channels(record.spaces)
    if aim == CONDITION_AIM:
        whites, kept = _hidden_whites(record, ramps, limits)
        clear, found = (*clear, *whites), [*found, *kept]
        for k, ramp in enumerate(ramps):
            if k not in clear:
                require_known(record, k, ramp)
        model = [model_ramp(record, k, ramp) for k, ramp in enumerate(ramps)]
        learnt = [readings_behind(record, k, ramp) for k, ramp in enumerate(ramps)]
        # Curves of another screen or other heads say nothing of the tones to expect.
        present = None if record.spaces.stale else list(record.spaces.tone)
        stated = record.spaces.aim

        def fit(places: list[int]) -> tuple[ToneCurveFit, ...]:
            before = None if present is None else [present[k] for k in places]
            said, known = [model[k] for k in places], [learnt[k] for k in places]
            return match_tones([ramps[k] for k in places], [limits[k] for k in places], said, before, known)

        if present is not None:
            found += too_few_behind(
                [(record.inks[k], len(learnt[k][0])) for k in range(len(ramps)) if k not in clear]
            )
    else:
        name, wanted = read_aim(aim)

        def fit(places: list[int]) -> tuple[ToneCurveFit, ...]:
            return linearise([ramps[k] for k in places], [limits[k] for k in places], name, wanted=wanted)

        stated = aim if wanted is None else Path(aim).name
        model = [model_ramp(record, k, ramp) for k, ramp in enumerate(ramps)]
        known = {k for k, ramp in enumerate(ramps) if knows_ramp(record, k, ramp)} - set(clear)
        found += other_tones([(record.inks[k], model[k]) for k in known], name, wanted)
        found += weak_solids([(record.inks[k], model[k], ramps[k], limits[k]) for k in known])
        hidden, pale = hidden_by_cloth(record.inks, channel_roles(record.spaces), ramps, limits, clear)
        clear, found, known = (*clear, *hidden), [*found, *pale], known - set(hidden)
    fits = fit_others(fit, ramps, limits, clear, list(record.spaces.tone))
    if aim != CONDITION_AIM and stated == record.spaces.aim and not record.spaces.stale:
        fits = tuple(
            no_worse(fits[k], ramps[k], limits[k], record.spaces.tone[k], model[k]) if k in known else fits[k]
            for k in range(len(fits))
        )
    found += [_kept(fit) for fit in fits if fit.kept is not None]
    found += [_weaker(fit) for fit in fits if _falls_short(fit)]
    spaces = record.spaces.with_tone(np.stack([fit.curve for fit in fits]), stated)
    found += date_problems(record.goods)
    held = held_limits(record.limits, spaces)
    done = replace(record, spaces=spaces, limits=held)
    if held is not record.limits:
        found.append(_moved_limit(record.limits, held))
        done = reached_again(done, progress)
        done = replace(done, profiles=build_profiles(done, progress) if record.profiles else {})
    done = replace(done, profiles=with_facts(done))
    digest = write_condition(out, done)
    outputs = [Path(out), *draw_tones(plot, record.inks, ramps, fits, measured)]
    result = tones_told(spaces, fits, measured, tuple(found), outputs)
    changes, lines = _changes_told(spaces.channels, fits)
    told = {"changes": changes, "condition": digest}
    return replace(result, results=result.results | told, lines=(*lines, *result.lines))


def _hidden_whites(
    record: Condition, ramps: Sequence[Ramp], limits: Sequence[float]
) -> tuple[list[int], list[Problem]]:
    """Return places of white inks that light cloth hides, whose curves stay, and a note for each."""
    places = hidden_white_places(channel_roles(record.spaces), ramps)
    hidden = hidden_inks([ramps[k] for k in places], [limits[k] for k in places], range(len(places)))
    notes = [
        Problem(
            "note",
            f"ink {record.inks[places[k]]}",
            "is hidden by the cloth, so its ramp tells no tones and its curve stays",
            f"{reach:.1f} CIEDE2000 between cloth and solid",
        )
        for k, reach in hidden.items()
    ]
    return [places[k] for k in hidden], notes


def _changes_told(
    names: Sequence[str], fits: Sequence[ToneCurveFit]
) -> tuple[list[dict[str, Any]] | None, list[str]]:
    """Return how far each ink has moved, as results and as lines; nothing where curves were made anew."""
    rows, lines = [], []
    if all(fit.change is None for fit in fits):
        return None, []
    for name, fit in zip(names, fits, strict=True):
        if fit.change is None:
            continue
        change, rest = fit.change, fit.rest or InkRest(0.0, 0.0)
        rows.append(
            {
                "ink": name,
                "change_de00": round(change.difference, 3),
                "uncertainty_de00": round(change.uncertainty, 3),
                "tone_percent": round(100 * change.tone, 2),
                "within_noise": change.within_noise,
                "stays_de00": round(rest.difference, 3),
                "solid_stays_de00": round(rest.solid, 3),
                "curve_kept": fit.kept is not None,
            }
        )
        size = f"{change.difference:.2f} CIEDE2000 (mean, 90 % radius {change.uncertainty:.2f})"
        if change.within_noise:
            begin = f"change within the noise of the readings, {size}"
        elif change.difference < change.uncertainty:
            begin = f"may have changed, by {size}, {_way(change.tone)}"
        else:
            begin = f"changed by {size}, {_way(change.tone)}"
        lines.append(f"{name:<12} {begin}; {_taken_back(change, rest, fit.kept)}")
    return rows, lines


def _way(tone: float) -> str:
    """Return by how much an ink has become stronger or weaker, all tones together."""
    size = f"{100 * abs(tone):.1f}"
    if float(size) == 0.0:
        return "on the whole neither stronger nor weaker"
    return f"{'stronger' if tone > 0 else 'weaker'} by {size} % of tone"


def _taken_back(change: InkChange, rest: InkRest, kept: tuple[float, float] | None) -> str:
    """Return what the new curves take back of a change, and what stays."""
    if max(rest.difference, rest.solid) < _NO_COLOUR:
        return "all of it taken back"
    stays = f"{rest.difference:.2f} stays, {rest.solid:.2f} at the solid"
    stays += ", whose own readings lie below the course of the ramp" if rest.is_read else ""
    if kept is not None:
        return f"the curve stays as it was, for a new one would leave {kept[1]:.2f}; {stays}"
    return f"{change.difference - rest.difference:.2f} of it taken back, {stays}"


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


def _falls_short(fit: ToneCurveFit) -> bool:
    """Return whether a solid has weakened by more than may be left."""
    rest = fit.rest or InkRest(0.0, 0.0)
    known = fit.change is None or not fit.change.within_noise or rest.is_read
    off = rest.solid if known else 0.0
    return fit.reached < _WEAKER or off > SOLID_OFF


def _kept(fit: ToneCurveFit) -> Problem:
    stays, instead = fit.kept or (0.0, 0.0)
    return Problem(
        "note",
        f"ink {fit.ink}",
        "its tone curve stays as it was: a new one, even up to the solid of today, would leave its tones "
        "further from those that the condition has learnt",
        f"{stays:.2f} CIEDE2000 in the mean with it, {instead:.2f} with a new one",
    )


def _weaker(fit: ToneCurveFit) -> Problem:
    rest = fit.rest or InkRest(0.0, 0.0)
    return Problem(
        "warning",
        f"ink {fit.ink}",
        "re-linearising is not enough: its solid falls short of the condition's, no curve makes it stronger, "
        "and model and profiles still count on it",
        f"{beside(100 * fit.reached, 100 * _WEAKER, 1)} % of its tone; {rest.solid:.2f} CIEDE2000 stays at "
        f"the solid, {rest.difference:.2f} in the mean",
        f"{100 * _WEAKER:.0f} % or more, at most {SOLID_OFF:g} CIEDE2000",
        WEAK_ADVICE,
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
