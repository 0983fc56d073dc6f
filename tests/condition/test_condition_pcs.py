"""Connection space: media-relative formula, black point compensation, there and back."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.condition.pcs import D50, Connection, black_scaled

ONES = np.ones(3)
D65_10 = np.array([94.811, 100.0, 107.304])
CLOTHS = (
    Connection(100 * D50, np.array([92.0, 1.5, -4.0])),
    Connection(D65_10, np.array([88.0, -0.5, 9.0])),
)


def grey(y):
    """Media-relative Lab of a neutral of luminance y."""
    return xyz_to_lab(np.full(3, y), ONES)


def luminance(lab):
    return lab_to_xyz(lab, ONES)[..., 1]


def test_black_point_compensation_worked_example():
    """ISO 18619: Y_s 0.0034731, Y_d 0.02 give s = 0.983416; Y 0.18 becomes 0.193599."""
    source, target = 0.0034731, 0.02
    moved = luminance(black_scaled(np.stack([grey(y) for y in (source, 0.18, 1.0)]), source, target))
    np.testing.assert_allclose(moved, [0.02, 0.193599, 1.0], atol=1e-6)
    assert (moved[2] - moved[1]) / (1 - 0.18) == pytest.approx(0.983416, abs=1e-6)


def test_black_point_compensation_the_wrong_way_round_differs():
    moved = luminance(black_scaled(grey(0.18)[None], 0.02, 0.0034731))
    assert abs(moved[0] - 0.193599) > 0.01


@given(st.floats(0, 0.05), st.floats(0, 0.05))
def test_black_point_compensation_undoes_itself(source, target):
    lab = np.random.default_rng(0).uniform([10, -40, -40], [95, 40, 40], (50, 3))
    back = black_scaled(black_scaled(lab, source, target), target, source)
    np.testing.assert_allclose(back, lab, atol=1e-6)


@pytest.mark.parametrize("cloth", CLOTHS)
def test_bare_cloth_is_relative_white(cloth):
    np.testing.assert_allclose(cloth.to_relative(cloth.media_lab), [100, 0, 0], atol=1e-9)
    np.testing.assert_allclose(cloth.from_relative(np.array([100.0, 0, 0])), cloth.media_lab, atol=1e-9)


def test_media_relative_formula():
    """ICC.1:2022, 6.3.2: XYZ_abs = XYZ_rel (media white / D50), axis by axis."""
    cloth = CLOTHS[0]
    white = lab_to_xyz(cloth.media_lab, D50)
    np.testing.assert_allclose(cloth.media_white, white, atol=1e-12)
    lab = np.array([[60.0, 20.0, -30.0], [20.0, -5.0, 8.0]])
    relative = lab_to_xyz(cloth.to_relative(lab), D50)
    np.testing.assert_allclose(relative * white / D50, lab_to_xyz(lab, D50), atol=1e-12)


@pytest.mark.parametrize("cloth", CLOTHS)
def test_there_and_back(cloth):
    lab = np.random.default_rng(1).uniform([0, -60, -60], [95, 60, 60], (200, 3))
    np.testing.assert_allclose(cloth.from_relative(cloth.to_relative(lab)), lab, atol=1e-8)
    np.testing.assert_allclose(cloth.from_absolute(cloth.to_absolute(lab)), lab, atol=1e-8)


def test_another_light_is_adapted_by_bradford():
    """A neutral diffuser stays neutral, and its lightness stays."""
    neutral = np.array([[50.0, 0.0, 0.0]])
    np.testing.assert_allclose(CLOTHS[1].to_absolute(neutral), neutral, atol=2e-3)
    coloured = np.array([[50.0, 40.0, 40.0]])
    assert np.abs(CLOTHS[1].to_absolute(coloured) - coloured).max() > 0.5
