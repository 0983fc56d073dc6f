"""Charts: to be printed, and what their reference says."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import keep_inputs
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.base.words import counted
from strikeoff.chart.patch_sets import ChartLimits, check_inks, plain_limits
from strikeoff.chart.pdf_pages import write_pdf
from strikeoff.chart.raster_page import PageSource
from strikeoff.chart.reference import ChartFacts, InkSpace, ink_columns, write_reference
from strikeoff.chart.screen_inks import screen_colours
from strikeoff.condition.archive import read_condition
from strikeoff.condition.ink_space import calibrated_limits, ink_space_keywords
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems
from strikeoff.inks.press_file import read_curves, read_press
from strikeoff.inks.spaces import InkSpaces
from strikeoff.raster.tiff_writer import write_planes
from strikeoff.report.screen_colour import lab_to_srgb
from strikeoff.workbench.artwork import PLANES_SCHEMA, planes_info
from strikeoff.workbench.chart_plans import KINDS, LAID_DOWN_KINDS, TITLES, ChartPlan, ChartWish, plan_chart
from strikeoff.workbench.result import Result

FloatArray = NDArray[np.float64]


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
    colours : callable
        Ink amounts to screen colours of the preview.
    problems : tuple of Problem
        What is to be said of the condition.
    """

    inks: tuple[str, ...]
    columns: tuple[str, ...]
    limits: ChartLimits
    facts: ChartFacts
    info: dict[str, Any]
    spaces: InkSpaces | None
    colours: Callable[[FloatArray], FloatArray]
    problems: tuple[Problem, ...] = ()


