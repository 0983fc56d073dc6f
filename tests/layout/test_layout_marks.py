"""Marks: never on a piece, where a cutter finds them, codes that a general decoder reads.

Sizes of marks are common practice, no source.
"""

import csv
import json

import numpy as np
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, UsageError
from strikeoff.layout.mark_records import KINDS, Mark, MarkOptions
from strikeoff.layout.marks import CUTTER_MM, place_marks
from strikeoff.layout.marks_codes import check_character, piece_code, read_piece_code
from strikeoff.layout.marks_of_pieces import trim_corners_mm
from strikeoff.layout.marks_raster import mark_dots
from strikeoff.layout.nozzle_pattern import draw_nozzle_pattern, nozzle_pattern_height_mm
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.placement_file import write_layout
from strikeoff.report.cautions import DEFERS
from strikeoff.workbench import roll_marks

ONE = Layout(500, 10, 0, 0, (Placement("A", 100, 0, 200, 300, bleed_mm=3),))


@st.composite
def layouts(draw):
    """Rows of pieces with gaps that may be nothing."""
    warp, weft = draw(st.floats(-12, 5)), draw(st.floats(-12, 5))
    margin = draw(st.floats(0, 40))
    wide = Layout(1000, margin, warp, weft, ()).cuttable_mm[1]
    gap = st.sampled_from([0.0, 1.0, 4.0, 9.0, 25.0, 60.0])
    pieces, y = [], draw(gap)
    for _ in range(draw(st.integers(1, 4))):
        x, tall = draw(gap), 0.0
        while len(pieces) < 20:
            w, h = draw(st.floats(20, 500)), draw(st.floats(20, 600))
            if x + w > wide:
                break
            bleed = draw(st.sampled_from([0.0, 3.0, 9.0]))
            pieces.append(Placement(f"P{len(pieces)}", x, y, w, h, bleed_mm=bleed))
            x, tall = x + w + draw(gap), max(tall, h)
        y += tall + draw(gap)
    return Layout(1000, margin, warp, weft, tuple(pieces))


@settings(max_examples=40, deadline=None)
@given(layouts(), st.sampled_from([(300, 300), (600, 150), (127, 254), (50, 75)]), st.floats(0, 1))
def test_no_dot_falls_on_a_piece(layout, dpi, share):
    options = MarkOptions(bare_mm=share * layout.margin_mm, job="FERN", fold_mm=(0.4, 0.2), eyelets_mm=150)
    marks, problems = place_marks(layout, options)
    across, along = dpi[0] / 25.4, dpi[1] / 25.4
    boxes = [layout.printed_box_mm(p) for p in layout.placements]
    reach = layout.margin_mm - options.bare_mm
    for mark in marks:
        if mark.kind == "code" and min(dpi) < 100:
            continue
        dots = mark_dots(mark, *dpi)
        left, top = dots.left_px, dots.top_px
        right, bottom = left + dots.dots.shape[1], top + dots.dots.shape[0]
        for box in boxes:
            # A piece may cover every pixel that it touches.
            clear = (
                right <= np.floor(box[0] * across)
                or left >= np.ceil(box[2] * across)
                or bottom <= np.floor(box[1] * along)
                or top >= np.ceil(box[3] * along)
            )
            assert clear, (mark, box)
        assert mark.x_mm >= -reach - 1e-9
        assert mark.x_mm + mark.width_mm <= layout.cuttable_mm[0] + reach + 1e-9
    coded = {m.piece for m in marks if m.kind == "code"}
    told = {p.where for p in problems if "code" in p.message}
    assert coded | told == {p.code for p in layout.placements}
    assert not coded & told
    for piece in layout.placements:
        count = sum(m.kind == "trim" and m.piece == piece.code for m in marks)
        wanting = any(p.where == piece.code and "trim" in p.message for p in problems)
        assert (count < 8) == wanting


def test_trim_marks_stand_on_the_trim():
    marks, problems = place_marks(ONE, MarkOptions(kinds=("trim",)))
    assert not problems
    assert {m.centre_mm[0] for m in marks if m.side in ("top", "bottom")} == {103.0, 297.0}
    assert {m.centre_mm[1] for m in marks if m.side in ("left", "right")} == {3.0, 297.0}
    assert sorted(m.side for m in marks) == sorted(["left", "right", "top", "bottom"] * 2)


