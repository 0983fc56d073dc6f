"""Contours: read from SVG, DXF and PDF, traced from coverage, refused with name and place."""

import math

import ezdxf
import numpy as np
import pymupdf
import pytest

from strikeoff.artwork.coverage import open_coverage
from strikeoff.base.errors import InputError, StorageError, UsageError
from strikeoff.layout.contours import Contour, check_contours, closed_contour, nesting_depth
from strikeoff.layout.contours_curves import arc_pieces, flat_bezier
from strikeoff.layout.contours_dxf import read_dxf_contours
from strikeoff.layout.contours_pdf import read_pdf_contours
from strikeoff.layout.contours_process import ask_process
from strikeoff.layout.contours_svg import read_svg_contours
from strikeoff.layout.contours_trace import trace_contours
from strikeoff.raster.bands import ArraySource

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="50mm" viewBox="0 0 200 100">'


def svg(tmp_path, body, head=HEAD):
    path = tmp_path / "a.svg"
    path.write_text(f"{head}{body}</svg>", encoding="utf-8")
    return path


def test_svg_units_transforms_and_names(tmp_path):
    body = '<g transform="translate(10,20) rotate(90)"><rect id="r" width="40" height="10"/></g>'
    body += '<path d="M100 50 h10 v10 z M150 50 h5 v5 z"/><text>not cut</text>'
    body += '<g style="display:none"><rect width="1" height="1"/></g>'
    found = read_svg_contours(svg(tmp_path, body), 0.05)
    assert found.size_mm == pytest.approx((100, 50), abs=1e-3)
    r, first, second = found.contours
    # A unit is half a millimetre; turned by 90 degrees about its corner, the box lies to the left of it.
    assert [*r.points.min(axis=0), *r.points.max(axis=0)] == pytest.approx([0, 10, 5, 30], abs=1e-3)
    assert (r.name, first.name, second.name) == ("r", "2/1", "2/2")


def test_svg_curves_stay_within_the_tolerance(tmp_path):
    body = '<circle cx="100" cy="50" r="40"/><path id="q" d="M0 0 Q 100 0 100 90 L 0 90 Z"/>'
    for tolerance in (0.2, 0.01):
        round_, curve = read_svg_contours(svg(tmp_path, body), tolerance).contours
        middles = (round_.points + np.roll(round_.points, -1, axis=0)) / 2
        away = np.hypot(*(middles - (50, 25)).T) - 20
        assert -tolerance - 1e-4 <= away.min() < -tolerance / 4
        t = np.linspace(0, 1, 2001)[:, None]
        true = (2 * t * (1 - t) * (100, 0) + t**2 * (100, 90)) / 2
        a, b = curve.points[:-1], curve.points[1:]
        u = np.clip(((true[:, None] - a) * (b - a)).sum(-1) / ((b - a) ** 2).sum(-1), 0, 1)
        far = np.hypot(*(true[:, None] - a - u[..., None] * (b - a)).transpose(2, 0, 1)).min(axis=1)
        assert far.max() <= tolerance + 1e-4


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ('<path id="p" d="M0 0 h10 v10"/>', r"contour p: contour is open \(found ends at 5, 5, 7.07 mm"),
        (
            '<path id="p" d="M0 0 L20 20 L20 0 L0 20 Z"/>',
            r"contour p: contour crosses itself \(found near 5, 5",
        ),
        ('<path id="p" d="M0 0 h10 v0 h-10 Z"/>', "contour p: contour crosses itself|encloses nothing"),
        ('<path id="p" d="M0 0 h1e9 v10 Z"/>', "contour p: contour has a point that cannot be"),
        ('<path id="p" d="M0 0 hnan v10 Z"/>', "cannot|open|nothing|no contour"),
        ('<polyline id="p" points="0,0 9,0 9,9"/>', "contour is open"),
        ('<use href="#a"/>', "drawn by reference"),
        ("", "there is no contour"),
        ('<path id="p" d="M0 0' + " L1 1 2 0" * 20_000 + ' Z"/>', r"contour p: .*comes back to"),
        ('<path id="p" d="M0 0' + " L1 1 2 0" * 190_000 + ' Z"/>', r"path p: contours are too long"),
        ("<g>" * 120 + "</g>" * 120, "too deep"),
        ('<rect width="1" height="1"/>' * 20_001, "too many shapes"),
        ('<rect id="r" width="9"/>', r"rect r: shape has no size \(found no height"),
        ("<circle/>", "circle: shape has no size"),
        ('<circle r="5 parsec"/>', "circle, r: length in SVG cannot be understood .found 5 parsec"),
        ('<rect width="3em" height="3"/>', "rect, width: length in SVG"),
    ],
)
def test_svg_refusals(tmp_path, body, said):
    path = svg(tmp_path, body)
    with pytest.raises(InputError, match=said):
        check_contours(read_svg_contours(path, 0.05).contours, path=path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"", "file is empty"),
        (b"hello", "not XML"),
        (b"<html/>", "not an SVG drawing"),
        (b"<svg><path", "not XML"),
        (b'<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "entities"),
        (HEAD.replace('"100mm"', '"-5mm"').encode() + b'<rect width="3" height="3"/></svg>', "size|cannot"),
        (
            HEAD.replace('"100mm"', '"400Q"').encode() + b"</svg>",
            "svg, width: length in SVG .* expected a number",
        ),
        (HEAD.replace('"100mm"', '"100 mm"').encode() + b"</svg>", "followed at once by mm"),
        (HEAD.encode() + b'<rect width="abc" height="3"/></svg>', "cannot be understood|no contour"),
    ],
)
def test_svg_damaged(tmp_path, text, said):
    path = tmp_path / "a.svg"
    path.write_bytes(text)
    with pytest.raises(InputError, match=said):
        check_contours(read_svg_contours(path, 0.05).contours)
    with pytest.raises(StorageError):
        read_svg_contours(tmp_path / "none.svg", 0.05)


