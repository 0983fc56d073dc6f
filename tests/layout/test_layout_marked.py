"""Marks on rolls of repeats: every pixel, what is shared, and where no mark may be."""

from __future__ import annotations

import numpy as np
import pytest

from strikeoff.base.errors import UsageError
from strikeoff.layout.compose import compose
from strikeoff.layout.repeat import snap_repeat
from strikeoff.layout.roll import plan_roll
from strikeoff.raster.bands import ArraySource, repeat_of_rows
from strikeoff.workbench.design_marks import DESIGN_MARKS, design_kinds, design_marks

INKS = ("C", "M", "Y", "K")


@pytest.fixture(scope="module")
def roll():
    unit = snap_repeat(64, 50, kind="half-drop", warp_percent=-5, weft_percent=-3, dpi_x=50, dpi_y=60)
    plan = plan_roll(unit, width_mm=300, length_mm=900, margin_mm=12, marks_mm=30)
    rng = np.random.default_rng(8)
    tile = ArraySource(rng.integers(1, 20_000, (70, 90, 4)).astype(np.uint16))
    return compose(tile, plan, ink_names=INKS, slug="job")


def test_marks_stand_in_the_waste_and_nowhere_else(roll):
    placed = design_marks(roll.plan, DESIGN_MARKS, 100.0, 0.0, "Fern")
    assert placed.counts["cutter"] > 10
    assert (placed.counts["code"], placed.counts["register"]) == (1, 6)
    marked = placed.on(roll)
    bare, found = (source.read(0, roll.height) for source in (roll, marked))
    plan = roll.plan
    changed = np.zeros(bare.shape[:2], bool)
    for mark in placed.marks:
        x, y = plan.margin_px + mark.x_mm * 50 / 25.4, plan.leader_px + mark.y_mm * 60 / 25.4
        wide, high = mark.width_mm * 50 / 25.4, mark.height_mm * 60 / 25.4
        box = found[int(y) : int(y + high) + 2, max(0, int(x)) : int(x + wide) + 2, 3]
        assert (box == 65535).any(), mark
        changed[max(0, int(y) - 1) : int(y + high) + 2, max(0, int(x) - 1) : int(x + wide) + 2] = True
    assert np.array_equal(found[~changed], bare[~changed])
    assert np.array_equal(found[..., :3], bare[..., :3])
    design = slice(plan.leader_px, plan.leader_px + plan.design_rows), slice(plan.margin_px, -plan.margin_px)
    assert np.array_equal(found[design], bare[design])
    # Marks take none of the control of the leader away.
    top = plan.leader_px - round(30 * 60 / 25.4)
    assert np.array_equal(found[: top - 2], bare[: top - 2])
    for band in (1, 17):
        parts = [marked.read(y, min(y + band, roll.height)) for y in range(0, roll.height, band)]
        assert np.array_equal(np.concatenate(parts), found)


def test_rows_without_marks_stay_shared(roll):
    marked = design_marks(roll.plan, ("cutter",), 100.0, 0.0, "Fern").on(roll)
    rows = marked.read(0, roll.height)
    assert np.array_equal(rows, rows[marked.row_map])
    assert repeat_of_rows(marked)[0] == repeat_of_rows(roll)[0] == roll.period_rows
    own = marked.row_map == np.arange(roll.height)
    assert roll.period_rows < own.sum() < 0.75 * roll.height
    assert marked.row_block == roll.row_block


def test_a_mark_over_a_whole_repeat_does_not_stretch_the_period(roll):
    """Masks close over the period: twice of it would lay the drops of one repeat under another's phase."""
    from strikeoff.layout.marked import MarkedRoll
    from strikeoff.layout.marks_raster import MarkDots

    tall = np.ones((roll.period_rows, 2), bool)
    marked = MarkedRoll(roll, (MarkDots(-3, roll.period_rows, tall),))
    assert roll.plan.design_rows > 3 * roll.period_rows
    assert repeat_of_rows(marked)[0] == roll.period_rows


def test_no_marks_and_strange_ones(roll):
    assert design_marks(roll.plan, (), None, None, "x").on(roll) is roll
    assert design_kinds(None) == ()
    assert design_kinds(("all",)) == DESIGN_MARKS
    with pytest.raises(UsageError, match="no such marks"):
        design_kinds(("fold",))
