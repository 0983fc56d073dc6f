"""Rolls of pieces against a plain composition in memory: cubic convolution (Keys 1981) in doubles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from plain_rolls import DPI, INKS, OPEN, artwork, laid, plain

from strikeoff.base.errors import InputError, UsageError
from strikeoff.layout.lay import Sheet, lay_roll, press_grids
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.leader import Leader
from strikeoff.layout.marks_raster import MarkDots
from strikeoff.layout.placement import Layout, Placement
from strikeoff.raster.bands import ArraySource, repeat_of_rows


@st.composite
def layouts(draw):
    """Pieces on shelves, each anything that a piece can be."""
    across, along = draw(st.sampled_from([(0.0, 0.0), (-5.5, -3.0), (-12.0, 4.0), (2.0, -20.0)]))
    number = st.integers(8, 60).map(lambda v: v / 2)
    pieces, y = [], 0.0
    for shelf in range(draw(st.integers(1, 3))):
        x, tallest = 0.0, 0.0
        for k in range(draw(st.integers(1, 3))):
            wide, high = draw(number), draw(number)
            turn = draw(st.sampled_from([0, 90, 180, 270]))
            bleed = draw(st.sampled_from([0.0, 1.0]))
            upright = (wide, high) if turn % 180 == 0 else (high, wide)
            whole, crop = None, None
            if draw(st.booleans()):
                left, top = (draw(st.sampled_from([-bleed, 0.0, 3.3])) for _ in range(2))
                whole = tuple(
                    max(edge + side - bleed, draw(number) + side)
                    for edge, side in zip((left, top), upright, strict=True)
                )
                crop = (left, top, *upright)
            pieces.append(
                Placement(
                    f"{shelf}.{k}", x, y, wide, high, draw(st.sampled_from("ab")), bleed, turn,
                    draw(st.booleans()), crop, artwork_mm=whole,
                )
            )  # fmt: skip
            x += wide + draw(st.sampled_from([0.0, 2.5]))
            tallest = max(tallest, high)
        y += tallest + draw(st.sampled_from([0.0, 1.7]))
    return Layout(140, 4, across, along, tuple(pieces))


FLAG = Placement("f", 3, 0, 20, 9, "a", 0, 90, True, (1, 2, 9, 20), artwork_mm=(14, 31))


@settings(max_examples=40, deadline=None)
@given(layouts(), st.integers(1, 50))
@example(Layout(140, 4, -5.5, 3.0, (FLAG,)), 7)
def test_every_pixel_equals_a_plain_composition(layout, band):
    pictures = {"a": artwork(1), "b": artwork(2, 9, 40)}
    roll = laid(layout, pictures)
    found = np.concatenate(
        [roll.read(y, min(y + band, roll.height)) for y in range(0, roll.height, band)]
    ).astype(float)
    wanted = plain(layout, pictures)
    assert found.shape == wanted.shape
    # Single precision and rounding; the same picture turned first or last.
    assert np.abs(found - wanted).max() < 0.75
    assert np.array_equal(found, roll.read(0, roll.height))


def test_panels_agree_where_they_overlap_and_go_on_where_they_meet():
    """Cuts that fall between pixels: the shared strip is equal, joints neither lose nor double a column."""
    whole = (200.3, 60.0)
    cuts = [(0.0, 0.0, 77.77, 60.0), (66.66, 0.0, 77.77, 60.0), (144.43, 0.0, 55.87, 60.0)]
    pieces = [
        Placement(str(k), 0, 70.1 * k, crop[2], 60, "a", 0, 180 * (k % 2), False, crop, artwork_mm=whole)
        for k, crop in enumerate(cuts)
    ]
    roll = laid(Layout(100, 4, -4, -3, tuple(pieces)), {"a": artwork(3, 70, 20)}, dpi=(90, 90))
    all_rows = roll.read(0, roll.height)
    seen = []
    for piece in roll.pieces:
        left = piece.left_px + roll.leader.margin_px
        part = all_rows[piece.top_px : piece.top_px + piece.height_px, left : left + piece.width_px]
        seen.append(part[::-1, ::-1] if piece.flips == (True, True) else part)
    edges = [piece.cut_px for piece in roll.pieces]
    shared = edges[0][2] - edges[1][0]
    assert shared > 30
    assert np.array_equal(seen[0][:, -shared:], seen[1][:, :shared])
    assert edges[1][2] == edges[2][0]
    joined = np.concatenate([seen[0][:, :-shared], seen[1], seen[2]], axis=1)
    grid = roll.pieces[0].grid
    assert joined.shape[1] == grid.width_px
    alone = laid(
        Layout(300, 4, -4, -3, (Placement("w", 0, 0, *whole, "a"),)), {"a": artwork(3, 70, 20)}, (90, 90)
    )
    assert np.array_equal(
        joined, alone.read(0, grid.height_px)[:, alone.leader.margin_px :][:, : grid.width_px]
    )


def grid_of_copies(rows: int, pitch_mm: float, turned: bool) -> Layout:
    pieces = [
        Placement(f"{r}.{c}", 30 * c, r * pitch_mm, 30, 20, "a", turn_degrees=180 * (turned and r % 2))
        for r in range(rows)
        for c in range(3 if r < rows - 1 else 2)
    ]
    return Layout(110, 4, 0, 0, tuple(pieces))


@pytest.mark.parametrize("turned", [False, True])
def test_rows_of_copies_are_shared(turned):
    pitch = 25.4 * 40 / 50
    roll = laid(grid_of_copies(7, pitch, turned), {"a": artwork(4)}, dpi=(50, 50))
    assert repeat_of_rows(roll) == (80 if turned else 40, 0)
    canonical = roll.row_map
    # Six whole rows of copies; the last one lacks a copy and is its own.
    assert (canonical[:240] < (80 if turned else 40)).all()
    assert (canonical[240:] == np.arange(240, roll.height)).all()
    rows = roll.read(0, roll.height)
    assert np.array_equal(rows, rows[canonical])
    assert roll.row_block == (80 if turned else 40)


def test_rows_with_marks_are_their_own():
    dots = MarkDots(180, 7, np.ones((4, 3), bool)), MarkDots(-2, 127, np.ones((2, 2), bool))
    roll = laid(
        grid_of_copies(7, 25.4 * 40 / 50, False), {"a": artwork(4)}, dpi=(50, 50), marks=dots, leader_mm=9
    )
    rows = roll.read(0, roll.height)
    assert np.array_equal(rows, rows[roll.row_map])
    first = roll.leader_px
    # Without a black the last ink draws marks.
    assert (rows[first + 7 : first + 11, 188:191] == (0, 0, 65535)).all()
    assert (rows[first + 127 : first + 129, 6:8].max(axis=2) == 65535).all()
    assert (roll.row_map[first + 47 : first + 51] == np.arange(first + 47, first + 51)).all()
    assert (roll.row_map[first + 87 : first + 91] == np.arange(first + 47, first + 51)).all()
    assert repeat_of_rows(roll)[0] == 40


def test_ten_thousand_pieces_stream():
    pieces = [Placement(str(k), 12.1 * (k % 100), 12.3 * (k // 100), 12, 12, "a") for k in range(10_000)]
    roll = laid(Layout(1300, 10, 0, 0, tuple(pieces)), {"a": artwork(5)})
    part = roll.read(900, 930)
    assert part.any()
    assert part.shape == (30, roll.width, 3)


@pytest.mark.parametrize(
    ("piece", "message"),
    [
        (Placement("A", 0, 0, 10, 10, crop_mm=(0, 0, 10, 10)), "size of the whole artwork"),
        (Placement("A", 0, 0, 10, 10, artwork_mm=(12, 10)), "not as large as the piece"),
        (Placement("A", 0, 0, 10, 10, crop_mm=(5, 0, 10, 10), artwork_mm=(12, 10)), "beyond its artwork"),
        (
            Placement("A", 0, 0, 10, 10, bleed_mm=1, crop_mm=(-1.5, 0, 10, 10), artwork_mm=(9, 10)),
            "beyond its",
        ),
        (Placement("A", 0, 0, 10, 10, bleed_mm=5), "bleed of a piece"),
        (Placement("A", 0, 0, 10, 10, bleed_mm=float("nan")), "bleed of a piece"),
        (Placement("A", 0, 0, 10, 10, artwork_mm=(float("inf"), 10)), "size of the artwork"),
    ],
)
def test_crops_that_cannot_be(piece, message):
    with pytest.raises(InputError, match=message):
        check_layout(Layout(100, 0, 0, 0, (piece,)))


def test_other_inks_and_short_leaders():
    layout = Layout(100, 4, 0, 0, (Placement("A", 0, 0, 10, 10, "a"),))
    with pytest.raises(InputError, match="other inks"):
        laid(layout, {"a": artwork(1)[..., :2]})
    sheets = {g: Sheet(ArraySource(artwork(1)), OPEN) for g in press_grids(layout, *DPI)}
    leader = Leader(INKS, *DPI, 8, 180, 0, 0, None, "a slug that needs its room")
    with pytest.raises(UsageError, match="leader is too short"):
        lay_roll(layout, sheets, leader=leader, leader_mm=2)