def dxf(tmp_path, draw, units=4):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    draw(document.modelspace())
    path = tmp_path / "a.dxf"
    document.saveas(path)
    return path


def test_dxf_kinds_and_units(tmp_path):
    def draw(space):
        space.add_lwpolyline([(0, 0), (4, 0), (4, 2)], close=True, dxfattribs={"layer": "KNIFE"})
        space.add_circle((10, 20), 3)
        # A half circle by its bulge of 1.
        space.add_lwpolyline([(0, 0, 1), (6, 0, 0)], format="xyb", close=True)

    found = read_dxf_contours(dxf(tmp_path, draw, units=5), 0.05)
    line, disc, half = found.contours
    assert found.size_mm is None
    assert line.name == "KNIFE/1"
    assert line.points.tolist() == [[0, 0], [40, 0], [40, -20]]
    assert np.hypot(*(disc.points - (100, -200)).T) == pytest.approx(30, abs=1e-9)
    # Counter-clockwise in the drawing is below the chord, and below is positive here.
    assert half.points.max(axis=0) == pytest.approx([60, 30], abs=0.06)


@pytest.mark.parametrize(
    ("draw", "said"),
    [
        (lambda s: s.add_line((0, 0), (1, 1)), "loose lines"),
        (lambda s: s.add_lwpolyline([(0, 0), (9, 0), (9, 9)]), "contour 0/1: contour is open"),
        (lambda s: s.add_lwpolyline([(0, 0), (9, 0), (1e12, 9)], close=True), "cannot be"),
        (lambda s: s.add_text("hello"), "no contour"),
    ],
)
def test_dxf_refusals(tmp_path, draw, said):
    with pytest.raises(InputError, match=said):
        check_contours(read_dxf_contours(dxf(tmp_path, draw), 0.05).contours)


def test_dxf_damaged(tmp_path):
    for text, said in ((b"", "empty"), (b"hello", "cannot be read"), (b"\0\1\2" * 90, "cannot be read")):
        path = tmp_path / "b.dxf"
        path.write_bytes(text)
        with pytest.raises(InputError, match=said):
            read_dxf_contours(path, 0.05)
    with pytest.raises(InputError, match="units of the drawing"):
        read_dxf_contours(dxf(tmp_path, lambda s: s.add_circle((0, 0), 1), units=13), 0.05)


