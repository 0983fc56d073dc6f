"""Paper: what stays together stays together, nothing is lost, figures stand under their heads."""

import numpy as np
import pytest

from strikeoff.report.figures import svg_figure
from strikeoff.report.paper_boxes import BoxMaker, section_boxes
from strikeoff.report.paper_columns import CHIP_ROOM_MM, GUTTER_MM, table_gutter_mm, table_widths
from strikeoff.report.paper_pages import Box, Item, fill_pages
from strikeoff.report.paper_reader import Cell, read_blocks
from strikeoff.report.paper_type import SMALL, line_mm, text_width_mm, wrapped
from strikeoff.report.tables import facts_html, form_html, paragraph, points_html, subheading, table_html

LEFT, WIDTH = 18.0, 174.0


def box(name, height, **more):
    return Box(height, lambda y, high: [Item("text", 0.0, y, (name, round(high, 6)))], **more)


def names(pages):
    return [[item.payload[0] for item in page] for page in pages]


def words(pages):
    return [[item.payload for item in page if item.kind == "text"] for page in pages]


def body_pages(html, room=260.0):
    boxes = section_boxes(BoxMaker(LEFT, WIDTH), read_blocks(html), {})
    return fill_pages(boxes, 16.0, room)


def test_a_page_ends_where_the_next_box_does_not_fit():
    assert names(fill_pages([box("a", 60), box("b", 40), box("c", 1)], 0.0, 100.0)) == [["a", "b"], ["c"]]
    held = [box("a", 60), box("head", 20, holds_next=True), box("b", 40)]
    assert names(fill_pages(held, 0.0, 100.0)) == [["a"], ["head", "b"]]


def test_drawings_shrink_before_a_page_is_left_early_and_grow_to_fill_one():
    drawing = box("d", 80, least_mm=50, most_mm=95)
    (page,) = fill_pages([drawing, box("t", 40)], 10.0, 100.0)
    assert [(item.payload, item.y_mm) for item in page] == [(("d", 60.0), 10.0), (("t", 40.0), 70.0)]
    pages = fill_pages([drawing, box("t", 60), drawing], 0.0, 100.0)
    # Full, full, and the last page as it comes.
    assert [[item.payload for item in page] for page in pages] == [
        [("d", 95.0)],
        [("t", 60.0)],
        [("d", 80.0)],
    ]


def test_the_heading_of_a_table_stands_again_on_the_next_page():
    again = box("head", 10)
    pages = fill_pages([again, *(box(f"r{k}", 30, again=again) for k in range(4))], 0.0, 100.0)
    assert names(pages) == [["head", "r0", "r1", "r2"], ["head", "r3"]]


def test_a_short_table_is_never_broken():
    table = table_html(["A", "B"], [[f"row {k}", "x" * 70] for k in range(10)])
    for lines in range(30, 60):
        filler = "".join(paragraph("word") for _ in range(lines))
        pages = words(body_pages(filler + table))
        (where,) = [page for page in pages if "row 0" in page]
        assert {f"row {k}" for k in range(10)} <= set(where)
        assert "A" in where


def test_a_long_table_leaves_no_single_row():
    """At either side of a break at least four rows stand, under the heading."""
    table = table_html(["Name", "B"], [[f"row {k}", "x" * 70] for k in range(60)])
    for lines in range(0, 45, 3):
        filler = "".join(paragraph("word") for _ in range(lines))
        pages = words(body_pages(filler + table))
        rows = [[word for word in page if word.startswith("row ")] for page in pages]
        assert [word for page in rows for word in page] == [f"row {k}" for k in range(60)]
        for page, found in zip(pages, rows, strict=True):
            assert not found or (len(found) >= 4 and page.count("Name") == 1)


def test_a_narrow_long_table_stands_in_two_halves():
    (page,) = body_pages(table_html(["A", "B"], [[f"n{k}", str(k)] for k in range(11)]))
    at = {item.payload: (item.x_mm, item.y_mm) for item in page if item.kind == "text"}
    assert at["n5"][0] == pytest.approx(LEFT)
    assert at["n6"][0] > LEFT + WIDTH / 2
    assert at["n6"][1] == pytest.approx(at["n0"][1])
    assert [item.payload for item in page].count("A") == 2


def test_figures_end_where_their_heads_end():
    (page,) = body_pages(table_html(["Ink", "L*", "used"], [["C", "55.10", "1"], ["M", "-4.2", "2"]]))
    items = {item.payload: item for item in page if item.kind == "text"}
    for name in ("L*", "55.10", "-4.2"):
        assert items[name].style["ha"] == "right"
        assert items[name].x_mm == pytest.approx(items["L*"].x_mm)
    assert items["C"].style["ha"] == "left"
    assert items["2"].x_mm == pytest.approx(LEFT + WIDTH)


def test_columns_are_wide_enough_for_figures_and_fill_the_page():
    rows = [
        [Cell("Ink"), Cell("use"), Cell("reflectance highest", is_number=True)],
        [Cell("fluorescent"), Cell("some words " * 40), Cell("1.302", is_number=True)],
    ]
    widths = table_widths(rows, WIDTH)
    assert sum(widths) == pytest.approx(WIDTH + GUTTER_MM)
    assert widths[0] >= text_width_mm("fluorescent", SMALL) + GUTTER_MM
    assert widths[2] >= text_width_mm("reflectance", SMALL, bold=True) + GUTTER_MM
    narrow = table_widths([[Cell("A"), Cell("B")], [Cell("1"), Cell("2")]], WIDTH)
    assert sum(narrow) == pytest.approx(WIDTH + GUTTER_MM)


