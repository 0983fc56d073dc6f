"""What is drawn: sizes in millimetres are those in the planes."""

import re

import numpy as np
import pytest

from strikeoff.base.errors import RangeError, UsageError
from strikeoff.chart.designs import characterisation, ink_limit_ramps
from strikeoff.chart.drawing import Page, Rect, Text, frame
from strikeoff.chart.finishing_grid import grid_marks, grid_page
from strikeoff.chart.ink_limit_page import LINE_MM, ink_limit_pages
from strikeoff.chart.layout import place_patches
from strikeoff.chart.patch_pages import patch_pages
from strikeoff.chart.patch_sets import plain_limits
from strikeoff.chart.pdf_pages import write_pdf
from strikeoff.chart.raster_page import PageSource, text_mask
from strikeoff.chart.screen_inks import screen_colours
from strikeoff.chart.total_ink_page import LINE_MM as REVERSED_MM
from strikeoff.chart.total_ink_page import total_ink_pages, usual_combinations

CMYK = ("C", "M", "Y", "K")
DPI = (254.0, 254.0)  # ten pixels to the millimetre


def runs(line):
    """Lengths of the stretches of equal values of a row."""
    edges = np.flatnonzero(np.diff(line)) + 1
    return np.diff(np.concatenate([[0], edges, [len(line)]]))


@pytest.mark.parametrize("name", ["hand", "strip", "table"])
def test_patches_of_bare_cloth_are_found_by_their_corners(name):
    """All four corners hold ink, three quarters of the patch hold none, and neighbours keep theirs."""
    recipes = np.array([[0, 0, 0, 0], [0, 0.02, 0, 0], [1, 0, 0, 0], [0, 0, 1, 0]] * 3, dtype=float)
    placed = place_patches(recipes, (150.0, 150.0), instrument=name, seed=3)
    (page,) = patch_pages(placed, recipes, CMYK, "Chart")
    source = PageSource(page, (254.0, 254.0), 16)
    plane = source.read(0, source.height) / 65535
    for slot in range(len(recipes)):
        x, y, side = (round(10 * v) for v in (placed.x_mm[slot], placed.y_mm[slot], placed.patch_mm))
        here, recipe = plane[y : y + side, x : x + side], recipes[placed.patch[slot]]
        edge = side // 8
        middle = here[edge:-edge, edge:-edge] if name != "strip" else here[edge:-edge, edge + 3 : -edge - 3]
        assert np.abs(middle - recipe).max() < 1e-4
        light = recipe.sum() < 0.05
        inset = 5 if name == "strip" else 1  # separators cover the sides
        for row, column in ((1, inset), (1, -1 - inset), (-2, inset), (-2, -1 - inset)):
            dark = here[row, column, 3]
            assert (0.3 < dark < 0.5) == light, (slot, row, column)


def test_patches_of_white_or_clear_ink_alone_are_found_by_their_corners():
    """Light cloth hides them; white below another ink is seen."""
    names = ("K", "Opaque White", "Clear")
    recipes = np.array([[0, 1, 0], [0, 0, 1], [0.5, 1, 0]], dtype=float)
    placed = place_patches(recipes, (150.0, 150.0), seed=3)
    (page,) = patch_pages(placed, recipes, names, "Chart")
    ramp, _ = ink_limit_pages([recipes], names, (150.0, 150.0), 10.0, "Limits")
    for items in (page.items, ramp[0].items):
        small = [i for i in items if isinstance(i, Rect) and i.inks == (0.4, 0.0, 0.0)]
        assert len(small) == 2 * 4 * 2  # two patches, two strokes at each corner


