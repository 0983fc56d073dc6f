"""Copies and panels as layouts: every part of the artwork is shown, rows stand on whole pixels."""

import json
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.layout.copies import plan_copies
from strikeoff.layout.panels import PanelJob, plan_panels
from strikeoff.layout.placement_file import read_layout
from strikeoff.layout.plans_placed import Cloth, copies_layout, panels_layout
from strikeoff.workbench import roll_copies, roll_panels

CLOTH = Cloth(1500, 10, -5, -3)


def copies(count=10, **change):
    words = {"cuttable_mm": 1480, "warp_percent": -5, "weft_percent": -3} | change
    return plan_copies((450, 300), count, **words)


@given(st.floats(0, 9), st.floats(0, 20), st.sampled_from([None, 72.0, 600.0]), st.booleans())
def test_rows_of_copies_stand_on_whole_pixels(bleed, gap, dpi, mirrored):
    grid = copies(7, bleed_mm=bleed, gap_mm=(gap, gap), turn="rows")
    roll = copies_layout(grid, CLOTH, dpi_y=dpi, own_bleed=not mirrored)
    assert len(roll.placements) == 7
    tops = sorted({p.y_mm for p in roll.placements})
    pitch = tops[1] - tops[0]
    if dpi is None:
        assert pitch == pytest.approx(grid.pitch_mm[1])
    else:
        pixels = np.diff(tops) / 0.95 * dpi / 25.4
        assert np.allclose(pixels, np.rint(pixels), atol=1e-6)
        assert abs(pitch - grid.pitch_mm[1]) <= 25.4 / dpi * 0.95 * (0.5 if gap > 0.4 else 1) + 1e-9
    assert [p.turn_degrees for p in roll.placements] == [180 * (k // grid.across % 2) for k in range(7)]
    if mirrored:
        assert roll.placements[0].artwork_mm == (450, 300)
        assert roll.placements[0].crop_mm == (-bleed, -bleed, 450 + 2 * bleed, 300 + 2 * bleed)


def test_too_many_copies_for_a_layout():
    with pytest.raises(InputError, match="too many copies"):
        copies_layout(copies(100_001), CLOTH)


@given(
    st.floats(300, 9000), st.floats(300, 9000), st.floats(500, 3200), st.sampled_from([None, 400.0, 2500.0]),
    st.sampled_from(["overlap", "butt"]), st.booleans(),
)  # fmt: skip
def test_panels_cover_the_work_both_ways(wide, high, cuttable, longest, join, whole):
    job = PanelJob(
        wide, high, -4, 2, cuttable, join, overlap_mm=30, hem_mm=25, pole_mm=20, longest_mm=longest
    )
    plan = plan_panels(job)
    roll = panels_layout(plan, Cloth(cuttable + 20, 10, -4, 2), artwork="wall", whole_artwork=whole)
    assert [p.sequence for p in roll.placements] == list(range(1, len(plan.panels) + 1))
    side, end = (0, 0) if whole else (plan.side_mm, plan.end_mm)
    for axis, (edge, size) in enumerate(zip((side, end), plan.cloth_mm, strict=True)):
        parts = sorted({(p.crop_mm[axis], p.crop_mm[axis] + p.crop_mm[2 + axis]) for p in roll.placements})
        assert parts[0][0] == pytest.approx(-edge)
        assert parts[-1][1] == pytest.approx(size - edge)
        for before, after in pairwise(parts):
            assert before[1] - after[0] == pytest.approx(plan.overlap_mm, abs=1e-6)
    if longest is not None:
        assert all(p.printed_mm[1] <= longest * (1 + 1e-8) for p in plan.panels)
    assert len({p.crop_mm[:2] for p in roll.placements}) == len(plan.panels)


def test_longest_panels_that_cannot_be():
    for longest in (0, float("nan"), 25):
        with pytest.raises(InputError):
            plan_panels(PanelJob(900, 900, 0, 0, 1000, overlap_mm=30, longest_mm=longest))


def test_documents(tmp_path):
    press = {"warp": -5, "weft": -3, "width": 1500}
    path = tmp_path / "c.json"
    roll_copies(
        finished=(450, 300), count=10, **press, bleed=3, mirror_bleed=True, artwork="fern", dpi=(600, 600),
        layout=path,
    )  # fmt: skip
    assert {p.artwork for p in read_layout(path).placements} == {"fern"}
    found = roll_panels(
        visible=(4000, 3000), **press, longest=2000, artwork="wall", layout=path, drawing=tmp_path / "p.svg"
    )
    pieces = json.loads(path.read_text())["placements"]
    assert len(pieces) == len(found.results["panels"]) == 6
    assert found.lines[-len(found.results["cautions"]) - 1].endswith("mm from above")
    text = (tmp_path / "p.svg").read_text()
    assert text.count('class="panel"') == 6
    assert text.count('class="shared"') == 3
    with pytest.raises(InputError, match="gap between panels"):
        roll_panels(visible=(900, 900), **press, gap=-1, layout=path)
