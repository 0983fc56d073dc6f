"""A condition on a press that has changed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.ink_space import held_limits
from strikeoff.condition.other_goods import goods_problems
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems
from strikeoff.inks.press_file import read_inks
from strikeoff.inks.roles import BY_NAME_ONLY
from strikeoff.inks.spaces import InkSpaces
from strikeoff.qualify.profiles import build_profiles, with_facts
from strikeoff.qualify.reach import reached_again
from strikeoff.workbench.condition_told import describe, summary
from strikeoff.workbench.result import Result

# Totals that differ by rounding are the same. [-]
_SAME = 1e-4


def change_press(
    condition: str | Path,
    out: str | Path,
    *,
    limits: str | Path | None = None,
    curves: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Give a condition another screen, drops or light-ink split; its tone curves must then be made again.

    Where nothing but the total is another and lower, they hold, and gamut and profiles are made again. What
    the condition records of press, inks, cloth and finishing stays; where the file records others, warnings
    say so.

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
    progress : Progress
        Told what goes on.

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
    _check_names(record.spaces, press, limits or curves)
    before = replace(record.spaces, channels=press.channels, inks=_renamed(record.spaces, press))
    done = replace(record, spaces=before.with_press(press))
    lowered: list[Problem] = []
    if not done.spaces.stale:
        done, lowered = _under_its_limits(done, progress)
    done = replace(done, profiles=with_facts(done))
    digest = write_condition(out, done)
    problems = (
        *_other_roles(before, done.spaces),
        *_higher_total(press, done.spaces),
        *lowered,
        *goods_problems(record.goods, goods),
        *date_problems(record.goods),
    )
    facts = summary(done, digest)
    return Result(facts, problems, (Path(out),), "done", describe(done, digest, facts["expected_de00"]))


def _check_names(spaces: InkSpaces, press: InkSpaces, path: str | Path | None) -> None:
    """Refuse inks in another order, and other inks than those that a condition was made with.

    Only where nothing but names of inks is known of the condition, as of readings from elsewhere, does the
    file of the press give them its own.

    Raises
    ------
    InputError
        With the inks of both.
    """
    if press.channels == spaces.channels:
        return
    again = set(press.channels) & set(spaces.channels)
    moved = any(press.channels.index(name) != spaces.channels.index(name) for name in again)
    if moved or not spaces.is_plain:
        raise InputError(
            "inks stand in another order" if moved else "inks are not those of the condition",
            path=path,
            found=", ".join(press.channels),
            expected=", ".join(spaces.channels),
            advice="List them in the order of the condition"
            if moved
            else "With another ink read a chart and build a condition; with the same one keep its name",
        )


def _other_roles(before: InkSpaces, after: InkSpaces) -> tuple[Problem, ...]:
    """Return a warning for each ink that is now to be reached by name only, or no longer."""
    roles = {ink.name: ink.role for ink in before.inks}
    return tuple(
        Problem(
            "warning",
            f"ink {ink.name}",
            "has another role; recipes, gamut and profiles were made for the old one",
            ink.role,
            roles[ink.name],
            "Build the condition again from its readings, with these limits and curves",
        )
        for ink in after.inks
        if ink.name in roles and (ink.role in BY_NAME_ONLY) != (roles[ink.name] in BY_NAME_ONLY)
    )


def _higher_total(press: InkSpaces, after: InkSpaces) -> tuple[Problem, ...]:
    """Return a note where a file allows more ink than the condition, which keeps its own limit."""
    if not press.total_is_set or press.total <= after.total + _SAME:
        return ()
    return (
        Problem(
            "note",
            "total ink",
            "the file allows more than the condition, which keeps its limit",
            f"{100 * press.total:.4g} %",
            f"{100 * after.total:.4g} %",
            "For more read a chart printed with it and build a condition",
        ),
    )


def _under_its_limits(record: Condition, progress: Progress) -> tuple[Condition, list[Problem]]:
    """Return a condition whose gamut and profiles keep to its limits, and a note where they did not."""
    held = held_limits(record.limits, record.spaces)
    if held is record.limits:
        return record, []
    done = reached_again(replace(record, limits=held), progress)
    done = replace(done, profiles=build_profiles(done, progress) if record.profiles else {})
    before, after = record.limits, held
    moved = [
        ("total", before.total, after.total),
        *zip(record.inks, before.per_ink, after.per_ink, strict=True),
    ]
    less = [(name, old, new) for name, old, new in moved if new < old - _SAME]
    note = Problem(
        "note",
        "ink limits",
        "are lower, so gamut and profiles were made again; tone curves hold, for no tone of an ink changes",
        ", ".join(f"{name} {100 * new:.4g} %" for name, _, new in less) + " calibrated",
        ", ".join(f"{name} {100 * old:.4g} %" for name, old, _ in less) + " before",
        "Separate artwork again",
    )
    return done, [note]


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
