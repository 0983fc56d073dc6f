"""Where patches stand, and the reference that says so."""

import numpy as np
import pytest

from strikeoff.base.errors import RangeError, UsageError
from strikeoff.chart.designs import characterisation, repeated
from strikeoff.chart.drawing import Text
from strikeoff.chart.layout import INSTRUMENTS, height_of, place_patches
from strikeoff.chart.patch_pages import patch_pages
from strikeoff.chart.patch_sets import numbered, plain_limits
from strikeoff.chart.reference import ChartFacts, ink_columns, write_reference
from strikeoff.measurement.read import read_readings

CHART = characterisation(("C", "M", "Y", "K"), plain_limits(4, 2.8), 200, seed=1)


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_every_patch_once_inside_the_page_without_overlap(name):
    placed = place_patches(CHART.recipes, (180.0, 200.0), instrument=name, seed=2)
    assert sorted(placed.patch) == list(range(200))
    assert placed.pages == placed.page.max() >= (1 if name == "table" else 2)
    side = placed.patch_mm
    assert placed.x_mm.min() >= 10
    assert placed.y_mm.min() >= 10
    assert placed.x_mm.max() + side <= 180
    assert placed.y_mm.max() + side <= 200
    for page in range(1, placed.pages + 1):
        here = placed.page == page
        x, y = placed.x_mm[here], placed.y_mm[here]
        apart = np.maximum(np.abs(x[:, None] - x), np.abs(y[:, None] - y))
        assert apart[~np.eye(len(x), dtype=bool)].min() >= side - 1e-9


def test_reading_orders():
    """By hand and in strokes every row starts left; on a table the even rows run back."""
    for name in INSTRUMENTS:
        placed = place_patches(CHART.recipes, (180.0, 400.0), instrument=name, seed=2)
        step = np.diff(placed.column)[np.diff(placed.row) == 0]
        rows = placed.row[1:][np.diff(placed.row) == 0]
        back = (rows % 2 == 0) if name == "table" else np.zeros(len(rows), bool)
        assert (step == np.where(back, -1, 1)).all()
        assert (np.diff(placed.page * 1000 + placed.row) >= 0).all()


def test_strokes_stand_side_by_side_on_wide_cloth():
    """Strokes of at most 300 mm: cloth of 1,400 mm holds four blocks, each with its own letters."""
    placed = place_patches(CHART.recipes, (1400.0, 400.0), instrument="strip", seed=2)
    firsts = np.unique(placed.x_mm[placed.column == 1])
    assert len(firsts) == 4
    assert np.diff(firsts).min() >= 300
    assert placed.pages == 1
    assert len(np.unique(placed.y_mm)) == 2
    assert placed.row.max() == 8
    for row in range(1, 9):
        here = placed.row == row
        assert np.ptp(placed.x_mm[here]) + placed.patch_mm <= 300
        assert (np.diff(placed.x_mm[here]) > 0).all()
    page = patch_pages(placed, CHART.recipes, CHART.inks, "Wide")[0]
    letters = {i.text: (i.x_mm, i.y_mm) for i in page.items if isinstance(i, Text)}
    assert letters["A"][0] == 10
    assert letters["C"][0] == pytest.approx(firsts[1] - 9)
    assert letters["A"][1] == letters["C"][1] < letters["B"][1]


def test_short_charts_take_no_more_cloth_than_they_need():
    for count in (5, 24, 56):
        page = (297.0, height_of(count, (297.0, 420.0)))
        placed = place_patches(CHART.recipes[:count], page)
        assert placed.pages == 1
        assert page[1] - placed.y_mm.max() - placed.patch_mm == pytest.approx(10)


def test_places_are_random_but_seeded():
    first, again, other = (place_patches(CHART.recipes, (297.0, 420.0), seed=s).patch for s in (1, 1, 2))
    assert (first == again).all()
    assert (first != other).mean() > 0.9
    assert (first != np.arange(200)).mean() > 0.9


def test_repeats_stand_apart():
    """A streak or a stain must not hit all readings of a recipe."""
    cloth = repeated(CHART, np.zeros(1, np.int64), 4)
    page = (297.0, 420.0)
    nearest = []
    for seed in range(20):
        placed = place_patches(cloth.recipes, page, seed=seed)
        at = np.flatnonzero(cloth.recipes[placed.patch].sum(axis=1) == 0)
        spots = np.stack([placed.x_mm[at], placed.y_mm[at]], axis=1)
        gap = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
        nearest.append(gap[~np.eye(len(at), dtype=bool)].min())
    assert min(nearest) > 50


def test_pages_that_cannot_be():
    with pytest.raises(UsageError, match="too small to be read"):
        place_patches(CHART.recipes, (297.0, 420.0), patch_mm=3.0)
    with pytest.raises(UsageError, match="not one patch"):
        place_patches(CHART.recipes, (40.0, 40.0), patch_mm=20.0)
    with pytest.raises(UsageError, match="hand, strip, table"):
        place_patches(CHART.recipes, (297.0, 420.0), instrument="eye")
    with pytest.raises(RangeError):
        place_patches(CHART.recipes, (np.nan, 420.0))
    with pytest.raises(UsageError, match="too small to be read"):
        place_patches(CHART.recipes, (297.0, 420.0), patch_mm=np.nan)


def test_reference_reads_back_in_reading_order(tmp_path):
    """ISO 28178 text; amounts, places and the ink space survive."""
    placed = place_patches(CHART.recipes, (180.0, 200.0), instrument="table", seed=5)
    facts = ChartFacts("first", "laid-down", "sha256:abc", "cotton", "sha256:def", 2.8, 5)
    path = tmp_path / "chart.txt"
    write_reference(path, CHART.recipes, CHART.names, CHART.inks, facts, placed=placed)
    back, problems = read_readings(path, need_colour=False)
    assert [p for p in problems if p.severity == "error"] == []
    assert np.abs(back.coverages - CHART.recipes[placed.patch]).max() < 1e-9
    assert back.sample_ids == tuple(CHART.names[i] for i in placed.patch)
    words = back.keywords
    assert (words["INK_SPACE"], words["CURVES_DIGEST"], words["CHART_KIND"]) == (
        "laid-down",
        "sha256:abc",
        "first",
    )
    text = path.read_text()
    first = text.split("BEGIN_DATA\n")[1].splitlines()[0].split("\t")
    assert first[5:8] == ["1", "A", "1"]
    assert float(first[8]) == placed.x_mm[0]


@pytest.mark.parametrize("inks", [1, 3, 5, 9, 12])
def test_reference_of_any_number_of_inks_keeps_their_order(tmp_path, inks):
    names = tuple(f"Ink {i}" for i in range(inks))
    rows = np.vstack([np.zeros(inks), np.linspace(0.1, 0.9, inks)])
    path = tmp_path / "chart.txt"
    write_reference(path, rows, ("1", "2"), names, ChartFacts("strip", "calibrated"))
    back, _ = read_readings(path, need_colour=False)
    assert back.ink_columns == ink_columns(names)
    assert np.abs(back.coverages - rows).max() < 1e-9


def test_reference_without_places_keeps_the_order_of_the_set(tmp_path):
    patches = numbered(("C", "M"), np.array([[0, 0], [1, 0], [0, 1.0]]))
    write_reference(
        tmp_path / "a.txt", patches.recipes, patches.names, patches.inks, ChartFacts("strip", "calibrated")
    )
    assert read_readings(tmp_path / "a.txt", need_colour=False)[0].sample_ids == ("1", "2", "3")