def test_pdf_layer(tmp_path):
    with pymupdf.open() as document:
        page = document.new_page(width=720, height=360)
        cut = document.add_ocg("Knife")
        page.draw_circle((360, 180), 72, oc=cut)
        page.draw_rect((10, 10, 40, 40))
        document.save(tmp_path / "a.pdf")
    found = read_pdf_contours(tmp_path / "a.pdf", 0.02, "Knife")
    (disc,) = found.contours
    assert found.size_mm == pytest.approx((254, 127))
    # Four cubic curves follow a circle within 0.03 % of its radius.
    assert np.hypot(*(disc.points - (127, 63.5)).T) == pytest.approx(25.4, abs=0.03)
    assert len(read_pdf_contours(tmp_path / "a.pdf", 0.02).contours) == 2
    with pytest.raises(InputError, match=r"None: layer holds no line .*Knife"):
        read_pdf_contours(tmp_path / "a.pdf", 0.02, "None")
    (tmp_path / "b.pdf").write_bytes(b"%PDF-1.7 nonsense")
    with pytest.raises(InputError, match="reading the PDF"):
        read_pdf_contours(tmp_path / "b.pdf", 0.02)


def test_a_process_that_hangs_or_dies_ends_nothing_here(tmp_path, monkeypatch):
    for code, said in (
        ("import time; time.sleep(60)", "took too long"),
        ("import os; os.abort()", "broke down"),
    ):
        package = tmp_path / said.split()[-1]
        package.mkdir()
        (package / "stubborn.py").write_text(code)
        monkeypatch.setenv("PYTHONPATH", str(package))
        with pytest.raises(InputError, match=said):
            ask_process("stubborn", {}, seconds=2, memory_bytes=1 << 30, what="work")


@pytest.mark.parametrize("pieces", [3, 4])
def test_bezier_ends_where_it_should(pieces):
    nodes = np.random.default_rng(1).normal(size=(pieces, 2)) * 50
    line = flat_bezier(nodes, 0.01)
    assert line[-1].tolist() == nodes[-1].tolist()
    assert 1 - math.cos(math.pi / arc_pieces(1000, 2 * math.pi, 0.05)) <= 0.05 / 1000


def test_depth_of_contours_in_contours():
    def ring(a, b):
        return Contour(str(a), np.array([[a, a], [b, a], [b, b], [a, b]], float))

    depth, parent = nesting_depth([ring(0, 100), ring(40, 50), ring(20, 80), ring(200, 210)])
    assert depth.tolist() == [0, 2, 1, 0]
    assert parent.tolist() == [-1, 2, 0, -1]
    with pytest.raises(InputError, match=r"contour x: contour has a point that cannot be .*point 2: nan"):
        closed_contour("x", [(0, 0), (math.nan, 1), (2, 2)])


def covered(shape, n=300, sub=8):
    """Coverage of pixels by a shape, with 64 samples in each."""
    y, x = (np.mgrid[0 : n * sub, 0 : n * sub] + 0.5) / sub
    share = shape(x, y).reshape(n, sub, n, sub).mean(axis=(1, 3))
    return ArraySource(np.round(share * 255).astype(np.uint8)[..., None])


def test_traces_lie_between_pixels():
    plane = covered(lambda x, y: np.abs(np.hypot(x - 151.3, y - 148.7) - 70) < 40)
    found, specks = trace_contours(plane, (30, 60), tolerance_mm=0.005)
    assert specks == 0
    assert found.size_mm == (30, 60)
    radii = [np.hypot(*((c.points / (0.1, 0.2)) - (151.3, 148.7)).T) for c in found.contours]
    for line, radius in zip(sorted(radii, key=np.mean), (30, 110), strict=True):
        assert np.abs(line - radius).max() < 0.2