def make_chart(
    out: str | Path,
    *,
    kind: str,
    inks: Sequence[str] | None = None,
    condition: str | Path | None = None,
    curves: str | Path | None = None,
    patches: int | None = None,
    repeats: int | None = None,
    total_ink: float | None = None,
    combine: Sequence[Sequence[str]] | None = None,
    steps: Sequence[float] | None = None,
    page: tuple[float, float] | None = None,
    patch: float | None = None,
    instrument: str = "hand",
    dpi: tuple[float, float] = (300.0, 300.0),
    bits: str | int = 16,
    laid_down: bool = False,
    seed: int = 0,
    progress: Progress = silent,
) -> Result:
    """Make a chart: planes to print, a preview to look at, a reference to measure with.

    Parameters
    ----------
    out : str or Path
        Folder to write.
    kind : str
        Kind of chart: "characterisation", "iso12642-2", "lot-check", "strip", "ink-limit",
        "total-ink", "linearisation" or "grid".
    inks : sequence of str, optional
        Ink names in channel order, when there is no condition.
    condition : str or Path, optional
        Condition that the chart is printed through: its inks, tone curves and total ink limit.
    curves : str or Path, optional
        Curves that the chart is printed through, before there is a condition; or, with the ending
        ``.toml``, ink limits: each ink in the heads as it is.
    patches, repeats : int, optional
        Distinct recipes; how many stand there once more.
    total_ink : float, optional
        Total ink limit; the condition's own, or none. [%]
    combine : sequence of sequence of str, optional
        Inks that are printed together, in ink limit ramps and on the total ink page.
    steps : sequence of float, optional
        Sums of ink on the total ink page. [%]
    page : tuple of float, optional
        Width and height of the cloth or paper. [mm]
    patch : float, optional
        Side of a patch. [mm]
    instrument : {"hand", "strip", "table"}
        How the chart is read.
    dpi : tuple of float
        Addressability, across and along. [dots per inch]
    bits : {16, 8}
        Bits per sample of the planes.
    laid_down : bool
        Write the amounts of the inks in the heads, for a press that screens by itself.
    seed : int
        Of random places and points.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    if kind not in KINDS:
        raise UsageError("unknown kind of chart", found=kind, expected=", ".join(KINDS))
    if kind in LAID_DOWN_KINDS and total_ink is not None:
        raise UsageError(
            "charts of this kind go past the total ink: they are there to find it",
            found=f"{kind}, --total-ink {total_ink:g}",
            expected="no --total-ink; --steps for the sums of a total-ink page",
        )
    wish = ChartWish(
        kind=kind,
        page_mm=page,
        patch_mm=patch,
        instrument=instrument,
        patches=patches,
        repeats=repeats,
        combinations=combine or (),
        steps=None if steps is None else [step / 100.0 for step in steps],
        seed=seed,
    )
    press = chart_press(kind, inks, condition, curves, total_ink, seed)
    plan = plan_chart(wish, press.inks, press.limits, chart_title(press))
    return write_chart(
        out,
        plan,
        press,
        wish,
        dpi=dpi,
        bits=bits,
        laid_down=laid_down,
        progress=progress,
        inputs=(condition, curves),
    )


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
        through = read_press(curves).each_ink().spaces() if described else read_curves(curves)
        return curves_press(kind, through, space, total, seed)
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
    return ChartPress(names, columns, limits, facts, info, None, lambda a: screen_colours(a, names))


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

    def seen(amounts: FloatArray) -> FloatArray:
        return lab_to_srgb(record.native.lab(amounts), record.native.view.white)[0] / 255.0

    colours = seen if space == "calibrated" else lambda amounts: screen_colours(amounts, names)
    told = date_problems(record.goods)
    return ChartPress(names, record.ink_columns, limits, facts, info, spaces, colours, told)


def _held_limits(record: Condition) -> ChartLimits:
    """Return limits that hold the total under the curves of the model and under those of today.

    Tone curves that were made again lay other amounts down than those that the condition was built with.
    """
    built, now = record.limits, calibrated_limits(record.spaces)
    if built.total == now.total and np.array_equal(built.weights, now.weights):
        return ChartLimits(built.per_ink, built.weights, built.total)
    total = min(built.total, now.total)
    weights = total * np.maximum(built.weights / built.total, now.weights / now.total)
    return ChartLimits(np.minimum(built.per_ink, now.per_ink), weights, total)


def curves_press(kind: str, curves: InkSpaces, space: InkSpace, total: float | None, seed: int) -> ChartPress:
    """Return what a chart of a press set-up is printed with, before there is a condition."""
    names = curves.channels
    own = calibrated_limits(curves)
    spaces, limits = _passed(curves, ChartLimits(own.per_ink, own.weights, own.total), space, total)
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
    return ChartPress(names, columns, limits, facts, info, spaces, lambda a: screen_colours(a, names))


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


def chart_title(press: ChartPress) -> str:
    """Return the first line of a chart: kind, inks, ink space, condition."""
    facts = press.facts
    parts = [TITLES[facts.kind], "inks " + " ".join(press.inks), f"{facts.ink_space} ink"]
    if facts.condition_digest:
        parts.append(f"{facts.condition_name} {facts.condition_digest.rsplit(':', 1)[-1][:8]}")
    if facts.curves_digest != "identity":
        parts.append(f"curves {facts.curves_digest.rsplit(':', 1)[-1][:8]}")
    if facts.total_ink is not None:
        parts.append(f"at most {100 * facts.total_ink:.4g} % ink")
    return " | ".join([*parts, f"seed {facts.seed}"])


def write_chart(
    out: str | Path,
    plan: ChartPlan,
    press: ChartPress,
    wish: ChartWish,
    *,
    dpi: tuple[float, float],
    bits: str | int,
    laid_down: bool,
    progress: Progress,
    inputs: Sequence[str | Path | None] = (),
    extra: dict[str, Any] | None = None,
) -> Result:
    """Write planes, preview and reference of a chart into a folder, but over none of the inputs."""
    folder, facts = Path(out), press.facts
    lay_down = press.spaces.to_laid_down if laid_down and press.spaces is not None else None
    names = press.inks if lay_down is None or press.spaces is None else tuple(
        ink.name for ink in press.spaces.inks
    )  # fmt: skip
    total = press.limits.total if facts.ink_space == "calibrated" else None
    sources = [PageSource(p, dpi, int(bits), lay_down, total) for p in plan.pages]
    info = press.info | {"chart": facts.keywords()}
    if lay_down is not None:
        info |= {"ink_space": "laid-down", "ink_spaces": None, "total_ink": float(len(names))}
    outputs = [folder / f"{facts.kind}-{number:02d}.tif" for number in range(1, len(sources) + 1)]
    for target in (*outputs, folder / f"{facts.kind}.pdf", folder / f"{facts.kind}.txt"):
        keep_inputs(target, *inputs)
    for number, (path, source) in enumerate(zip(outputs, sources, strict=True)):
        write_planes(
            path,
            source,
            ink_names=names,
            info=info | {"page": number + 1},
            bits=int(bits),
            progress=lambda _, f, n=number: progress("write the planes", (n + f) / len(sources)),
        )
    outputs.append(folder / f"{facts.kind}.pdf")
    write_pdf(outputs[-1], plan.pages, press.colours)
    if plan.patches is not None:
        outputs.append(folder / f"{facts.kind}.txt")
        patches = plan.patches
        write_reference(
            outputs[-1],
            patches.recipes,
            patches.names,
            patches.inks,
            facts,
            columns=press.columns,
            placed=plan.placed,
        )
    results = _results(plan, press, wish, dpi) | (extra or {})
    return Result(results, (*press.problems, *plan.problems), tuple(outputs), "done", _lines(results))


def _results(plan: ChartPlan, press: ChartPress, wish: ChartWish, dpi: tuple[float, float]) -> dict[str, Any]:
    patches, facts = plan.patches, press.facts
    distinct = 0 if patches is None else len(np.unique(patches.recipes.round(6), axis=0))
    weights = press.limits.weights if facts.ink_space == "calibrated" else np.ones(len(press.inks))
    highest = max((float(item.inks @ weights) for page in plan.pages for item in page.items), default=0.0)
    return {
        "kind": facts.kind,
        "inks": list(press.inks),
        "ink_space": facts.ink_space,
        "curves_digest": facts.curves_digest,
        "patches": 0 if patches is None else len(patches),
        "recipes": distinct,
        "pages": len(plan.pages),
        "page_mm": [plan.pages[0].width_mm, plan.pages[0].height_mm],
        "patch_mm": None if plan.placed is None else plan.placed.patch_mm,
        "reading_order": None if plan.placed is None else plan.placed.instrument.order,
        "highest_total_percent": round(100.0 * highest, 3),
        "total_ink_percent": None if facts.total_ink is None else round(100.0 * facts.total_ink, 3),
        "dpi": list(dpi),
        "seed": facts.seed,
        "condition": facts.condition_digest or None,
    }


def _lines(results: dict[str, Any]) -> tuple[str, ...]:
    width, height = results["page_mm"]
    first = f"{TITLES[results['kind']]}: {counted(results['pages'], 'page')} of {width:g} x {height:g} mm"
    if results["patches"]:
        first += f", {counted(results['patches'], 'patch')} of {counted(results['recipes'], 'recipe')}"
    space = f"{results['ink_space']} ink, highest total {results['highest_total_percent']:g} %"
    order = results["reading_order"]
    return (first, space, *([f"read {order}"] if order else []))