def test_folds_and_eyelets_stand_beside_their_places():
    layout = Layout(900, 10, -20, -50, (Placement("A", 100, 80, 200, 300, bleed_mm=5),))
    kinds = MarkOptions(kinds=("fold", "eyelet"), fold_mm=(20, 0), eyelets_mm=100)
    marks, problems = place_marks(layout, kinds)
    assert not problems
    folds = {m.side: set() for m in marks if m.kind == "fold"}
    assert set(folds) == {"top", "bottom"}
    assert sorted({m.centre_mm[0] for m in marks if m.kind == "fold"}) == pytest.approx([250, 550])
    eyelets = [m for m in marks if m.kind == "eyelet"]
    # Folded it is 150 by 290 finished: gaps of 75 and 96.7.
    assert sorted({round(m.centre_mm[1], 6) for m in eyelets if m.side == "left"}) == pytest.approx(
        [(85 + 290 * k / 3) / 0.8 for k in range(4)]
    )
    # In the corners an eyelet mark stands beyond that of the fold.
    assert sorted({m.centre_mm[0] for m in eyelets if m.side == "top"}) == pytest.approx([250, 400, 550])
    with pytest.raises(InputError, match="folds"):
        place_marks(layout, MarkOptions(fold_mm=(95, 0)))


def test_trim_corners_are_printed():
    layout = Layout(500, 10, -50, -20, (Placement("A", 40, 60, 80, 90, bleed_mm=4),))
    assert trim_corners_mm(layout, layout.placements[0])[0] == pytest.approx((55, 128))
    assert trim_corners_mm(layout, layout.placements[0])[2] == pytest.approx((145, 292))


def test_cutter_marks_are_apart_as_asked_when_finished():
    layout = Layout(800, 20, -20, 0, (Placement("A", 100, 0, 300, 2000),))
    marks, problems = place_marks(layout, MarkOptions(kinds=("cutter",), cutter_every_mm=400, bare_mm=5))
    left = [m for m in marks if m.side == "left"]
    assert not problems
    assert {m.x_mm for m in left} == {-15.0}
    assert {m.x_mm + m.width_mm for m in marks if m.side == "right"} == {775.0}
    assert np.diff([m.y_mm for m in left])[:-1] == pytest.approx(500)
    assert left[-1].y_mm + CUTTER_MM == pytest.approx(2530)


def test_no_room_is_told():
    layout = Layout(320, 10, 0, 0, (Placement("A", 0, 0, 300, 300), Placement("B", 0, 300, 300, 300)))
    marks, problems = place_marks(layout, MarkOptions())
    assert {p.where for p in problems} >= {"A", "B"}
    told = next(p for p in problems if p.where == "A" and "trim" in p.message)
    assert "bottom: B in the way" in told.found
    assert told.expected == "4 mm of waste there"
    assert all(m.y_mm + m.height_mm <= 0 or m.y_mm >= 600 for m in marks)


@pytest.mark.parametrize(
    ("options", "error"),
    [
        (MarkOptions(kinds=("stars",)), UsageError),
        (MarkOptions(cutter_every_mm=0), InputError),
        (MarkOptions(cutter_every_mm=float("nan")), InputError),
        (MarkOptions(bare_mm=11), InputError),
        (MarkOptions(bare_mm=-1), InputError),
        (MarkOptions(head_mm=-1), InputError),
    ],
)
def test_refusals(options, error):
    with pytest.raises(error):
        place_marks(ONE, options)


def test_check_character_of_a_published_number():
    # Donation identification number G1234 98 654321 of ISBT 128, check character H (from memory).
    assert check_character("G123498654321") == "H"


@given(st.text("ABCXYZ019", min_size=1, max_size=12), st.integers(0, 9999), st.data())
def test_misread_code_is_found(job, number, data):
    code = piece_code(job, number)
    assert read_piece_code(code) == (job, number)
    body = code.replace("-", "")[:-1]
    i = data.draw(st.integers(0, len(body) - 1))
    other = data.draw(st.sampled_from("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ").filter(lambda c: c != body[i]))
    assert check_character(body[:i] + other + body[i + 1 :]) != code[-1]
    if i and body[i] != body[i - 1]:
        swapped = body[: i - 1] + body[i] + body[i - 1] + body[i + 1 :]
        assert check_character(swapped) != code[-1]


@pytest.mark.parametrize("text", ["", "FERN3-0012-A", "FERN3-0021-M", "FERN3", "--", "ä-1-2"])
def test_bad_codes_are_refused(text):
    with pytest.raises(InputError):
        read_piece_code(text)


