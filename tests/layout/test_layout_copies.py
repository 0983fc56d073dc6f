"""Grids of copies: as many across as fit, counts, turns, refusals, drawing."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, RangeError, UsageError
from strikeoff.layout.copies import plan_copies
from strikeoff.layout.copies_drawing import copies_svg
from strikeoff.workbench import roll_copies


@given(
    st.floats(5, 900), st.integers(1, 400), st.floats(950, 3200), st.floats(-12, 5), st.floats(0, 10),
    st.floats(0, 30), st.booleans(),
)  # fmt: skip
def test_as_many_as_fit_and_one_more_would_not(width, count, cuttable, weft, bleed, gap, fill):
    grid = plan_copies(
        (min(width, 0.85 * cuttable - 20), 100), count, cuttable_mm=cuttable, warp_percent=-5,
        weft_percent=weft, bleed_mm=bleed, gap_mm=(gap, gap), fill=fill,
    )  # fmt: skip
    widest, cell = cuttable * (1 + weft / 100), grid.size_mm[0] + 2 * bleed
    taken = grid.across * cell + (grid.across - 1) * gap
    assert taken <= widest * (1 + 1e-8)
    if fill or count > grid.across:
        assert taken + gap + cell > widest * (1 - 1e-8)
    assert grid.left_over_mm[1] == pytest.approx(max(0, widest - taken), abs=1e-6)
    assert (grid.rows - 1) * grid.across < count <= grid.rows * grid.across
    assert grid.count == (grid.rows * grid.across if fill else count)
    places = list(grid.copies())
    assert len(places) == grid.count
    assert len(set(places)) == grid.count
    assert max(x for x, _, _ in places) + grid.size_mm[0] + bleed <= taken + 1e-6
    assert max(y for _, y, _ in places) + 100 + bleed == pytest.approx(grid.length_mm[1])
    assert grid.length_mm[0] == pytest.approx(grid.length_mm[1] / 0.95)


def test_every_other_row_or_column_is_turned():
    turned = {
        turn: [t for _, _, t in plan_copies(
            (400, 300), 6, cuttable_mm=1300, warp_percent=0, weft_percent=0, turn=turn).copies()]
        for turn in ("none", "rows", "columns")
    }  # fmt: skip
    assert turned["none"] == [False] * 6
    assert turned["rows"] == [False] * 3 + [True] * 3
    assert turned["columns"] == [False, True, False] * 2


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"size_mm": (1500, 100)}, InputError),
        ({"size_mm": (0, 100)}, InputError),
        ({"count": 0}, InputError),
        ({"count": 10**9}, InputError),
        ({"bleed_mm": -1}, InputError),
        ({"gap_mm": (float("nan"), 0)}, InputError),
        ({"weft_percent": -51}, RangeError),
        ({"turn": "diagonals"}, UsageError),
    ],
)
def test_refusals(change, error):
    good = {"size_mm": (400, 300), "count": 5, "cuttable_mm": 1400, "warp_percent": 0, "weft_percent": 0}
    with pytest.raises(error):
        plan_copies(**(good | change))


def test_drawing(tmp_path):
    found = roll_copies(
        finished=(450, 300), count=10, warp=-5, weft=-3, width=1500, gap=5, turn="rows", fill=True,
        drawing=tmp_path / "c.svg",
    )  # fmt: skip
    assert (found.results["count"], found.results["spare"], found.results["last_row"]) == (12, 2, 3)
    kinds = [e.get("class") for e in ET.parse(tmp_path / "c.svg").getroot().iter()]
    assert (kinds.count("copy"), kinds.count("turned")) == (6, 6)
    long = plan_copies((450, 300), 100_000, cuttable_mm=1400, warp_percent=0, weft_percent=0)
    drawing = copies_svg(long, "long")
    assert "rows more" in drawing
    assert len(drawing) < 100_000
