"""What a chart is printed with: inks, a condition, or the curves of a press set-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.chart.designs import white_channels
from strikeoff.chart.patch_sets import ChartLimits, check_inks, plain_limits
from strikeoff.chart.reference import ChartFacts, InkSpace, ink_columns
from strikeoff.condition.archive import read_condition
from strikeoff.condition.ink_space import calibrated_limits, ink_space_keywords
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems
from strikeoff.inks.press_file import read_curves, read_over_white, read_press
from strikeoff.inks.spaces import InkSpaces
from strikeoff.qualify.chart_limits import CurvedLimits, chart_limits
from strikeoff.qualify.clear_inks import shows_all_but_white
from strikeoff.workbench.artwork import PLANES_SCHEMA, planes_info
from strikeoff.workbench.chart_plans import LAID_DOWN_KINDS, TITLES
from strikeoff.workbench.chart_preview import (
    ChartPreview,
    condition_preview,
    curves_preview,
    names_preview,
)
from strikeoff.workbench.settled import channel_roles

# Charts that light inks are printed on by themselves.
_BEFORE_SPLIT = ("ink-limit", "total-ink", "grid")


@dataclass(frozen=True)
class ChartPress:
    """What a chart is printed with: inks and limits, a condition, or curves.

    Attributes
    ----------
    inks, columns : tuple of str
        Ink names and the columns of the reference.
    limits : ChartLimits
        In the ink space of the chart.
    facts : ChartFacts
        For the reference.
    info : dict
        For the planes.
    spaces : InkSpaces or None
        From the chart's inks to those in the heads; None when nothing is known.
    preview : ChartPreview
        How it looks on a screen.
    problems : tuple of Problem
        What is to be said of the condition.
    hides_white : bool
        Whether nothing is judged over white: the cloth hides white inks and shows all others, or it is said.
    """

    inks: tuple[str, ...]
    columns: tuple[str, ...]
    limits: ChartLimits
    facts: ChartFacts
    info: dict[str, Any]
    spaces: InkSpaces | None
    preview: ChartPreview
    problems: tuple[Problem, ...] = ()
    hides_white: bool = False


def chart_press(
    kind: str,
    inks: Sequence[str] | None,
    condition: str | Path | None,
    curves: str | Path | None,
    total_ink: float | None,
    seed: int,
) -> ChartPress:
    """Return what a chart is printed with.

    Raises
    ------
    UsageError
        Not one of inks, condition and curves; a limit that cannot be.
    """
    space: InkSpace = "laid-down" if kind in LAID_DOWN_KINDS else "calibrated"
    total = None if total_ink is None else total_ink / 100.0
    if (inks is not None) + (condition is not None) + (curves is not None) != 1:
        raise UsageError(
            "a chart needs inks, a condition or curves, one of the three",
            expected="--inks, --condition or --curves",
        )
    if condition is not None:
        record, digest = read_condition(condition)
        return condition_press(kind, record, digest, space, total, seed)
    if curves is not None:
        described = str(curves).lower().endswith(".toml")
        over_white = read_over_white(curves)
        if not described:
            made = curves_press(kind, read_curves(curves), space, total, seed)
            return _with_white(kind, made, over_white)
        file = read_press(curves)
        made = _with_white(kind, curves_press(kind, file.each_ink().spaces(), space, total, seed), over_white)
        pale = [ink.name for ink in file.inks if ink.role == "light"]
        if kind in _BEFORE_SPLIT or not pale:
            return made
        return replace(made, problems=(*made.problems, _no_split(pale)))
    assert inks is not None
    names = tuple(inks)
    check_inks(names)
    limits = plain_limits(len(names), total)
    columns = ink_columns(names)
    info = {
        "schema": PLANES_SCHEMA,
        "ink_space": space,
        "condition": {"name": "", "digest": "", "label": ""},
        "ink_columns": list(columns),
        "total_ink": float(len(names)),
        "ink_spaces": None,
    }
    facts = ChartFacts(kind, space, total_ink=total, seed=seed)
    return ChartPress(names, columns, limits, facts, info, None, names_preview(names))


def _with_white(kind: str, press: ChartPress, over_white: bool | None) -> ChartPress:
    """Return a press without ramps over white where they are known not to matter; asked about if not."""
    if kind != "linearisation" or not white_channels(press.inks):
        return press
    if over_white is not None:
        return replace(press, hides_white=not over_white)
    asked = Problem(
        "note",
        "ramps over white",
        "about half of the chart are ramps over white, which cloth needs that hides colours, and no other",
        advice="If colours print on the bare cloth, write over_white = false into the file of ink limits; "
        "'condition limits' does where ramps tell",
    )
    return replace(press, problems=(*press.problems, asked))


def _no_split(pale: Sequence[str]) -> Problem:
    return Problem(
        "warning",
        f"ink {', '.join(pale)}",
        "light inks stand here by themselves, and of such readings no curves and no condition are made",
        expected="a chart printed through the split",
        advice="Run 'condition split' first and give its file as --curves",
    )


def condition_press(
    kind: str, record: Condition, digest: str, space: InkSpace, total: float | None, seed: int
) -> ChartPress:
    """Return what a chart of a condition is printed with.

    Charts in laid-down ink go past the curves and the total ink limit: they are there to find them.

    Raises
    ------
    InputError
        For a chart in calibrated ink when the press has changed since its tone curves were made.
    """
    names = record.spaces.channels
    if space == "calibrated" and record.spaces.stale:
        raise InputError(
            "tone curves do not hold any more",
            where=f"condition {record.name}",
            found="; ".join(record.spaces.stale),
            expected="curves made for this press",
            advice="Print and read a linearisation chart and run 'condition relinearise'",
        )
    spaces, limits = _passed(record.spaces, _held_limits(record), space, total)
    words = ink_space_keywords(record.spaces, space)
    facts = ChartFacts(
        kind,
        space,
        curves_digest=words["CURVES_DIGEST"],
        condition_name=record.name,
        condition_digest=digest,
        total_ink=limits.total,
        seed=seed,
    )
    info = planes_info(record, digest) | {
        "ink_space": space,
        "ink_spaces": None if spaces.is_plain else spaces.as_record(),
        "total_ink": limits.total if space == "calibrated" else float(len(names)),
    }

    preview = condition_preview(record, space)
    told = date_problems(record.goods)
    solids = record.native.lab(np.diag(record.limits.per_ink))
    plain = shows_all_but_white(channel_roles(record.spaces), record.cloth_lab, solids)
    return ChartPress(names, record.ink_columns, limits, facts, info, spaces, preview, told, plain)


def _held_limits(record: Condition) -> ChartLimits:
    """Return limits that hold the total under the curves of the model and under those of today.

    Tone curves that were made again lay other amounts down than those that the condition was built with.
    """
    return chart_limits(record.limits, calibrated_limits(record.spaces))


def curves_press(kind: str, curves: InkSpaces, space: InkSpace, total: float | None, seed: int) -> ChartPress:
    """Return what a chart of a press set-up is printed with, before there is a condition."""
    names = curves.channels
    own = calibrated_limits(curves)
    spaces, limits = _passed(curves, chart_limits(own), space, total)
    words = ink_space_keywords(curves, space)
    columns = ink_columns(names)
    facts = ChartFacts(kind, space, curves_digest=words["CURVES_DIGEST"], total_ink=limits.total, seed=seed)
    info = {
        "schema": PLANES_SCHEMA,
        "ink_space": space,
        "condition": {"name": "", "digest": "", "label": ""},
        "ink_columns": list(columns),
        "total_ink": limits.total if space == "calibrated" else float(len(names)),
        "ink_spaces": spaces.as_record(),
    }
    return ChartPress(names, columns, limits, facts, info, spaces, curves_preview(curves, space, names))


def _passed(
    spaces: InkSpaces, limits: ChartLimits, space: InkSpace, total: float | None
) -> tuple[InkSpaces, ChartLimits]:
    """Return what a chart goes through and keeps to in its ink space."""
    count = len(spaces.channels)
    if space == "laid-down":
        straight = spaces.straight()
        spaces = replace(straight, total=float(straight.loads.sum()))
        limits = plain_limits(count)
    if total is not None:
        if not 0 < total <= count:
            raise UsageError("total ink limit cannot be", found=f"{100 * total:g} %")
        limits = replace(limits, total=min(limits.total, total))
    return spaces, limits


def ink_words(press: ChartPress) -> str:
    """Say in which ink space a chart is.

    Colours that light inks share are laid down by none of their names: only tone curves are left out.
    """
    split = press.spaces is not None and len(press.spaces.inks) > len(press.inks)
    if press.facts.ink_space == "laid-down" and split:
        return "ink before tone curves, split between dark and light"
    return f"{press.facts.ink_space} ink"


def chart_title(press: ChartPress) -> str:
    """Return the first line of a chart: kind, inks, ink space, condition."""
    facts = press.facts
    parts = [TITLES[facts.kind], "inks " + " ".join(press.inks), ink_words(press)]
    if facts.condition_digest:
        parts.append(f"{facts.condition_name} {facts.condition_digest.rsplit(':', 1)[-1][:8]}")
    if facts.curves_digest != "identity":
        parts.append(f"curves {facts.curves_digest.rsplit(':', 1)[-1][:8]}")
    if facts.total_ink is not None and facts.total_ink >= len(press.inks):
        parts.append("total ink not limited")
    elif facts.total_ink is not None:
        counting = " as inks count" if isinstance(press.limits, CurvedLimits) else ""
        parts.append(f"at most {100 * facts.total_ink:.4g} % ink{counting}")
    return " | ".join([*parts, f"seed {facts.seed}"])