@pytest.mark.parametrize(
    ("size", "dpi"), [((72, 22), (300, 150)), ((40, 12), (200, 200)), ((15, 50), (180, 360))]
)
def test_general_decoder_reads_codes(size, dpi):
    dots = mark_dots(Mark("code", 0, 0, *size, text="FERN3-0012-M"), *dpi).dots
    assert dots.shape == (round(size[1] * dpi[1] / 25.4), round(size[0] * dpi[0] / 25.4))
    seen = np.where(np.pad(dots, 5), 0, 255).astype(np.uint8)
    # Unequal pitches are made equal, as a camera sees them.
    seen = seen.repeat(max(dpi) // dpi[1], axis=0).repeat(max(dpi) // dpi[0], axis=1)
    assert [r.text for r in zxingcpp.read_barcodes(seen)] == ["FERN3-0012-M"]


def test_too_coarse_for_codes():
    with pytest.raises(UsageError, match="coarse"):
        mark_dots(Mark("code", 0, 0, 40, 12, text="FERN3-0012-M"), 30, 30)


def test_discs_and_targets_are_round_in_millimetres():
    disc = mark_dots(Mark("cutter", 0, 0, 6, 6), 600, 200).dots
    assert disc.shape == (47, 142)
    assert disc.mean() == pytest.approx(np.pi / 4, abs=0.01)
    target = mark_dots(Mark("register", 0, 0, 10, 10), 600, 200).dots
    assert np.array_equal(target, target[:, ::-1])
    assert np.array_equal(target, target[::-1])


@given(st.integers(1, 300), st.integers(1, 9), st.sampled_from([75, 300, 1200]), st.integers(1, 99))
def test_every_nozzle_prints_one_line_in_each_ink(columns, inks, dpi_y, cut):
    high = round(nozzle_pattern_height_mm(inks, dpi_y) * dpi_y / 25.4)
    cloth = np.zeros((high + 5, columns, inks), np.uint16)
    for y in range(0, len(cloth), cut):
        draw_nozzle_pattern(cloth[y : y + cut], y - 2, dpi_y)
    line = max(1, round(dpi_y / 25.4))
    assert set(np.unique(cloth)) <= {0, 65535}
    assert not cloth[:2].any()
    assert not cloth[-3:].any()
    # No two inks in one row.
    assert ((cloth > 0).any(axis=1).sum(axis=1) <= 1).all()
    for ink in range(inks):
        rows = cloth[..., ink] > 0
        assert (rows.sum(axis=0) == line).all()
        starts = np.diff(np.pad(rows.astype(int), ((1, 0), (0, 0))), axis=0) == 1
        assert (starts.sum(axis=0) == 1).all()
        # Neighbours never touch, so that a gap is seen.
        assert not (rows[:, 1:] & rows[:, :-1]).any()


def test_positions_and_drawing(tmp_path):
    file = tmp_path / "fern.json"
    layout = Layout(900, 30, -5, -3, (Placement("A", 30, 20, 400, 500, bleed_mm=3),))
    write_layout(file, layout)
    paths = [tmp_path / name for name in ("p.json", "p.csv", "d.svg")]
    made = {"fold": (25.0, 30.0), "eyelets": 200.0}
    result = roll_marks(file, positions=paths[0], drawing=paths[2], bare=10, **made)
    assert roll_marks(file, positions=paths[1], bare=10, **made).results == result.results
    record = json.loads(paths[0].read_text())
    assert record["units"] == "mm"
    assert set(result.results["marks"]) == set(KINDS)
    assert result.results["cautions"][-1] == DEFERS
    for mark in record["marks"]:
        x, y = mark["printed_mm"]
        assert mark["finished_mm"] == pytest.approx([x * 0.97, y * 0.95], abs=1e-3)
    corner = record["pieces"][0]["trim_corners"][0]
    assert corner["finished_mm"] == pytest.approx([33, 23])
    rows = list(csv.DictReader(paths[1].read_text().splitlines()))
    assert len(rows) == len(record["marks"]) + 4
    assert rows[-4]["kind"] == "corner"
    assert float(rows[-4]["x_finished_mm"]) == pytest.approx(33)
    drawn = paths[2].read_text()
    for kind, count in result.results["marks"].items():
        assert count
        assert drawn.count(f'class="{kind}"') == count
    with pytest.raises(UsageError, match="positions"):
        roll_marks(file, positions=tmp_path / "p.txt")


def test_many_pieces():
    pieces = tuple(
        Placement(f"P{i}", 10 + i % 10 * 95, i // 10 * 95, 80, 80, bleed_mm=3) for i in range(10_000)
    )
    marks, problems = place_marks(Layout(1000, 10, 0, 0, pieces), MarkOptions())
    # All eight, but for pieces whose lines would end on a cutter or register mark: these are told.
    count, told = sum(m.kind == "trim" for m in marks), sum("trim" in p.message for p in problems)
    assert 80_000 - 4 * told <= count <= 80_000 - told
    assert told < 20


def test_warnings_are_told_together(tmp_path):
    """Butted pieces leave no waste: one warning for each kind, however many pieces there are."""
    pieces = tuple(Placement(f"P{k}", 100 * (k % 3), 100 * (k // 3), 100, 100) for k in range(60))
    write_layout(tmp_path / "butted.json", Layout(320, 10, 0, 0, pieces))
    found = roll_marks(tmp_path / "butted.json", marks=("trim", "code"))
    messages = [f"no room in the waste for {kind} marks" for kind in ("trim", "code")]
    assert [p.message for p in found.problems] == messages
    assert found.problems[0].where.startswith("P0, P1, P2 and ")
    assert found.results["without_room"] > 60
    assert max(len(str(p)) for p in found.problems) < 250