@pytest.mark.parametrize("kind", ["patches", "limits", "total"])
def test_headings_stay_on_narrow_cloth(kind):
    """Drawn by the program's letters, 10 mm at both sides stay free, and lines do not touch what is below."""
    names = ("Cyan", "Magenta", "Yellow", "Black", "Light Cyan", "Light Magenta", "Fluo Pink", "Orange")
    title = f"Linearisation | inks {' '.join(names)} | laid-down ink | at most 900 % ink | seed 0"
    size, recipes = (60.0, 300.0), np.eye(8)
    if kind == "patches":
        pages = patch_pages(place_patches(recipes, size), recipes, names, title)
    elif kind == "limits":
        pages, _ = ink_limit_pages([recipes], names, size, 14.0, title)
    else:
        pages, _ = total_ink_pages(names, [names[:2]], [1.0], size, title)
    texts = [i for i in pages[0].items if isinstance(i, Text)]
    words = " ".join(i.text for i in texts)
    assert title in words
    assert f"| page 1 of {len(pages)}" in words
    for text in texts:
        width_mm = text_mask(text.text, text.size_mm, *DPI).shape[1] / 10
        left = text.x_mm - (width_mm / 2 if text.centred else 0.0)
        assert left >= 9.9
        assert left + width_mm <= size[0] - 9.9
    heading = [i for i in texts if not i.centred and i.x_mm == 10.0 and len(i.text) > 3]
    first = min(i.y_mm for i in pages[0].items if isinstance(i, Rect))
    assert max(i.y_mm + i.size_mm / 2 for i in heading if i.y_mm < first) < first
    assert min(i.y_mm for i in heading) >= 2.0
    lines = [i.y_mm for i in heading if i.y_mm < first]
    assert min(np.diff(lines)) > heading[0].size_mm


@pytest.mark.parametrize("name", ["hand", "strip", "table"])
def test_the_middle_of_every_patch_holds_its_recipe(name):
    chart = characterisation(CMYK, plain_limits(4, 2.6), 60, seed=2)
    placed = place_patches(chart.recipes, (150.0, 150.0), instrument=name, seed=3)
    pages = patch_pages(placed, chart.recipes, CMYK, "Chart")
    assert len(pages) == placed.pages
    planes = [PageSource(page, (127.0, 254.0), 16, total=2.6) for page in pages]
    planes = [source.read(0, source.height) for source in planes]
    for slot in range(60):
        x = round((placed.x_mm[slot] + placed.patch_mm / 2) * 5)
        y = round((placed.y_mm[slot] + placed.patch_mm / 2) * 10)
        found = planes[placed.page[slot] - 1][y, x]
        assert np.abs(found / 65535 - chart.recipes[placed.patch[slot]]).max() < 1.6e-5
        assert found.astype(int).sum() <= 2.6 * 65535


def test_bands_are_the_whole_page_cut():
    page = Page(20, 10, ("C", "K"), (Rect(2, 1, 9, 6, (0.5, 0.0)), Text(3, 4, 3, "Wg", (0.0, 1.0))))
    source = PageSource(page, (300.0, 200.0), 8)
    whole = source.read(0, source.height)
    parts = [source.read(y, min(y + 7, source.height)) for y in range(0, source.height, 7)]
    assert (np.vstack(parts) == whole).all()
    assert whole[..., 1].any()
    assert set(np.unique(whole[..., 0])) == {0, 128}


