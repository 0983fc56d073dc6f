"""The chart to read next: patches that most improve a condition."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from strikeoff.base.errors import UsageError
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.chart.patch_sets import numbered
from strikeoff.condition.archive import read_condition
from strikeoff.qualify.next_patches import BLOCK, LEAST_GAIN_DE00, Proposal, next_patches
from strikeoff.workbench.artwork_named import spots_for
from strikeoff.workbench.artwork_recipes import artwork_recipes
from strikeoff.workbench.chart_plans import ChartWish, planned
from strikeoff.workbench.chart_press import chart_title, condition_press
from strikeoff.workbench.charts import write_chart
from strikeoff.workbench.result import Result

_USUAL_PATCHES = 50
_MOST_PATCHES = 1000
_POINTS_SHOWN = 10
_STOPPED = {
    "patches": "all patches that were asked for are used",
    "target": "the target is reached",
    "gain": f"50 more patches would gain less than {LEAST_GAIN_DE00:g}",
}


def next_chart(
    condition: str | Path,
    out: str | Path,
    *,
    artwork: Sequence[str | Path] = (),
    spots: str | Path | None = None,
    target: float | None = None,
    patches: int | None = None,
    repeats: int | None = None,
    page: tuple[float, float] | None = None,
    patch: float | None = None,
    instrument: str = "hand",
    dpi: tuple[float, float] = (300.0, 300.0),
    bits: str | int = 16,
    laid_down: bool = False,
    seed: int = 0,
    progress: Progress = silent,
) -> Result:
    """Propose the patches that most reduce the expected error of a condition, as a chart.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    out : str or Path
        Folder to write.
    artwork : sequence of str or Path
        Images and pages whose colours matter; without them legal recipes of two to five inks do.
    spots : str or Path, optional
        Tint tables, compiled for this condition, of the artwork's named colours.
    target : float, optional
        Expected mean error to stop at. [CIEDE2000]
    patches : int, optional
        Most patches; 50 by default.
    repeats : int, optional
        Patches that stand on the chart once more; none by default.
    page, patch, instrument, dpi, bits, laid_down, seed
        As for `make_chart`.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    count = _USUAL_PATCHES if patches is None else patches
    if not 1 <= count <= _MOST_PATCHES:
        raise UsageError("number of patches cannot be", found=count, expected=f"1 to {_MOST_PATCHES}")
    if target is not None and not target > 0:
        raise UsageError(
            "no mean error to stop at", found=target, expected="a number above 0, such as 1 [CIEDE2000]"
        )
    if spots is not None and not artwork:
        raise UsageError(
            "tint tables say nothing without artwork", found=f"--spots {spots}", expected="--artwork"
        )
    wish = ChartWish("next", page, patch, instrument, count, repeats, seed=seed)
    record, digest = read_condition(condition)
    book, _ = spots_for(record, digest, spots)
    weighed = [artwork_recipes(record, path, seed, book) for path in artwork]
    recipes = [found for found, _ in weighed]
    proposal = next_patches(
        record,
        count,
        artwork=np.vstack(recipes) if recipes else None,
        target_de00=target,
        seed=seed,
        progress=progress,
    )
    if len(proposal.recipes) == 0:
        raise UsageError(
            "condition is good enough already: no patch is needed for this target",
            found=f"expected mean error {proposal.expected_de00[0]:.2f}",
            expected=f"a target below it, not {target:g}" if target is not None else None,
        )
    press = condition_press("next", record, digest, "calibrated", None, seed)
    plan = planned(numbered(press.inks, proposal.recipes), wish, chart_title(press))
    names = [Path(path).name for path in artwork] or ["legal recipes"]
    extra = {
        "stopped_by": proposal.stopped_by,
        "expected_de00": _curve(proposal),
        "weighted_by": names,
    }
    made = write_chart(
        out,
        plan,
        press,
        wish,
        dpi=dpi,
        bits=bits,
        laid_down=laid_down,
        progress=progress,
        inputs=(condition, *artwork, spots),
        extra=extra,
    )
    first, last = proposal.expected_de00[0], proposal.expected_de00[-1]
    line = (
        f"expected mean error over {', '.join(names)}: {first:.2f} now, {last:.2f} after "
        f"{len(proposal.recipes)} patches; stopped because {_STOPPED[proposal.stopped_by]}"
    )
    named = [problem for _, found in weighed for problem in found]
    problems = (*made.problems, *named, *_hardly_worth(proposal))
    return Result(made.results, problems, made.outputs, made.outcome, (*made.lines, line))


def _hardly_worth(proposal: Proposal) -> tuple[Problem, ...]:
    """Return a note where fewer patches than a block gain too little: those after them gain no more."""
    count = len(proposal.recipes)
    first, last = proposal.expected_de00[0], proposal.expected_de00[-1]
    if (
        proposal.stopped_by != "patches"
        or count >= BLOCK
        or (first - last) * BLOCK >= LEAST_GAIN_DE00 * count
    ):
        return ()
    return (
        Problem(
            "note",
            "next patches",
            "they are hardly worth their cloth",
            found=f"{count} patches gain {first - last:.2f} CIEDE2000",
            expected=f"{LEAST_GAIN_DE00:g} for {BLOCK} patches",
            advice="Print them only where colours that matter miss by more than they may",
        ),
    )


def _curve(proposal: Proposal) -> list[list[float]]:
    expected = proposal.expected_de00
    at = sorted({*range(0, len(expected), _POINTS_SHOWN), len(expected) - 1})
    return [[i, round(float(expected[i]), 4)] for i in at]
