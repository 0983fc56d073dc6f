"""Areas in drawings of a roll: measured from the drawing's own shapes."""

from __future__ import annotations

import re
from fractions import Fraction

import numpy as np
import pytest

from strikeoff.layout.fill import RepeatFill
from strikeoff.layout.marks_drawing import marks_svg
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.shortened import shortened
from strikeoff.raster.lattice import Lattice

#: Millimetres of unfinished cloth on the page, by the cloth's own outline of 1160 units.
WIDTH_MM, PER_MM = 1000.0, 1160 / 1000


def rectangles(svg: str, kind: str) -> np.ndarray:
    """Left, top, width and height of shapes of a class, in printed mm from the corner of the cloth."""
    pattern = rf'class="{kind}" x="([\d.-]+)" y="([\d.-]+)" width="([\d.-]+)" height="([\d.-]+)"'
    found = np.array([[float(v) for v in line] for line in re.findall(pattern, svg)])
    found[:, :2] -= (170, 190)
    return found / PER_MM


def drawn(*pieces: Placement, change=(0.0, 0.0)) -> str:
    return marks_svg(Layout(WIDTH_MM, 10, *change, pieces), (), "roll", 0, 0)


def test_cells_of_a_drop_stand_where_the_trade_puts_them():
    fill = RepeatFill((200, 90), Lattice("drop", Fraction(1, 3)), (0, 30))
    svg = drawn(Placement("A", 0, 0, 600, 270, repeat=fill), change=(-10, -20))
    cells = rectangles(svg, "repeat")
    # Printed: 250 mm across, 100 along; columns begin at 33.3, 66.7 and 100 mm, and one period before.
    whole = sorted(tuple(np.round(c, 1)) for c in cells if abs(c[3] - 100) < 0.1)
    tops = [(10.0, 33.3), (10.0, 133.3), (260.0, 66.7), (260.0, 166.7)]
    tops += [(510.0, 0.0), (510.0, 100.0), (510.0, 200.0)]
    assert np.array(whole) == pytest.approx(np.array([(x, y, 250.0, 100.0) for x, y in tops]), abs=0.11)
    assert cells[:, 1].min() >= -0.01
    assert (cells[:, 1] + cells[:, 3]).max() == pytest.approx(300, abs=0.1)
    assert svg.count('class="flag"') == len(whole)


@pytest.mark.parametrize(
    ("lattice", "place", "turn", "way"),
    [
        (Lattice(), 1, 0, (1, -1)),
        (Lattice(mirror="across"), 1, 0, (-1, -1)),
        (Lattice(turned=True), 1, 0, (-1, 1)),
        (Lattice(), 1, 180, (-1, 1)),
    ],
)
def test_flags_show_how_a_repeat_stands(lattice, place, turn, way):
    """The far end of the cloth of a flag: right of the pole and near its top."""
    area = Placement("A", 0, 0, 400, 200, turn_degrees=turn, repeat=RepeatFill((200, 200), lattice))
    flags = re.findall(r'class="flag" d="M([^"]+) z"', drawn(area))
    points = np.array([[float(v) for v in p.split(",")] for p in flags[place].split(" L")])
    middle = (170 + (10 + 300) * PER_MM, 190 + 100 * PER_MM)
    assert np.sign(points[2] - middle).tolist() == list(way)


def test_what_comes_after_a_long_cloth_is_drawn_too():
    cloth = Placement("cloth", 0, 0, 980, 20_000, repeat=RepeatFill((320, 240)))
    svg = drawn(cloth, Placement("panel", 0, 20_010, 500, 300))
    (area,) = rectangles(svg, "area")
    (panel,) = rectangles(svg, "piece")
    # Half a width of cloth is kept at each end.
    assert area == pytest.approx([10, 0, 980, 1000], abs=0.1)
    assert panel == pytest.approx([10, 1010, 500, 300], abs=0.1)
    assert svg.count('class="cut"') == 1
    assert "19.00 m finished go on, 19.00 m to print" in svg
    assert "1 piece, 1 area of a repeat; 20.31 m finished, 20.31 m to print" in svg
    assert "straight" in svg
    assert "320 × 240 mm finished, 20.00 m" in svg


def test_nothing_is_left_out_beside_pieces_or_of_them():
    cloth = Placement("cloth", 500, 0, 480, 20_000, repeat=RepeatFill((320, 240)))
    banner = Placement("banner", 0, 0, 400, 20_000)
    assert shortened(Layout(WIDTH_MM, 10, 0, 0, (cloth, banner))).left_out_mm == ()
    assert shortened(Layout(WIDTH_MM, 10, 0, 0, (banner,))).left_out_mm == ()
    # A piece that is cut off by the page is drawn as far as it is seen.
    svg = drawn(banner)
    assert rectangles(svg, "piece")[0][3] == pytest.approx(2400 / PER_MM, abs=0.1)
    assert "… and 17.93 m more" in svg


def test_too_many_repeats_are_not_drawn():
    svg = drawn(Placement("A", 0, 0, 900, 500, repeat=RepeatFill((5, 5))))
    assert svg.count('class="repeat"') == 0
    assert svg.count('class="area"') == 1