def test_reversed_letters_cut_ink_out_and_curves_apply():
    page = Page(20, 10, ("K",), (Rect(0, 0, 20, 10, (0.5,)), Text(2, 5, 5, "H", (0.0,))))
    halved = PageSource(page, DPI, 16, lay_down=lambda codes: codes // 2).read(0, 100)
    assert set(np.unique(halved)) == {0, 16384}
    assert 0.005 < (halved == 0).mean() < 0.1


def test_ink_limit_lines_and_gaps_have_their_width():
    pages, steps = ink_limit_pages(ink_limit_ramps(CMYK, [("M", "Y")]), CMYK, (297.0, 420.0), 12.0, "Ramps")
    assert len(steps) == 105
    assert [max(step.recipe) for step in steps[:2]] == [0.0, 0.05]
    assert (min(LINE_MM), max(LINE_MM)) == (0.3, 2.0)
    planes = PageSource(pages[0], DPI, 8).read(0, 4200)
    for step in (steps[20], steps[104]):
        channel = int(np.argmax(step.recipe))
        upper = planes[round((step.y_mm + 2) * 10), :, channel] > 0
        left = round((step.x_mm + step.size_mm + 1) * 10)
        found = runs(upper[left : left + 96])
        assert found[::2][:5].tolist() == [round(10 * w) for w in LINE_MM]
        lower = planes[round((step.y_mm + 10) * 10), :, channel] > 0
        found = runs(lower[left : left + 111])
        assert found[1::2][:5].tolist() == [round(10 * w) for w in LINE_MM]


def test_total_ink_steps_carry_reversed_lines_letters_and_gaps():
    pages, steps = total_ink_pages(CMYK, [("C", "M", "K")], [1.5, 3.0, 4.0], (297.0, 200.0), "Total")
    assert [round(sum(step), 6) for step in steps] == [1.5, 3.0]
    assert steps[1] == (1.0, 1.0, 0.0, 1.0)
    planes = PageSource(pages[0], DPI, 8).read(0, 2000)
    solid = next(i for i in pages[0].items if isinstance(i, Rect) and i.inks == steps[1])
    row = planes[round((solid.y_mm + 9) * 10), round(solid.x_mm * 10) : round(solid.x_mm * 10) + 130, 0]
    assert runs(row > 0)[1::2][:4].tolist() == [round(10 * w) for w in REVERSED_MM]
    text = planes[round((solid.y_mm + 12) * 10) : round((solid.y_mm + 23) * 10)]
    text = text[:, round(solid.x_mm * 10) : round((solid.x_mm + 30) * 10), 0]
    assert 0.03 < (text == 0).mean() < 0.4
    words = " ".join(i.text for i in pages[0].items if isinstance(i, Text))
    assert "last step that is still clean is the limit" in re.sub(r"\s+", " ", words)


def test_total_ink_labels_do_not_run_into_each_other():
    names = ("Cyan", "Magenta", "Yellow", "Black")
    pages, _ = total_ink_pages(names, [names], None, (297.0, 420.0), "Total")
    labels = [i for i in pages[0].items if isinstance(i, Text) and i.text.endswith(" %")]
    assert len(labels) == 13
    assert max(len(label.text) for label in labels) <= 5
    headings = [i for i in pages[0].items if isinstance(i, Text) and i.text == "Cyan+Magenta+Yellow+Black"]
    rows = sorted({label.y_mm for label in labels})
    assert len(headings) == len(rows) == 2
    assert all(3 < row - heading.y_mm < 8 for row, heading in zip(rows, headings, strict=True))


def test_total_ink_of_any_inks():
    assert [len(g) for g in usual_combinations(["C", "M", "Y", "K", "Orange"])] == [2, 2, 2, 3, 4, 5]
    assert [len(g) for g in usual_combinations(["C", "M", "Y", "K"])] == [2, 2, 2, 3, 4]
    assert usual_combinations(["Black"]) == [("Black",)]
    seven = ("C", "M", "Y", "K", "O", "G", "V")
    _, steps = total_ink_pages(seven, [seven], None, (1500.0, 900.0), "Total")
    assert sum(steps[-1]) == pytest.approx(7)
    with pytest.raises(UsageError, match="none of the steps"):
        total_ink_pages(CMYK, [("C",)], [2.0], (297.0, 420.0), "Total")
    with pytest.raises(UsageError, match="steps"):
        total_ink_pages(CMYK, [("C",)], [float("nan")], (297.0, 420.0), "Total")
    with pytest.raises(UsageError, match="fits"):
        total_ink_pages(CMYK, [("C",)], None, (40.0, 40.0), "Total")


@pytest.mark.parametrize("size", [(500.0, 500.0), (1600.0, 700.0)])
def test_grid_keeps_iso_3759(size):
    """ISO 3759: three pairs each way, at least 350 mm apart, at least 50 mm from all edges."""
    marks = grid_marks(size)
    for places, length in ((marks.columns_mm, size[0]), (marks.rows_mm, size[1])):
        assert len(places) == 3
        assert places[2] - places[0] >= 350
        assert places[0] >= 50
        assert places[2] <= length - 50
    page = grid_page(CMYK, size, "Grid")
    crosses = [i for i in page.items if isinstance(i, Rect) and i.width_mm == 20.0]
    middles = {(round(i.x_mm + 10, 6), round(i.y_mm + 0.25, 6)) for i in crosses}
    assert middles == {(x, y) for x in marks.columns_mm for y in marks.rows_mm}
    # The instructions name crosses: a letter is a column, a number a row.
    labels = {i.text: (i.x_mm, i.y_mm) for i in page.items if isinstance(i, Text) and len(i.text) == 2}
    assert labels["C1"][0] - labels["A1"][0] == pytest.approx(marks.across_mm)
    assert labels["A3"][1] - labels["A1"][1] == pytest.approx(marks.along_mm)
    for item in page.items:
        assert item.y_mm >= 0
        assert item.x_mm >= 0
    with pytest.raises(UsageError, match="3759"):
        grid_page(CMYK, (499.0, 600.0), "Grid")


@pytest.mark.parametrize("size", [(500.0, 500.0), (600.0, 700.0), (1600.0, 700.0)])
def test_words_of_a_grid_stay_apart_from_marks_and_each_other(size):
    """As the program's letters are drawn; the title names twelve inks."""
    names = ("Cyan", "Magenta", "Yellow", "Black", *(f"Ink number {n}" for n in range(5, 13)))
    title = f"Finishing grid | inks {' '.join(names)} | ink before tone curves | curves 6b208681 | seed 0"
    page = grid_page(names, size, title)
    boxes = []
    for item in page.items:
        if isinstance(item, Text):
            wide = text_mask(item.text, item.size_mm, *DPI).shape[1] / 10
            left = item.x_mm - (wide / 2 if item.centred else 0.0)
            half = 0.72 * item.size_mm / 2
            boxes.append((left, item.y_mm - half, left + wide, item.y_mm + half))
        elif max(item.width_mm, item.height_mm) == 20.0:
            boxes.append((item.x_mm, item.y_mm, item.x_mm + item.width_mm, item.y_mm + item.height_mm))
    assert title in " ".join(i.text for i in page.items if isinstance(i, Text))
    assert max(box[2] for box in boxes) <= size[0]
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            crosses_of_one_mark = a[2] - a[0] == 20.0 or b[2] - b[0] == 20.0
            apart = a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
            assert apart or crosses_of_one_mark, (a, b)


def test_pdf_is_sound(tmp_path):
    """ISO 32000-1 7.5.4: the table gives the byte at which each object starts."""
    page = Page(
        100, 50, ("C", "K"), (*frame(1, 1, 98, 48, 0.5, (0, 1)), Text(5, 25, 4, r"a (b) \ c", (0, 1)))
    )
    path = tmp_path / "a.pdf"
    write_pdf(path, [page, page], lambda inks: screen_colours(inks, ("C", "K")))
    data = path.read_bytes()
    start = int(re.search(rb"startxref\n(\d+)", data)[1])
    assert data[start : start + 4] == b"xref"
    for number, offset in enumerate(re.findall(rb"(\d{10}) 00000 n", data[start:]), 1):
        assert data[int(offset) :].startswith(b"%d 0 obj" % number)
    assert data.count(b"/Type /Page ") == 2
    assert b"(a \\(b\\) \\\\ c) Tj" in data
    assert b"/MediaBox [0 0 283.46 141.73]" in data
    for length, stream in re.findall(rb"/Length (\d+) >>\nstream\n(.*?)\nendstream", data, re.DOTALL):
        assert len(stream) == int(length)


def test_pages_no_file_can_hold_are_refused():
    with pytest.raises(RangeError, match="pixels"):
        PageSource(Page(100_000, 10, ("K",), ()), (1200.0, 1200.0))
    with pytest.raises(UsageError, match="8 or 16"):
        PageSource(Page(10, 10, ("K",), ()), DPI, 4)
