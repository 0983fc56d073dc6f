"""Charts written: planes to print, a preview, a reference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.files import keep_inputs
from strikeoff.base.progress import Progress, silent
from strikeoff.base.words import counted
from strikeoff.chart.patch_sets import plain_limits
from strikeoff.chart.pdf_pages import write_pdf
from strikeoff.chart.raster_page import PageSource
from strikeoff.chart.reference import write_reference
from strikeoff.raster.tiff_writer import write_planes
from strikeoff.workbench.chart_plans import KINDS, LAID_DOWN_KINDS, TITLES, ChartPlan, ChartWish, plan_chart
from strikeoff.workbench.chart_press import ChartPress, chart_press, chart_title, ink_words
from strikeoff.workbench.result import Result

# Sums that differ by no more are told as one. [%]
_SAME_PERCENT = 0.1

FloatArray = NDArray[np.float64]


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
    wish = replace(wish, over_white=not press.hides_white)
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
    write_pdf(outputs[-1], plan.pages, press.preview.colours, press.preview.words)
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
    return Result(
        results, (*press.problems, *plan.problems), tuple(outputs), "done", _lines(results, ink_words(press))
    )


def _results(plan: ChartPlan, press: ChartPress, wish: ChartWish, dpi: tuple[float, float]) -> dict[str, Any]:
    patches, facts = plan.patches, press.facts
    distinct = 0 if patches is None else len(np.unique(patches.recipes.round(6), axis=0))
    limits = press.limits if facts.ink_space == "calibrated" else plain_limits(len(press.inks))
    printed = [item.inks for page in plan.pages for item in page.items] or [(0.0,) * len(press.inks)]
    highest = float(limits.sums(np.array(printed)).max())
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
        "highest_sum_percent": round(100.0 * max(sum(inks) for inks in printed), 3),
        "total_ink_percent": None if facts.total_ink is None else round(100.0 * facts.total_ink, 3),
        "dpi": list(dpi),
        "seed": facts.seed,
        "condition": facts.condition_digest or None,
    }


def _lines(results: dict[str, Any], inks: str) -> tuple[str, ...]:
    width, height = results["page_mm"]
    first = f"{TITLES[results['kind']]}: {counted(results['pages'], 'page')} of {width:g} x {height:g} mm"
    if results["patches"]:
        first += f", {counted(results['patches'], 'patch')} of {counted(results['recipes'], 'recipe')}"
    total, plain = results["highest_total_percent"], results["highest_sum_percent"]
    space = f"{inks}, highest total {total:.4g} %"
    if abs(total - plain) > _SAME_PERCENT:
        space += f" as inks count in the limit, highest sum of inks {plain:.4g} % (each counts alike)"
    order = results["reading_order"]
    return (first, space, *([f"read {order}"] if order else []))
