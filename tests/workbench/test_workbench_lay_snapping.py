"""Snapping of the pieces of a roll, by hand."""

import pytest

from strikeoff.layout.lying import lying_piece
from strikeoff.layout.placement import Layout, Placement
from strikeoff.workbench.lay_snapping import piece_snapping_line, piece_snapping_mm

# 100 x 300 mm at -3 % across, -5 % along, 100 x 120 dpi. As it stands: 100 / 0.97 = 103.0928 mm = 405.877 px,
# so 406; 300 / 0.95 = 315.7895 mm = 1491.919 px, so 1492. Turned: 300 / 0.97 = 309.2784 mm = 1217.631 px, so
# 1218; 100 / 0.95 = 105.2632 mm = 497.306 px, so 497.
UPRIGHT = [406 * 0.254 * 0.97 - 100, 1492 * 25.4 / 120 * 0.95 - 300]
TURNED = [1218 * 0.254 * 0.97 - 300, 497 * 25.4 / 120 * 0.95 - 100]


def found(*pieces):
    roll = Layout(1000.0, 10.0, -5.0, -3.0, pieces)
    return piece_snapping_mm(roll, [lying_piece(roll, piece, 100, 120) for piece in pieces], (100, 120))


def test_each_way_of_lying_has_its_own_error():
    upright = Placement("A", 0.0, 0.0, 100.0, 300.0)
    turned = Placement("B", 0.0, 400.0, 300.0, 100.0, turn_degrees=90)
    assert found(upright) == pytest.approx(UPRIGHT, abs=1e-6)
    assert found(turned) == pytest.approx(TURNED, abs=1e-6)
    assert found(upright, turned) == pytest.approx([TURNED[0], TURNED[1]], abs=1e-6)
    assert found() == [0.0, 0.0]


def test_half_a_pixel_is_the_most():
    for width in (57.3, 111.1, 99.99, 12.0):
        across, along = found(Placement("A", 0.0, 0.0, width, 2 * width))
        assert abs(across) <= 0.5 * 0.254 * 0.97
        assert abs(along) <= 0.5 * 25.4 / 120 * 0.95


def test_it_is_told_apart_from_spread():
    assert "+0.0323 x -0.0656 mm at most; shrink spread is apart" in piece_snapping_line([0.03232, -0.06559])
