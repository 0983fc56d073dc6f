"""What a chart of each kind holds: its pages, and the patches that its reference names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.problems import Problem
from strikeoff.chart.designs import (
    characterisation,
    control_strip,
    ink_limit_ramps,
    linearisation,
    lot_check,
    repeated,
)
from strikeoff.chart.drawing import Page
from strikeoff.chart.finishing_grid import grid_page
from strikeoff.chart.ink_limit_page import ink_limit_pages
from strikeoff.chart.layout import INSTRUMENTS, Placed, find_instrument, height_of, place_patches
from strikeoff.chart.patch_pages import patch_pages
from strikeoff.chart.patch_sets import ChartLimits, PatchSet, iso_12642_2, numbered
from strikeoff.chart.total_ink_page import total_ink_pages, usual_combinations, usual_steps
from strikeoff.inks.roles import process_role
from strikeoff.qualify.next_patches import first_patches

FloatArray = NDArray[np.float64]

#: Kind to its title.
KINDS = {
    "characterisation": "Characterisation", "first": "First chart", "iso12642-2": "ISO 12642-2",
    "lot-check": "Lot check",
    "strip": "Control strip", "ink-limit": "Ink limits", "total-ink": "Total ink",
    "linearisation": "Linearisation", "grid": "Finishing grid",
}  # fmt: skip
#: The same with that of proposals.
TITLES = KINDS | {"next": "Next patches"}
#: Printed without tone curves.
LAID_DOWN_KINDS = ("ink-limit", "total-ink", "linearisation", "grid")

_PATCHES = {"characterisation": 400, "first": 60, "lot-check": 40}
_REPEATS = {"characterisation": 8, "first": 4, "linearisation": 1}
# How often bare cloth stands on a chart once more, of its repeats; common practice, no source. The noise of
# a mean of n readings is that of one over the root of n (JCGM 100:2008, 4.2.3).
_CLOTH_AGAIN = 4
_PAGE_MM = {"grid": (600.0, 700.0)}
_USUAL_PAGE_MM = (297.0, 420.0)
_MOST_PATCHES = 20_000
#: Options that only some kinds take.
_ONLY_FOR = {
    "patches": ("characterisation", "first", "lot-check"),
    "combinations": ("ink-limit", "total-ink"),
    "steps": ("total-ink",),
}
_SAID = {"patches": "number of patches", "combinations": "combinations of inks", "steps": "sums of ink"}


@dataclass(frozen=True)
class ChartPlan:
    """A chart before it is written.

    Attributes
    ----------
    pages : list of Page
        What is printed.
    patches : PatchSet or None
        What is read; None for pages that are looked at only.
    placed : Placed or None
        Where the patches stand.
    problems : tuple of Problem
        What was noticed.
    """

    pages: list[Page]
    patches: PatchSet | None
    placed: Placed | None
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class ChartWish:
    """What was asked for.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    page_mm : tuple of float, optional
        Cloth or paper. [mm]
    patch_mm : float, optional
        Side of a patch. [mm]
    instrument : {"hand", "strip", "table"}
        Way of reading.
    patches, repeats : int, optional
        Distinct recipes; how many of them stand there once more (all of them that often, in ramps).
    combinations : sequence of sequence of str
        Inks printed together in ramps and total ink pages.
    steps : sequence of float, optional
        Sums of the total ink page. [-]
    seed : int
        Of places and points.
    over_white : bool
        Whether ramps of linearisation stand over full white too, where there is white.
    """

    kind: str
    page_mm: tuple[float, float] | None = None
    patch_mm: float | None = None
    instrument: str = "hand"
    patches: int | None = None
    repeats: int | None = None
    combinations: Sequence[Sequence[str]] = ()
    steps: Sequence[float] | None = None
    seed: int = 0
    over_white: bool = True

    def __post_init__(self) -> None:
        find_instrument(self.instrument)
        for name, value, low in (("patches", self.patches, 1), ("repeats", self.repeats, 0)):
            if value is not None and not low <= value <= _MOST_PATCHES:
                raise UsageError(
                    f"number of {name} cannot be", found=value, expected=f"{low} to {_MOST_PATCHES}"
                )
        if self.seed < 0:
            raise UsageError("seed cannot be", found=self.seed, expected="a whole number, 0 or more")
        for option, kinds in _ONLY_FOR.items():
            if getattr(self, option) and self.kind not in (*kinds, "next"):
                raise UsageError(
                    f"a chart of this kind takes no {_SAID[option]}",
                    found=self.kind,
                    expected=", ".join(kinds),
                )

    @property
    def page(self) -> tuple[float, float]:
        """Page that was asked for, or the usual one of the kind. [mm]."""
        return self.page_mm or _PAGE_MM.get(self.kind, _USUAL_PAGE_MM)


def plan_chart(wish: ChartWish, inks: tuple[str, ...], limits: ChartLimits, title: str) -> ChartPlan:
    """Return the chart that was asked for.

    Raises
    ------
    UsageError
        When it cannot be made of these inks, under these limits or on this page.
    """
    if wish.kind == "grid":
        return ChartPlan([grid_page(inks, wish.page, title)], None, None)
    if wish.kind == "total-ink":
        groups = wish.combinations or usual_combinations(inks)
        # Nobody prints more than four full inks; who wants to know asks for these steps.
        steps = wish.steps or (None if wish.combinations else usual_steps(min(len(inks), 4)))
        pages, _ = total_ink_pages(inks, groups, steps, wish.page, title)
        return ChartPlan(pages, None, None)
    if wish.kind == "ink-limit":
        return _ramps(wish, inks, title)
    patches, problems = _patch_set(wish, inks, limits)
    return planned(patches, wish, title, problems)


def planned(patches: PatchSet, wish: ChartWish, title: str, problems: tuple[Problem, ...] = ()) -> ChartPlan:
    """Return a chart of given patches, the wish's repeats added, at random places."""
    if wish.kind == "linearisation":
        everything = np.arange(len(patches))
        patches = repeated(patches, everything, 1 + _count(wish.repeats, _REPEATS[wish.kind]))
    else:
        extra = min(_count(wish.repeats, _REPEATS.get(wish.kind, 0)), len(patches))
        bare = np.flatnonzero(~patches.recipes.any(axis=1))[:1]
        # All colours are relative to the bare cloth: it is read as often as the repeats leave room for.
        again = min(_CLOTH_AGAIN, extra // 2) if len(bare) else 0
        others = np.setdiff1d(np.arange(len(patches)), bare) if again else np.arange(len(patches))
        which = np.linspace(0, len(others) - 1, extra - again).round().astype(np.int64)
        patches = repeated(repeated(patches, others[np.unique(which)], 2), bare, 1 + again)
    page = wish.page
    if wish.page_mm is None:
        # No more cloth than the patches need.
        page = (page[0], height_of(len(patches), page, instrument=wish.instrument, patch_mm=wish.patch_mm))
    placed = place_patches(
        patches.recipes, page, instrument=wish.instrument, patch_mm=wish.patch_mm, seed=wish.seed
    )
    pages = patch_pages(placed, patches.recipes, patches.inks, title)
    return ChartPlan(pages, patches, placed, problems)


def _count(asked: int | None, usual: int) -> int:
    return usual if asked is None else asked


def _patch_set(
    wish: ChartWish, inks: tuple[str, ...], limits: ChartLimits
) -> tuple[PatchSet, tuple[Problem, ...]]:
    count = _count(wish.patches, _PATCHES.get(wish.kind, 0))
    if wish.kind == "characterisation":
        return characterisation(inks, limits, count, seed=wish.seed), ()
    if wish.kind == "first":
        return numbered(inks, first_patches(inks, limits, count, seed=wish.seed)), ()
    if wish.kind == "lot-check":
        return lot_check(inks, limits, count, seed=wish.seed), ()
    if wish.kind == "strip":
        return control_strip(inks, limits), ()
    if wish.kind == "linearisation":
        return linearisation(inks, over_white=wish.over_white), ()
    if wish.kind != "iso12642-2":
        raise UsageError("unknown kind of chart", found=wish.kind, expected=", ".join(KINDS))
    if [process_role(ink) for ink in inks] != ["C", "M", "Y", "K"]:
        raise UsageError(
            "ISO 12642-2 is a chart for C, M, Y, K in that order",
            found=", ".join(inks),
            advice="Take --kind characterisation for other inks",
        )
    return _standard(inks, limits)


def _standard(inks: tuple[str, ...], limits: ChartLimits) -> tuple[PatchSet, tuple[Problem, ...]]:
    whole = numbered(inks, iso_12642_2())
    fits = (limits.sums(whole.recipes) <= limits.total + 1e-9) & (whole.recipes <= limits.per_ink + 1e-9).all(
        axis=1
    )
    if fits.all():
        return whole, ()
    kept = np.flatnonzero(fits)
    patches = PatchSet(inks, whole.recipes[kept], tuple(whole.names[i] for i in kept))
    left_out = Problem(
        "warning",
        "patches",
        f"{len(whole) - len(kept)} of the 1,617 are above the ink limits and left out",
        expected=f"at most {100 * limits.total:g} %",
    )
    return patches, (left_out,)


def _ramps(wish: ChartWish, inks: tuple[str, ...], title: str) -> ChartPlan:
    """Return the ink limit pages; their steps stand in order, because people compare neighbours."""
    tool = INSTRUMENTS[wish.instrument]
    side = tool.patch_mm if wish.patch_mm is None else wish.patch_mm
    if not side >= tool.smallest_mm:
        raise UsageError(
            f"patch is too small to be read by {tool.name}",
            found=f"{side:g} mm",
            expected=f"{tool.smallest_mm:g} mm or more",
        )
    ramps = ink_limit_ramps(inks, wish.combinations)
    pages, steps = ink_limit_pages(ramps, inks, wish.page, side, title)
    patches = numbered(inks, np.array([step.recipe for step in steps]))
    placed = Placed(
        np.arange(len(steps)),
        np.array([step.page for step in steps]),
        np.array([step.row for step in steps]),
        np.array([step.column for step in steps]),
        np.array([step.x_mm for step in steps]),
        np.array([step.y_mm for step in steps]),
        side,
        wish.page,
        len(pages),
        INSTRUMENTS["hand"],
    )
    return ChartPlan(pages, patches, placed)