def test_traces_keep_corners_and_leave_specks_out():
    plane = np.zeros((100, 200, 1), np.uint16)
    plane[20:60, 30:120] = 65535
    plane[80, 80] = 65535
    found, specks = trace_contours(ArraySource(plane), (200, 100), least_mm2=2)
    assert specks == 1
    assert sorted(map(tuple, found.contours[0].points)) == [(30, 20), (30, 60), (120, 20), (120, 60)]
    whole, _ = trace_contours(ArraySource(np.full((9, 9, 1), 255, np.uint8)), (9, 9), tolerance_mm=0.001)
    assert np.ptp(whole.contours[0].points, axis=0) == pytest.approx([9, 9], abs=1e-6)
    with pytest.raises(InputError, match="nothing is covered"):
        trace_contours(ArraySource(np.zeros((9, 9, 1), np.uint8)), (9, 9))
    with pytest.raises(UsageError, match="threshold"):
        trace_contours(ArraySource(plane), (9, 9), threshold=1.0)


def test_large_pictures_are_averaged_first(monkeypatch):
    from strikeoff.layout import contours_trace

    plane = covered(lambda x, y: np.hypot(x - 151.3, y - 148.7) < 100, n=301)
    monkeypatch.setattr(contours_trace, "_MOST_PIXELS", 30_000)
    monkeypatch.setattr(contours_trace, "_BAND_BYTES", 301 * 8 * 4 * 3)
    found, _ = trace_contours(plane, (30.1, 30.1), tolerance_mm=0.01)
    assert np.hypot(*(found.contours[0].points - (15.13, 14.87)).T) == pytest.approx(10, abs=0.08)
    with pytest.raises(InputError, match="too many pixels"):
        trace_contours(plane, (300, 300))


def test_coverage_of_pictures(tmp_path):
    from PIL import Image

    pixels = np.full((20, 30, 4), 255, np.uint8)
    pixels[5:10, 8:20] = (200, 0, 0, 128)
    Image.fromarray(pixels).save(tmp_path / "a.png", dpi=(100, 100))
    alpha, dpi = open_coverage(tmp_path / "a.png")
    assert alpha.read(0, 20)[..., 0].tolist() == pixels[..., 3].tolist()
    assert dpi == pytest.approx((100, 100), abs=0.01)
    Image.fromarray(pixels[..., :3]).save(tmp_path / "b.png")
    ink, dpi = open_coverage(tmp_path / "b.png", "ink")
    assert ink.read(0, 20)[..., 0].tolist() == (255 - pixels[..., :3].min(axis=2)).tolist()
    assert dpi is None
    with pytest.raises(InputError, match="artwork has no alpha"):
        open_coverage(tmp_path / "b.png")


def test_dxf_arcs_are_exact(tmp_path):
    def draw(space):
        space.add_circle((0, 0), 900)
        space.add_lwpolyline(
            [(3000, 0, 0.4142135623730951), (2000, 1000, 0), (2000, 0, 0)], "xyb", close=True
        )
        space.add_lwpolyline([(5000, 0, -1), (6000, 0, 0)], "xyb", close=True)
        space.add_ellipse((9000, 0), (300, 0), 0.5)

    disc, quarter, below, oval = read_dxf_contours(dxf(tmp_path, draw), 0.05).contours
    assert np.hypot(*disc.points.T) == pytest.approx(900, abs=1e-6)
    # A bulge of tan(90 / 4) is a quarter of a circle of 1,000 mm about 2,000, 0.
    on_arc = quarter.points[(quarter.points != (2000, 0)).any(axis=1)]
    assert len(on_arc) > 20
    assert np.hypot(*(on_arc - (2000, 0)).T) == pytest.approx(1000, abs=1e-6)
    # A negative bulge turns clockwise: from left to right above the chord.
    assert below.points[:, 1].min() == pytest.approx(-500, abs=0.06)
    assert np.hypot((oval.points[:, 0] - 9000) / 300, oval.points[:, 1] / 150) == pytest.approx(1, abs=1e-6)
