"""Rows that are told to be equal against what stands in them, looked up row by row."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.layout.shared_rows import Standing, shared_rows
from strikeoff.raster.bands import repeat_of_map


@st.composite
def things(draw):
    found = []
    for _ in range(draw(st.integers(0, 7))):
        top = draw(st.integers(0, 40))
        period = draw(st.sampled_from([0, 0, 1, 2, 3, 5, 7, 60]))
        end = top + draw(st.integers(1, 40))
        # A content has one period: two names for each.
        name = f"{draw(st.sampled_from('ab'))}{period}"
        found.append(Standing(name, top, end, period, draw(st.integers(-9, 9)) if period else 0))
    return found


def signature(things, row):
    """What stands in a row, in the order of drawing, and which row of it."""
    return [
        (t.content, (row - t.origin) % t.period if t.period else row - t.top)
        for t in things
        if t.top <= row < t.end
    ]


@settings(max_examples=300, deadline=None)
@given(things(), st.integers(0, 20))
def test_rows_said_to_be_equal_show_the_same(things, more):
    height = max((t.end for t in things), default=0) + more
    rows = shared_rows(height, things)
    assert len(rows) == height
    assert (rows <= np.arange(height)).all()
    assert np.array_equal(rows[rows], rows)
    for y, first in enumerate(rows.tolist()):
        assert signature(things, y) == signature(things, first)
    ends = max((t.end for t in things), default=0), min((t.top for t in things), default=height)
    assert np.array_equal(rows[ends[0] :], np.arange(ends[0], height))
    assert np.array_equal(rows[: ends[1]], np.arange(ends[1]))


def test_one_fabric_is_one_period_wherever_it_comes_again():
    """Fabric, a panel, the same fabric from its own corner, and beside a second one of another period."""
    fabric = [Standing("f", 10, 500, 40, 10), Standing("f", 530, 900, 40, 530)]
    rows = shared_rows(1000, [*fabric, Standing("panel", 505, 520)])
    assert set(rows[10:500]) == set(range(10, 50))
    assert np.array_equal(rows[530:900], 10 + np.arange(370) % 40)
    assert repeat_of_map(rows) == (40, 10)
    both = shared_rows(600, [fabric[0], Standing("g", 10, 500, 60, 25)])
    assert set(both[10:500]) == set(range(10, 130))


def test_what_would_take_too_long_is_left_alone():
    """3,000 pieces side by side, each beginning a row later: rows are their own, and soon told."""
    rows = shared_rows(9000, [Standing(k, k, 6000 + k) for k in range(3000)])
    assert np.array_equal(rows, np.arange(9000))


def test_the_period_that_goes_into_all_is_taken_where_it_is_of_use():
    """280 and 420 rows: 140 go into both. 280 and 401: the one by which more rows repeat."""

    def found(first, second, rows):
        start = 3000
        things = [Standing("f", 0, start, first), Standing("g", start, start + rows, second, start)]
        return repeat_of_map(shared_rows(start + rows, things))

    assert found(280, 420, 9000) == (140, 0)
    assert found(280, 401, 9000) == (401, 3000)
    assert found(280, 401, 900) == (280, 0)
