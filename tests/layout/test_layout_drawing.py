"""Roll drawing: well-formed, to scale, nothing from outside, labels right."""

import itertools
import re
import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest
from drawn_words import faults

from strikeoff.layout import svg
from strikeoff.layout.drawing import roll_drawing_svg
from strikeoff.layout.repeat import snap_repeat
from strikeoff.layout.roll import plan_roll
from strikeoff.raster.lattice import Lattice

SVG = "{http://www.w3.org/2000/svg}"


def drawing(kind="half-drop", width=1400, length=3000, size=(640, 500), title="Fern <3>"):
    repeat = snap_repeat(
        *size, warp_percent=-5.5, weft_percent=-3, dpi_x=600, dpi_y=600, kind=kind
    )  # fmt: skip
    plan = plan_roll(repeat, width_mm=width, length_mm=length)
    return plan, ET.fromstring(roll_drawing_svg(plan, title=title))


def boxes(root, kind):
    found = [r for r in root.iter(SVG + "rect") if r.get("class") == kind]
    return [tuple(float(r.get(k)) for k in ("x", "y", "width", "height")) for r in found]


def test_to_scale():
    plan, root = drawing()
    (cloth,) = boxes(root, "cloth")
    (first,) = boxes(root, "first")
    per_mm = cloth[2] / 1400
    assert cloth[3] == pytest.approx(3000 * per_mm, abs=0.3)
    assert first[2] == pytest.approx(640 / 0.97 * per_mm, abs=0.3)
    assert first[3] == pytest.approx(500 / 0.945 * per_mm, abs=0.3)
    assert first[0] - cloth[0] == pytest.approx(plan.across_mm(plan.column_px) * per_mm, abs=0.2)


@pytest.mark.parametrize("kind", ["straight", "half-drop", "brick"])
def test_neighbours_stand_on_the_lattice(kind):
    _, root = drawing(kind, size=(200, 150))
    (x, y, w, h), cells = boxes(root, "first")[0], boxes(root, "whole") + boxes(root, "repeat")
    right = {"straight": (w, 0), "half-drop": (w, h / 2), "brick": (w, 0)}[kind]
    below = {"straight": (0, h), "half-drop": (0, h), "brick": (w / 2, h)}[kind]
    for dx, dy in (right, below):
        assert any(abs(c[0] - x - dx) < 0.3 and abs(c[1] - y - dy) < 0.3 for c in cells)
    # Cells that the cloth's edge cuts off start elsewhere.
    uncut = [c for c in cells if abs(c[3] - h) < 0.3]
    assert any(abs(c[0] - x - w) < 0.3 and abs(c[1] - y) < 0.3 for c in uncut) == (kind != "half-drop")


def test_leaves_of_turned_bricks_stand_as_they_are_composed():
    """Rows 2 and 3 of a half brick stand one cell further right than counted on a plain grid."""
    kind = Lattice("brick", Fraction(1, 2), turned=True)
    plan, root = drawing(kind, size=(200, 150))
    (cloth,) = boxes(root, "cloth")
    per_mm = cloth[2] / 1400
    seen = 0
    for path in root.iter(SVG + "path"):
        if path.get("class") == "motif":
            x, _, _, up = map(float, re.findall(r"-?[0-9.]+", path.get("d"))[:4])
            y = float(re.findall(r"-?[0-9.]+", path.get("d"))[1]) + up
            along = (y - cloth[1]) / per_mm - plan.along_mm(plan.leader_px)
            across = (x - cloth[0]) / per_mm - plan.across_mm(plan.column_px)
            row = round(along / plan.repeat.printed_height_mm - 0.5)
            column = round(across / plan.repeat.printed_width_mm - 0.5 - row / 2)
            assert (up < 0) == ((column + row) % 2 == 1)
            seen += 1
    assert seen > 50


def test_labels():
    plan, root = drawing()
    text = " ".join("".join(t.itertext()) for t in root.iter(SVG + "text"))
    assert "Fern <3>" in text
    assert "FEED" in text
    assert "640 × 500" in text
    assert f"{plan.repeat.printed_width_mm:.2f} × {plan.repeat.printed_height_mm:.2f} mm printed" in text
    assert "2 across × 5 along" in text


def test_long_roll_is_cut_and_stays_small():
    _, root = drawing(length=50_000, size=(200, 150))
    (cloth,) = boxes(root, "cloth")
    assert cloth[3] < 1100
    assert any(p.get("class") == "cut" for p in root.iter(SVG + "path"))
    assert len(boxes(root, "whole")) < 400
    assert "50.00 m cloth" in "".join(root.itertext())


def test_both_ends_of_a_long_roll_are_drawn_up_to_the_cut():
    """Beside the cut stand parts of repeats; the last whole ones end where they should."""
    plan, root = drawing("straight", length=50_000)
    (cloth,) = boxes(root, "cloth")
    per_mm = cloth[2] / 1400
    lows = sorted({round(b[1] + b[3], 1) for b in boxes(root, "whole")})
    end = cloth[1] + cloth[3] - (plan.along_mm(plan.tail_px) + plan.leftover_along_mm[0]) * per_mm
    assert lows[-1] == pytest.approx(end, abs=0.3)
    rows = sorted({(round(b[1], 1), round(b[1] + b[3], 1)) for b in boxes(root, "whole")})
    # From the first row to the cut and from there to the last, nothing is left bare.
    assert all(after[0] - before[1] < 0.3 for before, after in itertools.pairwise(rows))


def test_very_many_repeats_stay_a_small_file():
    _, root = drawing(width=3200, length=200_000, size=(20, 20))
    assert len(ET.tostring(root)) < 2_000_000
    assert len(boxes(root, "whole")) < 8000


@pytest.mark.parametrize("size", [(20, 30), (213, 160), (640, 500), (1370, 2400)], ids=str)
@pytest.mark.parametrize("length", [3000, 4500, 50_000])
def test_words_stay_apart_and_on_the_page(size, length):
    repeat = snap_repeat(*size, warp_percent=-5.5, weft_percent=-3, dpi_x=300, dpi_y=300, kind="brick")
    plan = plan_roll(repeat, width_mm=1450, length_mm=length, nozzle_inks=8)
    for title in ("Fern", "Fern in autumn, seven colours, second edition for the customer's new shops"):
        assert faults(roll_drawing_svg(plan, title=title)) == ([], [])


def test_a_very_wide_drawing_fits_a_page_of_pdf(tmp_path):
    """At most 14,400 points a side (ISO 32000-1:2008, annex C); all is shown smaller, at the same place."""
    pymupdf = pytest.importorskip("pymupdf")
    wide = svg.page(42_000, 9000, "wide", [svg.rectangle(21_000, 3000, 20_000, 5000, svg.PIECE)])
    svg.write_drawing(tmp_path / "a.pdf", wide)
    with pymupdf.open(tmp_path / "a.pdf") as document:
        page = document[0].rect
        box = document[0].get_drawings()[-1]["rect"]
    assert page.width <= 14_400
    assert page.width / page.height == pytest.approx(42 / 9, rel=1e-3)
    assert box.x0 / page.width == pytest.approx(0.5, abs=1e-3)
    assert box.y1 / page.height == pytest.approx(8 / 9, abs=1e-3)


def test_nothing_from_outside():
    plan, _ = drawing()
    text = roll_drawing_svg(plan)
    assert "href" not in text
    assert "<script" not in text
