"""A condition on a press that has changed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from strikeoff.base.errors import InputError, UsageError
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.other_goods import goods_problems
from strikeoff.condition.standing import date_problems
from strikeoff.inks.press_file import read_inks
from strikeoff.inks.spaces import InkSpaces
from strikeoff.workbench.condition_told import describe, summary
from strikeoff.workbench.result import Result


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
