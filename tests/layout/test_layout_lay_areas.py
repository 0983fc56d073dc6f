"""Areas of a repeat beside pieces against a plain composition in memory."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from plain_rolls import artwork, laid, plain

from strikeoff.base.errors import InputError
from strikeoff.layout.compose import compose
from strikeoff.layout.contours import Contour, ContourSet
from strikeoff.layout.fill import RepeatFill
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.lying import lying_area
from strikeoff.layout.mark_records import MarkOptions
from strikeoff.layout.marks import place_marks
from strikeoff.layout.marks_raster import MarkDots
from strikeoff.layout.piece_contours import contours_on_piece, trim_contours
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.placement_file import layout_record, read_layout, write_layout
from strikeoff.layout.repeat import snap_repeat
from strikeoff.layout.roll import plan_roll
from strikeoff.raster.bands import ArraySource, repeat_of_rows
from strikeoff.raster.lattice import HALF_BRICK, HALF_DROP, STRAIGHT, Lattice

THIRD = Fraction(1, 3)
LATTICES = [
    STRAIGHT, HALF_DROP, HALF_BRICK, Lattice("drop", THIRD), Lattice("brick", 2 * THIRD),
    Lattice(turned=True),
    *(Lattice(mirror=mirror) for mirror in ("across", "along", "both")), Lattice("drop", THIRD, turned=True),
    Lattice("drop", Fraction(1, 2), "across"), Lattice("brick", Fraction(1, 2), "along"),
    Lattice("brick", THIRD, turned=True), Lattice(repeats="along"), Lattice(repeats="across"),
    Lattice(mirror="along", repeats="along"), Lattice(mirror="across", repeats="across"),
]  # fmt: skip
#: Sides that every offset above divides, so that the plain composition can work in whole samples.
PICTURES = {"a": artwork(1), "b": artwork(2, 12, 18), "c": artwork(3, 24, 6)}


@st.composite
def mixed(draw):
    """Shelves of pieces and areas, in any order."""
    across, along = draw(st.sampled_from([(0.0, 0.0), (-5.5, -3.0), (-12.0, 4.0), (2.0, -20.0)]))
    number = st.integers(8, 50).map(lambda v: v / 2)
    pieces, y = [], 0.0
    for shelf in range(draw(st.integers(1, 3))):
        x, tallest = 0.0, 0.0
        for k in range(draw(st.integers(1, 3))):
            wide, high = draw(number), draw(number) * draw(st.sampled_from([1, 1, 4]))
            fill = None
            if draw(st.integers(0, 3)):
                place = st.none() | st.tuples(*2 * [st.integers(-400, 400).map(lambda v: v / 3)])
                size = draw(st.integers(6, 60)) / 2, draw(st.integers(6, 60)) / 2
                fill = RepeatFill(size, draw(st.sampled_from(LATTICES)), draw(place))
            pieces.append(
                Placement(
                    f"{shelf}.{k}", x, y, wide, high, draw(st.sampled_from("bc" if fill else "abc")),
                    turn_degrees=draw(st.sampled_from([0, 90, 180, 270])), mirror=draw(st.booleans()),
                    repeat=fill,
                )
            )  # fmt: skip
            x += wide + draw(st.sampled_from([0.0, 2.5]))
            tallest = max(tallest, high)
        y += tallest + draw(st.sampled_from([0.0, 1.7]))
    return Layout(90, 4, across, along, tuple(draw(st.permutations(pieces))))


def cloth(code, y_mm, length_mm, size=(20, 20), lattice=HALF_DROP, x_mm=0.0, width_mm=82.0, origin=None):
    fill = RepeatFill(size, lattice, origin)
    return Placement(code, x_mm, y_mm, width_mm, length_mm, "b", repeat=fill)


@settings(max_examples=80, deadline=None)
@given(mixed(), st.integers(1, 50))
@example(Layout(90, 4, -5.5, 3, (cloth("A", 3, 90, (31, 17), origin=(-70.1, 33)),)), 7)
def test_every_pixel_equals_a_plain_composition(layout, band):
    roll = laid(layout, PICTURES)
    whole = roll.read(0, roll.height)
    wanted = plain(layout, PICTURES)
    assert whole.shape == wanted.shape
    # Single precision and rounding; the same picture turned first or last.
    assert np.abs(whole - wanted).max() < 0.75
    bands = [roll.read(y, min(y + band, roll.height)) for y in range(0, roll.height, band)]
    assert np.array_equal(np.concatenate(bands), whole)
    assert np.array_equal(whole[roll.row_map], whole)


def test_areas_of_one_origin_go_on_in_each_other():
    """Cloth in full width, then beside a panel, then in full width: as if the panel lay on one cloth."""
    lattice, size, press = Lattice("drop", THIRD), (21.3, 17.7), (90, 70)
    one = Layout(93, 4, -4, -3, (cloth("A", 0, 150, size, lattice),))
    parts = Layout(
        93, 4, -4, -3,
        (
            cloth("A", 0, 55.5, size, lattice),
            cloth("B", 55.5, 41.1, size, lattice, x_mm=30.2, width_mm=51.8, origin=(0, 0)),
            Placement("panel", 0, 55.5, 30, 41, "a"),
            cloth("C", 96.6, 53.4, size, lattice, origin=(0, 0)),
        ),
    )  # fmt: skip
    wanted, roll = laid(one, PICTURES, press), laid(parts, PICTURES, press)
    found = roll.read(0, roll.height)
    other = wanted.read(0, wanted.height)
    area = roll.pieces[1]
    bare = slice(area.top_px, area.top_px + area.height_px), slice(0, area.left_px + roll.leader.margin_px)
    other[bare] = found[bare]
    assert np.array_equal(found, other)


def test_equal_rows_are_shared_across_pieces_that_lie_between():
    panel = Placement("panel", 0, 130, 50, 20, "a")
    layout = Layout(90, 4, 0, 0, (cloth("A", 0, 130), panel, cloth("B", 160, 90, origin=(0, 0))))
    roll = laid(layout, PICTURES, (50, 50))
    period = roll.pieces[0].repeat.period_rows
    assert period == 40
    assert repeat_of_rows(roll) == (40, 0)
    assert roll.row_block == 40
    top, rows = roll.pieces[2].top_px, np.arange(roll.height)
    first = roll.pieces[0].height_px
    assert np.array_equal(roll.row_map[:first], rows[:first] % 40)
    assert np.array_equal(roll.row_map[top : top + 177], rows[top : top + 177] % 40)
    # Rows of the panel are its own, and those of the gap after it.
    assert np.array_equal(roll.row_map[first:top], rows[first:top])


@pytest.mark.parametrize(
    "change",
    [
        {"artwork": "c"},
        {"mirror": True},
        {"turn_degrees": 180},
        {"x_mm": 1.6},
        {"width_mm": 70.0},
        {"repeat": RepeatFill((20, 20), HALF_BRICK)},
        {"repeat": RepeatFill((20, 21), HALF_DROP)},
        {"repeat": RepeatFill((20, 20), HALF_DROP, (3, 60))},
        {"repeat": RepeatFill((20, 20), HALF_DROP, (0, 63.3))},
        {"repeat": RepeatFill((20, 20), Lattice(repeats="across"), (0, 66))},
        {"repeat": None, "artwork_mm": (90, 60), "crop_mm": (0, 0, 80, 60)},
    ],
)
def test_areas_that_differ_share_no_wrong_rows(change):
    first = replace(cloth("A", 0, 60), width_mm=80)
    layout = Layout(90, 4, 0, 0, (first, replace(first, code="B", y_mm=60, **change)))
    roll = laid(layout, PICTURES, (50, 50))
    whole = roll.read(0, roll.height)
    assert np.array_equal(whole, whole[roll.row_map])


def test_rows_beside_a_piece_and_with_marks_are_their_own():
    panel = Placement("panel", 0, 40, 30, 20, "a")
    layout = Layout(90, 4, 0, 0, (panel, cloth("A", 0, 130, x_mm=40, width_mm=42)))
    dots = (MarkDots(160, 200, np.ones((3, 2), bool)),)
    roll = laid(layout, PICTURES, (50, 50), marks=dots)
    own = np.flatnonzero(np.isin(roll.row_map, np.flatnonzero(np.bincount(roll.row_map) == 1)))
    piece = roll.pieces[0]
    beside = np.arange(piece.top_px, piece.top_px + piece.height_px)
    # What one period does not hold once more, from the last of the cloth on, is tail.
    assert set(own) == {*beside, 200, 201, 202, *range(roll.pieces[1].height_px, roll.height)}
    whole = roll.read(0, roll.height)
    assert np.array_equal(whole, whole[roll.row_map])


def test_the_longest_of_two_cloths_rules_strips_and_masks():
    """Periods without a common part that is worth it: that by which most rows repeat."""
    layout = Layout(90, 4, 0, 0, (cloth("A", 0, 300, (20, 46.5)), cloth("B", 300, 900, (20, 33.5))))
    roll = laid(layout, PICTURES, (50, 50))
    short, long = (piece.repeat.period_rows for piece in roll.pieces)
    assert (short, long, np.gcd(short, long)) == (92, 66, 2)
    assert repeat_of_rows(roll) == (66, roll.pieces[1].top_px)
    assert roll.row_block == 66
    # Both are known, whatever strips make of it.
    assert roll.row_map[200] == 200 - 2 * 92
    assert roll.row_map[roll.pieces[1].top_px + 200] == roll.pieces[1].top_px + 2


def test_windows_that_touch_neither_part_nor_overlap():
    layout = Layout(2000, 10, -3.3, -2.1, ())
    places = np.cumsum([0.0, *np.random.default_rng(1).uniform(0.05, 40, 50)])
    areas = [
        lying_area(layout, cloth("A", y, end - y, x_mm=y, width_mm=end - y), 301.0, 97.0)
        for y, end in pairwise(places)
    ]
    for one, two in pairwise(areas):
        assert one.left_px + one.width_px >= two.left_px
        assert one.left_px + one.width_px - two.left_px <= (one.width_px == 1)
        assert one.top_px + one.height_px - two.top_px <= (one.height_px == 1)
        assert one.top_px + one.height_px >= two.top_px


def test_what_rounding_pushes_over_the_edge_is_left_out():
    """181.1 pixels of cuttable cloth are 181 printable ones; the last tenth of a millimetre has none."""
    thin = Placement("thin", 91.9, 0, 0.1, 20, "a"), cloth("A", 20, 30, x_mm=91.9, width_mm=0.1)
    roll = laid(Layout(100, 4, 0, 0, (*thin, Placement("B", 0, 0, 10, 10, "a"))), PICTURES, (50, 50))
    assert not roll.read(0, roll.height)[:, 100:].any()


@pytest.mark.parametrize(
    ("area", "message"),
    [
        (cloth("A", 0, 30, (0.5, 20)), "cannot be so large"),
        (cloth("A", 0, 30, (20, float("nan"))), "cannot be so large"),
        (cloth("A", 0, 30, origin=(float("inf"), 0)), "origin of a repeat"),
        (cloth("A", 0, 0), "place of a piece cannot be"),
        (cloth("A", 0, 30, width_mm=83), "beyond the cuttable width"),
        (Placement("A", 0, 0, 20, 20, artwork_mm=(20, 20), repeat=RepeatFill((9, 9))), "shows whole tiles"),
        (Placement("A", 0, 0, 20, 20, mirrored_mm=3, repeat=RepeatFill((9, 9))), "shows whole tiles"),
    ],
)
def test_areas_that_cannot_be(area, message):
    with pytest.raises(InputError, match=message):
        check_layout(Layout(90, 4, 0, 0, (area,)))


def test_areas_and_pieces_do_not_overlap():
    with pytest.raises(InputError, match="two pieces overlap"):
        check_layout(Layout(90, 4, 0, 0, (cloth("A", 0, 30), Placement("B", 5, 29, 9, 9))))


def test_layout_documents_keep_every_repeat(tmp_path):
    """What is written is read again, and pieces without a repeat are written as before."""
    areas = tuple(
        cloth(str(k), 40 * k, 30, (20.5, 9), lattice, origin=(3.25, -k) if k % 2 else None)
        for k, lattice in enumerate(LATTICES)
    )
    layout = Layout(93, 4, -3, -2, (*areas, Placement("piece", 0, 700, 20, 20, "a")))
    write_layout(tmp_path / "l.json", layout)
    assert read_layout(tmp_path / "l.json") == layout
    assert "repeat" not in layout_record(layout)["placements"][-1]


def test_contours_are_for_pieces():
    drawn = ContourSet((Contour("edge", np.array([[0.0, 0], [20, 0], [20, 20]])),), (20, 20))
    with pytest.raises(InputError, match="area of a repeat"):
        contours_on_piece(drawn, cloth("A", 0, 20, width_mm=20))
    (edge,) = trim_contours(Layout(90, 4, 0, 0, (cloth("A", 5, 20, width_mm=20),)))
    assert edge.points.tolist() == [[0, 5], [20, 5], [20, 25], [0, 25]]


def test_cloth_has_trim_and_code_but_no_folds():
    """What is made up one by one has folds and eyelets; a length of fabric is only cut off."""
    area, piece = cloth("cloth", 0, 300, width_mm=300), Placement("B", 0, 360, 250, 250, "a")
    options = MarkOptions(("trim", "code", "fold", "eyelet"), bare_mm=0, fold_mm=(9, 9), eyelets_mm=50)
    marks, _ = place_marks(Layout(400, 10, -5, -3, (area, piece)), options)
    kinds = {code: {m.kind for m in marks if m.piece == code} for code in ("cloth", "B")}
    assert kinds == {"cloth": {"trim", "code"}, "B": {"trim", "code", "fold", "eyelet"}}
    boxes = [Layout(400, 10, -5, -3, ()).printed_box_mm(p) for p in (area, piece)]
    for left, top, right, bottom in boxes:
        assert not any(
            m.x_mm < right and m.x_mm + m.width_mm > left and m.y_mm < bottom and m.y_mm + m.height_mm > top
            for m in marks
        )


def test_strips_stay_short_where_a_period_has_few_divisors():
    """15,988 rows are 4 x 7 x 571: strips of 571 rows of a wide roll would be 113 MB each."""
    fabric = cloth("A", 0, 3000, (640, 640), width_mm=1300, origin=(-100, 0))
    roll = laid(Layout(1400, 10, -5.44, -3.05, (fabric,)), PICTURES, (600, 600), leader_mm=20)
    assert roll.period_rows == 15988
    assert roll.row_block == 28
    assert roll.leader_px % 28 == 0


@pytest.mark.parametrize("lattice", LATTICES, ids=lambda lattice: lattice.name)
def test_one_area_is_what_a_roll_of_repeats_is(lattice):
    """The same fabric by both ways to a roll, pixel by pixel."""
    press = {"warp_percent": -5.5, "weft_percent": -3.0}
    unit = snap_repeat(23, 17, **press, dpi_x=90, dpi_y=70, kind=lattice)
    plan = plan_roll(unit, width_mm=120, length_mm=240, margin_mm=4, tail_mm=3, anchor="left")
    picture = PICTURES["b"].copy()
    picture[0, 0] = 65535  # so that ink is held to nothing less than full tones
    whole = compose(ArraySource(picture), plan, ink_names=("C", "M", "Y"))
    length = plan.design_rows * 25.4 / 70 * 0.945
    area = cloth("A", 0, length, (23, 17), lattice, width_mm=112 * 0.97)
    roll = laid(Layout(120, 4, -5.5, -3, (area,)), {"b": picture}, (90, 70))
    rows = whole.read(plan.leader_px, plan.leader_px + plan.design_rows)
    assert np.array_equal(roll.read(0, plan.design_rows), rows)
