"""Panels of one work are trimmed at the edges of the work only: marks, cuts and documents say so."""

from __future__ import annotations

import json

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.layout.contours import Contour, ContourSet
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.mark_records import MarkOptions
from strikeoff.layout.marks import place_marks
from strikeoff.layout.panels import PanelJob, plan_panels
from strikeoff.layout.piece_contours import contours_on_piece, trim_contours
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.placement_file import read_layout, write_layout
from strikeoff.layout.plans_placed import Cloth, panels_layout
from strikeoff.workbench import roll_panels

TRIM, WARP, WEFT = 7.0, -4.0, -2.5


def wall(join="overlap", longest=1600.0, width=1500):
    job = PanelJob(
        4000, 2900, WARP, WEFT, width - 20, join, overlap_mm=30, trim_mm=TRIM, hem_mm=25, longest_mm=longest
    )
    plan = plan_panels(job)
    roll = panels_layout(plan, Cloth(width, 10, WARP, WEFT), artwork="wall", trim_mm=TRIM)
    return plan, roll


@pytest.mark.parametrize("join", ["overlap", "butt"])
def test_cut_panels_make_up_the_work_without_its_trim(join):
    """Each panel is laid back where it hangs: together they reach from trim to trim."""
    plan, roll = wall(join)
    assert len(plan.panels) > 4
    cuts = trim_contours(roll)
    edges = []
    for panel, piece, cut in zip(plan.panels, roll.placements, cuts, strict=True):
        hung = cut.points - (piece.x_mm, piece.y_mm) + (panel.start_mm, panel.top_mm)
        edges.append((*hung.min(axis=0), *hung.max(axis=0)))
    left, top, right, bottom = np.array(edges).T
    wide, high = plan.cloth_mm
    for first, last, size in ((left, right, wide), (top, bottom, high)):
        assert first.min() == pytest.approx(TRIM)
        assert last.max() == pytest.approx(size - TRIM)
        inner = sorted({round(v, 6) for v in first} - {TRIM}), sorted({round(v, 6) for v in last})[:-1]
        # Where panels are joined the shared strip is whole.
        for begin, end in zip(*inner, strict=True):
            assert end - begin == pytest.approx(plan.overlap_mm, abs=1e-5)


def test_marks_stand_on_the_trim_of_outer_edges():
    """A mark at every corner of the trim, both ways, on lines measured from the panel's own printed box."""
    plan, roll = wall()
    marks, problems = place_marks(roll, MarkOptions(("trim",), bare_mm=0))
    assert not problems
    across, along = 1 / (1 + WEFT / 100), 1 / (1 + WARP / 100)
    wide, high = plan.cloth_mm
    for panel, piece in zip(plan.panels, roll.placements, strict=True):
        own = [m for m in marks if m.piece == piece.code]
        assert len(own) == 8
        cut = [
            TRIM * (panel.start_mm < 1), TRIM * (panel.top_mm < 1),
            TRIM * (panel.end_mm > wide - 1), TRIM * (panel.bottom_mm > high - 1),
        ]  # fmt: skip
        x = {(piece.x_mm + cut[0]) * across, (piece.x_mm + piece.width_mm - cut[2]) * across}
        y = {(piece.y_mm + cut[1]) * along, (piece.y_mm + piece.height_mm - cut[3]) * along}
        found_x = sorted(m.centre_mm[0] for m in own if m.side in ("top", "bottom"))
        found_y = sorted(m.centre_mm[1] for m in own if m.side in ("left", "right"))
        assert found_x == pytest.approx(sorted([*x, *x]))
        assert found_y == pytest.approx(sorted([*y, *y]))


def test_documents_of_panels(tmp_path):
    _, roll = wall()
    write_layout(tmp_path / "l.json", roll)
    assert read_layout(tmp_path / "l.json") == roll
    bleeds = [piece["bleed_mm"] for piece in json.loads((tmp_path / "l.json").read_text())["placements"]]
    assert bleeds[0] == [TRIM, TRIM, 0, 0]
    assert bleeds[-1] == [0, 0, TRIM, TRIM]
    # A single panel is trimmed all around, in one number as ever.
    press = {"warp": WARP, "weft": WEFT, "width": 1500}
    roll_panels(visible=(900, 700), **press, trim=TRIM, layout=tmp_path / "one.json")
    assert json.loads((tmp_path / "one.json").read_text())["placements"][0]["bleed_mm"] == TRIM


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_edges_turn_with_the_piece(turn, mirror):
    """A page of the size of the trim, laid on upright artwork, lands on the trim of the piece as it lies."""
    wide, high = (120, 80) if turn % 180 == 0 else (80, 120)
    piece = Placement("A", 30, 40, wide, high, "a", (1, 2, 4, 8), turn, mirror)
    left, top, right, bottom = piece.upright_bleeds_mm
    size = 120 - left - right, 80 - top - bottom
    page = Contour("edge", np.array([[0.0, 0], [size[0], 0], size, [0, size[1]]]))
    (laid,) = contours_on_piece(ContourSet((page,), size), piece)
    assert laid.points.min(axis=0).tolist() == [31, 42]
    assert laid.points.max(axis=0).tolist() == [30 + wide - 4, 40 + high - 8]


@pytest.mark.parametrize("bleed", [(-1, 0, 0, 0), (60, 0, 60, 0), (0, 0, 0, float("nan")), (0, 200, 0, 0)])
def test_edges_that_cannot_be(bleed):
    with pytest.raises(InputError, match="bleed of a piece cannot be"):
        check_layout(Layout(500, 10, 0, 0, (Placement("A", 0, 0, 100, 100, bleed_mm=bleed),)))


def test_crops_reach_over_the_edge_where_there_is_bleed():
    whole = {"artwork_mm": (100, 100), "bleed_mm": (5, 0, 0, 0)}
    check_layout(Layout(500, 10, 0, 0, (Placement("A", 0, 0, 50, 50, crop_mm=(-5, 0, 50, 50), **whole),)))
    for crop in ((0, -5, 50, 50), (55, 0, 50, 50)):
        with pytest.raises(InputError, match="beyond its artwork"):
            check_layout(Layout(500, 10, 0, 0, (Placement("A", 0, 0, 50, 50, crop_mm=crop, **whole),)))
