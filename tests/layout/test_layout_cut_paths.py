"""Cut paths: they land on the finished cloth in every format, in a sensible order; faults name their place.

The tolerance of 0.05 mm on finished goods is that of the trade's cutters (common practice, no source).
"""

import itertools
import json
import re
import xml.etree.ElementTree as ET

import ezdxf
import numpy as np
import pymupdf
import pytest
from shapely import LinearRing, Polygon

from strikeoff.base.errors import InputError, RangeError, UsageError
from strikeoff.layout.contours import Contour, ContourSet
from strikeoff.layout.cut_files import write_cuts
from strikeoff.layout.cut_paths import plan_cuts
from strikeoff.layout.piece_contours import contours_on_piece, moved_contours, trim_contours
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.placement_file import write_layout
from strikeoff.report.cautions import DEFERS
from strikeoff.workbench import cut_roll

WARP, WEFT = -5.0, -3.0
ROUND = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="500mm" viewBox="0 0 400 500">
<circle id="disc" cx="150" cy="200" r="100"/><circle id="hole" cx="150" cy="200" r="20"/>
<path id="flag" d="M300,50 L380,90 L300,130 Z"/></svg>"""


def square(x, y, side, name="s"):
    return Contour(name, np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]], float))


def finished(printed):
    """Where cloth comes to lie that shrinks 3 % across and 5 % along; written out here on purpose."""
    return np.asarray(printed, float) * (0.97, 0.95)


def read_svg(path):
    text = path.read_text()
    numbers = [re.findall(r"[-\d.]+", d) for d in re.findall(r' d="M([^"]*)Z"', text)]
    return [np.array(n, float).reshape(-1, 2) for n in numbers]


def read_dxf(path):
    document = ezdxf.readfile(path)
    assert document.header["$INSUNITS"] == 4
    lines = list(document.modelspace())
    assert all(line.closed for line in lines)
    high = document.header["$EXTMAX"][1]
    return [np.array([(x, high - y) for x, y in line.get_points("xy")]) for line in lines]


def read_pdf(path):
    with pymupdf.open(path) as document:
        page = document[0]
        unit = 25.4 / 72 * float(document.xref_get_key(page.xref, "UserUnit")[1].replace("null", "1"))
        high = page.mediabox.height
        raw = document.xref_stream(page.get_contents()[0]).decode()
        # Paths as the page holds them, and that the interpreter draws as many.
        paths = re.findall(r"^([-\d.]+ [-\d.]+ m .* s)$", raw, re.MULTILINE)
        assert len(page.get_drawings()) == len(paths)
    lines = [np.array(re.findall(r"([-\d.]+) ([-\d.]+) [ml]", p), float) for p in paths]
    return [(line * (1, -1) + (0, high)) * unit for line in lines]


READERS = {"svg": read_svg, "dxf": read_dxf, "pdf": read_pdf}


@pytest.mark.parametrize("kind", READERS)
def test_a_circle_comes_out_round_on_the_finished_cloth(kind, tmp_path):
    (tmp_path / "in.svg").write_text(ROUND)
    out = tmp_path / f"out.{kind}"
    done = cut_roll(out, contour=tmp_path / "in.svg", warp=WARP, weft=WEFT)
    lines = READERS[kind](out)
    assert len(lines) == done.results["cuts"] == 3
    centre = np.array([150, 200])
    # The printed line is an ellipse: 5 % and 3 % wider than the circle.
    disc = next(line for line in lines if np.ptp(line[:, 0]) > 150)
    assert np.ptp(disc, axis=0) == pytest.approx([200 / 0.97, 200 / 0.95], abs=0.1)
    for line, radius in ((disc, 100), (next(x for x in lines if np.ptp(x[:, 0]) < 60), 20)):
        on_goods = finished(line)
        middles = (on_goods + np.roll(on_goods, -1, axis=0)) / 2
        for points in (on_goods, middles):
            assert np.abs(np.hypot(*(points - centre).T) - radius).max() < 0.05
    flag = finished(next(line for line in lines if len(line) == 3))
    corners = np.array([[300, 50], [380, 90], [300, 130]])
    assert np.abs(flag[np.lexsort(flag.T)] - corners[np.lexsort(corners.T)]).max() < 0.05


def test_a_pdf_holds_the_processing_step_and_looks_right(tmp_path):
    # ISO 19593-1: names of the keys as public conformance patches carry them.
    (tmp_path / "in.svg").write_text(ROUND)
    out = tmp_path / "out.pdf"
    cut_roll(out, contour=tmp_path / "in.svg", warp=WARP, weft=WEFT)
    with pymupdf.open(out) as document:
        (xref,) = document.get_ocgs()
        assert document.xref_get_key(xref, "GTS_Metadata/GTS_ProcStepsGroup") == ("name", "/Structural")
        assert document.xref_get_key(xref, "GTS_Metadata/GTS_ProcStepsType") == ("name", "/Cutting")
        page = document[0]
        assert page.rect.width * 25.4 / 72 == pytest.approx(400 / 0.97, abs=0.01)
        assert page.rect.height * 25.4 / 72 == pytest.approx(500 / 0.95, abs=0.01)
        assert {drawing["layer"] for drawing in page.get_drawings()} == {"Cutting"}
        assert "/Separation /CutContour" in document.xref_object(page.xref)
        picture = page.get_pixmap(matrix=pymupdf.Matrix(25.4 / 72, 25.4 / 72), colorspace=pymupdf.csGRAY)
        grey = np.frombuffer(picture.samples, np.uint8).reshape(picture.height, picture.width)
    # One pixel a printed millimetre: dark on the ellipse, white in the middle and mirrored in no way.
    assert grey[round(200 / 0.95) - 2 : round(200 / 0.95) + 2, round(250 / 0.97) - 2 :][:, :4].min() < 230
    assert grey[round(90 / 0.95) - 2 : round(90 / 0.95) + 2, round(380 / 0.97) - 3 :][:, :4].min() < 240
    assert grey[350:, :].min() == 255


def test_a_long_roll_counts_in_larger_units(tmp_path):
    plan = plan_cuts([square(10, 99_000, 500)], 0, 0, box_mm=(0, 0, 1600, 100_000))
    write_cuts(tmp_path / "a.pdf", plan, "long")
    (line,) = read_pdf(tmp_path / "a.pdf")
    assert np.abs(np.sort(line, axis=0)[[0, -1]] - [[10, 99_000], [510, 99_500]]).max() < 0.01
    with pymupdf.open(tmp_path / "a.pdf") as document:
        assert max(document[0].mediabox[2:]) <= 14_400


def test_equal_cuts_are_equal_files(tmp_path):
    plan = plan_cuts([square(0, 0, 10)], -2, -1)
    for kind in READERS:
        for name in "ab":
            write_cuts(tmp_path / f"{name}.{kind}", plan, "t")
        assert (tmp_path / f"a.{kind}").read_bytes() == (tmp_path / f"b.{kind}").read_bytes()


def test_cautions_stand_where_nothing_is_cut(tmp_path):
    """Read with parsers of others: a description, a property, a subject; one square is cut."""
    plan = plan_cuts([square(0, 0, 10)], -2, -1)
    for kind in READERS:
        write_cuts(tmp_path / f"a.{kind}", plan, "t")
    root = ET.parse(tmp_path / "a.svg").getroot()
    assert [child.tag.split("}")[1] for child in root] == ["title", "desc", "g"]
    with pymupdf.open(tmp_path / "a.pdf") as document:
        assert document[0].get_text() == ""
        told = [root[1].text, document.metadata["subject"]]
    drawing = ezdxf.readfile(tmp_path / "a.dxf")
    told.append(drawing.header.custom_vars.get("caution"))
    assert len(drawing.modelspace()) == 1
    for text in told:
        assert text.startswith("Knives and lasers")
        assert text.endswith(DEFERS)


def test_trims_of_a_layout(tmp_path):
    pieces = (
        Placement("A", 0, 0, 300, 200, bleed_mm=5),
        Placement("B", 300, 0, 100, 200, bleed_mm=3),
    )
    write_layout(tmp_path / "l.json", Layout(500, 10, -4, -2, pieces))
    done = cut_roll(tmp_path / "c.dxf", layout=tmp_path / "l.json")
    a, b = READERS["dxf"](tmp_path / "c.dxf")
    assert a.min(axis=0) == pytest.approx([5 / 0.98, 5 / 0.96], abs=1e-4)
    assert a.max(axis=0) == pytest.approx([295 / 0.98, 195 / 0.96], abs=1e-4)
    assert b.max(axis=0) == pytest.approx([397 / 0.98, 197 / 0.96], abs=1e-4)
    assert done.results["box_mm"] == pytest.approx([0, 0, 480, 200 / 0.96])
    only = cut_roll(tmp_path / "c.svg", layout=tmp_path / "l.json", pieces=("B",))
    assert only.results["cuts"] == 1


@pytest.mark.parametrize(("turn", "mirror"), list(itertools.product((0, 90, 180, 270), (False, True))))
def test_contours_lie_as_the_composer_lays_artwork(turn, mirror):
    """A mark at 10, 20 of an upright piece of 100 x 60 against a picture turned by numpy."""
    picture = np.zeros((60, 100), bool)
    picture[20:24, 10:16] = True
    shown = np.rot90(picture[:, ::-1] if mirror else picture, -turn // 90)
    wide, high = shown.shape[::-1]
    piece = Placement("P", 7, 9, wide, high, turn_degrees=turn, mirror=mirror)
    mark = Contour("m", np.array([[10, 20], [16, 20], [16, 24], [10, 24]], float))
    (line,) = contours_on_piece(ContourSet((mark,), (100, 60)), piece)
    rows, columns = np.nonzero(shown)
    assert line.points.min(axis=0) == pytest.approx([columns.min() + 7, rows.min() + 9])
    assert line.points.max(axis=0) == pytest.approx([columns.max() + 8, rows.max() + 10])


def test_crop_and_trim_pages():
    mark = ContourSet((square(10, 10, 50),), None)
    piece = Placement("P", 0, 0, 40, 40, crop_mm=(30, 30, 40, 40))
    moved = ContourSet((square(10, 10, 50),), (200, 200))
    (line,) = contours_on_piece(moved, piece)
    assert Polygon(line.points).bounds == (0, 0, 30, 30)
    # Without a page the origin stands on the lower edge of the piece, y as the reader turned it.
    up = ContourSet((Contour("u", mark.contours[0].points * (1, -1)),), None)
    (line,) = contours_on_piece(up, Placement("P", 0, 0, 100, 100))
    assert Polygon(line.points).bounds == (10, 40, 60, 90)
    (line,) = contours_on_piece(
        ContourSet((square(0, 0, 50),), (90, 90)), Placement("P", 0, 0, 100, 100, bleed_mm=5)
    )
    assert Polygon(line.points).bounds == (5, 5, 55, 55)
    with pytest.raises(InputError, match="not as large as the piece"):
        contours_on_piece(ContourSet((square(0, 0, 50),), (90, 90)), Placement("P", 0, 0, 100, 100))


def test_inner_cuts_come_first_and_keep_the_piece_to_the_right():
    outer, hole, island = square(0, 0, 100, "o"), square(20, 20, 60, "h"), square(40, 40, 10, "i")
    apart = square(300, 0, 10, "far")
    plan = plan_cuts([outer, apart, hole, island], 0, 0)
    names = [path.name for path in plan.paths]
    assert names.index("i") < names.index("h") < names.index("o")
    assert [path.is_inner for path in plan.paths] == [name == "h" for name in names]
    for path in plan.paths:
        # Seen with y downwards, a ring that is counter-clockwise to a library with y up is clockwise.
        assert LinearRing(path.points).is_ccw != path.is_inner


def test_the_nearest_comes_next():
    marks = [square(x, 0, 10, str(x)) for x in (400, 100, 0, 300, 200)]
    plan = plan_cuts(marks, 0, 0)
    assert [path.name for path in plan.paths] == ["0", "100", "200", "300", "400"]
    shuffled = np.random.default_rng(3).permutation(400)
    grid = [square(30 * (k % 20), 30 * (k // 20), 20, str(k)) for k in shuffled]
    plan = plan_cuts(grid, 0, 0)
    as_given = np.array([c.points[0] for c in grid])
    assert plan.travel_m < 0.2 * np.hypot(*np.diff(as_given, axis=0).T).sum() / 1000


def test_corners_are_kept_and_the_knife_goes_in_at_one():
    angle = np.linspace(0, np.pi, 60)
    arch = np.vstack([[0, 0], [100, 0], np.c_[50 + 50 * np.cos(angle), 80 + 50 * np.sin(angle)]])
    (path,) = plan_cuts([Contour("arch", arch)], 0, 0).paths
    assert set(map(tuple, path.points)) == set(map(tuple, arch))
    assert tuple(path.points[0]) == (0, 0)


def test_offset_is_finished_and_keeps_corners():
    ring = (square(0, 0, 100, "o"), square(40, 40, 20, "h"))
    grown = {tuple(np.ptp(c.points, axis=0).round(6)) for c in moved_contours(ring, 3)}
    assert grown == {(106, 106), (14, 14)}
    (path,) = plan_cuts(moved_contours(ring[:1], -2), -10, 20).paths
    assert np.ptp(path.points, axis=0) == pytest.approx([96 / 1.2, 96 / 0.9])
    with pytest.raises(InputError, match="contour o: offset leaves nothing"):
        moved_contours(ring[:1], -60)
    with pytest.raises(InputError, match="cross"):
        moved_contours((square(0, 0, 10, "a"), square(12, 0, 10, "b")), 2)


def test_neighbours_may_share_an_edge_but_nothing_more():
    plan_cuts([square(0, 0, 10, "a"), square(10, 5, 10, "b")], 0, 0)
    with pytest.raises(InputError, match=r"contours a and b: two contours cross \(found near .*, .* mm"):
        plan_cuts([square(0, 0, 10, "a"), square(9, 5, 10, "b")], 0, 0)
    with pytest.raises(InputError, match="contours a and b: two contours lie on each other"):
        plan_cuts([square(0, 0, 10, "a"), square(0, 0, 10, "b")], 0, 0)


def test_refusals(tmp_path):
    (tmp_path / "in.svg").write_text(ROUND)
    with pytest.raises(RangeError):
        cut_roll(tmp_path / "o.svg", contour=tmp_path / "in.svg", warp=-60, weft=0)
    for options, said in (
        ({}, "cuts come from one place"),
        ({"contour": tmp_path / "in.svg"}, "dimensional change is missing"),
        ({"contour": "a", "alpha": "b", "warp": 0, "weft": 0}, "cuts come from one place"),
        ({"contour": "a.svg", "warp": 0, "weft": 0, "size": (1, 1)}, "only a picture"),
        ({"contour": "a.svg", "warp": 0, "weft": 0, "contour_layer": "x"}, "only a PDF has layers"),
        ({"contour": "a.ai", "warp": 0, "weft": 0}, "unknown kind of contour"),
        ({"contour": "a.svg", "warp": 0, "weft": 0, "tolerance": 0}, "tolerance cannot be"),
    ):
        with pytest.raises(UsageError, match=said):
            cut_roll(tmp_path / "o.svg", **options)
    with pytest.raises(UsageError, match="unknown kind of cut file"):
        cut_roll(tmp_path / "o.plt", contour=tmp_path / "in.svg", warp=0, weft=0)
    with pytest.raises(InputError, match="cut lies beyond the cuttable cloth"):
        plan_cuts([square(0, 0, 100)], 0, 0, box_mm=(0, 0, 99, 200))
    layout = Layout(500, 10, 0, 0, (Placement("A", 0, 0, 8, 8, bleed_mm=5),))
    with pytest.raises(InputError, match="A: bleed leaves nothing"):
        trim_contours(layout)
    assert not (tmp_path / "o.svg").exists()


def test_own_alpha_of_pieces(tmp_path):
    from PIL import Image

    pixels = np.zeros((60, 100, 4), np.uint8)
    pixels[10:30, 20:90, 3] = 255
    Image.fromarray(pixels).save(tmp_path / "art.png")
    art = str(tmp_path / "art.png")
    pieces = (Placement("A", 0, 0, 200, 120, art), Placement("B", 210, 0, 120, 200, art, turn_degrees=90))
    write_layout(tmp_path / "l.json", Layout(500, 10, 0, 0, pieces))
    cut_roll(tmp_path / "c.svg", layout=tmp_path / "l.json", own_alpha=True)
    a, b = READERS["svg"](tmp_path / "c.svg")
    assert (a.min(axis=0).tolist(), a.max(axis=0).tolist()) == ([40, 20], [180, 60])
    # Turned clockwise, its top is to the right: from 60 and 20 mm below the top to 60 and 100 from the left.
    assert (b.min(axis=0).tolist(), b.max(axis=0).tolist()) == ([270, 40], [310, 180])
    assert json.loads((tmp_path / "l.json").read_text())["placements"][0]["artwork"] == art