def test_names_of_a_full_table_do_not_break_where_there_is_room():
    """As solids have them: heads of two words break before names do."""
    names = ("L* read", "a* read", "b* read", "L* said", "a* said", "b* said", "readings", "off", "h [°]")
    heads = [Cell("Full tone"), *(Cell(name, is_number=True) for name in names)]
    rows = [
        heads,
        [Cell("C+M+Y at 93.3 %", colour="#000000"), *(Cell("-55.10", is_number=True) for _ in names)],
    ]
    whole = text_width_mm("C+M+Y at 93.3 %", SMALL) + CHIP_ROOM_MM + GUTTER_MM
    assert table_widths(rows, 160.0)[0] >= whole
    assert table_widths(rows, 110.0)[0] < whole


def test_figures_stay_whole_beside_names_too_long_for_the_page():
    """Overprints of inks with long names: names break, after a plus where they can; figures do not."""
    name = "Bleu nuit+Rouge-1+Jaune d'or"
    rows = [
        [Cell("Full tone"), *(Cell("radius", is_number=True) for _ in range(11))],
        [Cell(name, colour="#000000"), *(Cell("-39.05", is_number=True) for _ in range(11))],
    ]
    widths = table_widths(rows, 170.0)
    assert sum(widths) == pytest.approx(170.0 + GUTTER_MM)
    assert min(widths[1:]) >= text_width_mm("-39.05", SMALL) + GUTTER_MM - 1e-9
    assert wrapped("nuit+Rouge-1+Jaune", 20.0, SMALL)[0].endswith("+")


@pytest.mark.parametrize("n_inks", [4, 10, 12])
def test_figures_of_many_inks_stay_whole(n_inks):
    """Patches to read again have an amount of each ink, a colour and two figures more."""
    names = [f"{letter} %" for letter in "CMYKORGBVPNL"[:n_inks]] + ["L*", "a*", "b*", "readings"]
    heads = [Cell("Patch"), *(Cell(name, is_number=True) for name in names)]
    rows = [heads, [Cell("250"), *(Cell("-79.7", is_number=True) for _ in names)]]
    gutter = table_gutter_mm(rows, 170.0)
    assert (gutter == GUTTER_MM) == (n_inks == 4)
    widths = table_widths(rows, 170.0, gutter)
    assert sum(widths) == pytest.approx(170.0 + gutter)
    assert min(widths[1:]) >= text_width_mm("-79.7", SMALL) + gutter - 1e-9
    (page,) = body_pages(table_html([cell.text for cell in heads], [[cell.text for cell in rows[1]]]))
    assert [item.payload for item in page if item.kind == "text"].count("-79.7") == len(names)


def test_letters_are_as_wide_as_they_are_drawn():
    """Against matplotlib's own extent of the drawn text."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8, 2), dpi=254)
    canvas = FigureCanvasAgg(figure)
    for text, bold in (("sha256:0123456789abcdef", False), ("Solids WAVE L* −4.2", True)):
        drawn = figure.text(0, 0, text, size=8, weight="bold" if bold else "normal", family="DejaVu Sans")
        width = drawn.get_window_extent(canvas.get_renderer()).width / 10
        assert text_width_mm(text, 8.0, bold=bold) == pytest.approx(width, rel=0.03)


def test_lines_fit_and_lose_nothing():
    text = "the quick brown fox " * 12 + "x" * 200
    lines = wrapped(text, 60.0, 9.0)
    assert all(text_width_mm(line, 9.0) <= 60.0 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_paper_reads_what_the_templates_write():
    html = (
        paragraph("Plain.")
        + paragraph("Quiet.", quiet=True)
        + subheading("Part")
        + points_html(["one < two"])
        + facts_html([("name", "value")])
        + table_html(["Ink", "L*"], [["C", "55"], ["M", "50"]], colours=["#0090d0", ""])
        + form_html(["Signed", "name"], ["Technician"])
    )
    blocks = read_blocks(html)
    kinds = ["text", "note", "subhead", "point", "facts", "table", "form"]
    assert [block.kind for block in blocks] == kinds
    assert blocks[3].text == "one < two"
    assert blocks[4].rows == [[Cell("name"), Cell("value")]]
    assert blocks[5].rows[1:] == [
        [Cell("C", colour="#0090d0"), Cell("55", is_number=True)],
        [Cell("M"), Cell("50", is_number=True)],
    ]
    assert blocks[6].rows == [[Cell("Signed"), Cell("name")], [Cell("Technician"), Cell("")]]


def test_a_drawing_stands_in_the_middle_and_with_its_words():
    narrow = svg_figure("one", "T", "d", (4.0, 3.0), lambda figure: figure.subplots())
    html = narrow + paragraph("What it shows.")
    boxes = section_boxes(BoxMaker(LEFT, WIDTH), read_blocks(html), {"one": narrow})
    (page,) = fill_pages(boxes, 16.0, 260.0)
    (drawn,) = [item for item in page if item.kind == "drawing"]
    assert drawn.x_mm + drawn.style["w"] / 2 == pytest.approx(LEFT + WIDTH / 2)
    assert drawn.style["w"] == pytest.approx(4.0 * 25.4)
    pages = fill_pages([box("a", 210), *boxes], 16.0, 260.0)
    assert len(pages) == 2
    assert [item.kind for item in pages[1]] == ["drawing", "text"]


def test_lines_to_sign_on_are_long_enough_for_a_hand():
    (page,) = body_pages(form_html(["Signed", "name", "date"], ["Technician", "Auditor"]))
    lines = [item for item in page if item.kind == "rule"]
    assert len(lines) == 4
    assert all(line.payload > 50.0 for line in lines)
    heights = sorted({line.y_mm for line in lines})
    assert np.diff(heights) > 2 * line_mm(SMALL)
