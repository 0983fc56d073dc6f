"""Cuts through gamuts, on a double cone whose every cut is known."""

import numpy as np
import pytest

from strikeoff.report.plots_gamut_compare import GamutOutline, _plane_cut, _widest, gamut_comparison, hue_side


@pytest.fixture(scope="module")
def cone():
    """L* 10 to 90, chroma 60 at L* 50 and 10 at both ends; hues not evenly spread."""
    lightness = np.linspace(10.0, 90.0, 21)
    chroma = 60.0 - 50.0 * np.abs(lightness - 50.0) / 40.0
    hue = np.linspace(0.0, 2 * np.pi, 72, endpoint=False) + 0.02
    light = np.repeat(lightness[:, None], len(hue), axis=1)
    return np.stack([light, chroma[:, None] * np.cos(hue), chroma[:, None] * np.sin(hue)], axis=-1)


@pytest.mark.parametrize("degrees", [0.0, 90.0, 179.9, 270.0, 359.0])
def test_a_cut_at_any_hue(cone, degrees):
    side = hue_side(cone, degrees)
    np.testing.assert_allclose(side[:, 1], np.linspace(10.0, 90.0, 21))
    np.testing.assert_allclose(side[:, 0], 60.0 - 50.0 * np.abs(side[:, 1] - 50.0) / 40.0, atol=1e-9)


def test_a_hue_that_reaches_farther_is_seen_where_it_is(cone):
    longer = cone.copy()
    longer[10, 18, 1:] *= 1.5  # near 91 degrees: yellow
    side = hue_side(longer, 91.15)
    assert side[10, 0] == pytest.approx(90.0, abs=0.5)
    assert hue_side(longer, 271.15)[10, 0] == pytest.approx(60.0, abs=1e-6)


def test_widest_from_above(cone):
    ring = _widest(cone)
    np.testing.assert_allclose(np.hypot(ring[:, 0], ring[:, 1]), 60.0, atol=1e-9)


def test_two_gamuts_are_named_below_and_one_is_not(cone):
    cuts = [np.zeros((0, 2))] * 3
    one = GamutOutline("first cloth", cone, cuts)
    two = GamutOutline("second cloth", 0.9 * cone, cuts)
    assert "second cloth" in gamut_comparison([one, two], (30.0, 50.0, 70.0))
    alone = gamut_comparison([one], (30.0, 50.0, 70.0))
    assert alone.count("first cloth") == 1  # in the description only


def test_a_cut_that_nothing_reaches_says_so(cone):
    """In place of axes from 0 to 1; where one of two reaches, that one is drawn."""
    ring = np.array([[10.0, 0.0], [0.0, 10.0], [-10.0, -10.0]])
    none = GamutOutline("dark", cone, [np.zeros((0, 2)), ring])
    some = GamutOutline("light", cone, [ring, ring])
    assert gamut_comparison([none], (5.0, 50.0)).count("nothing reached") == 1
    assert "nothing reached" not in gamut_comparison([none, some], (5.0, 50.0))


@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0])
def test_a_body_beside_the_axis_is_cut_without_knots(cone, degrees):
    """Moved by 20 in a*, its narrow ends no longer go round a* = b* = 0: one convex outline."""
    (outline,) = _plane_cut(cone + np.array([0.0, 20.0, 0.0]), degrees)
    np.testing.assert_allclose(outline[0], outline[-1])
    angle = np.radians(degrees)
    points = outline[:, :1] * [np.cos(angle), np.sin(angle)] - [20.0, 0.0]
    radius = 60.0 - 50.0 * np.abs(outline[:, 1] - 50.0) / 40.0
    np.testing.assert_allclose(np.hypot(*points.T), radius, rtol=5e-3)
    if degrees == 90.0:  # the ends of radius 10 do not come near this plane, 20 off their middle
        assert 10.0 < outline[:, 1].min() < outline[:, 1].max() < 90.0
        return
    steps = np.diff(outline, axis=0)
    turns = steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0]
    assert (turns > -1e-6).all() or (turns < 1e-6).all()


def test_a_body_beside_the_grey_axis_has_no_colours_of_the_opposite_hue(cone):
    """A cone around b* 80, at most 60 wide: seen from grey it reaches 140 at hue 90 and nothing at 270."""
    beside = cone + np.array([0.0, 0.0, 80.0])
    assert hue_side(beside, 270.0)[:, 0].max() == 0.0
    widest = np.hypot(cone[..., 1], cone[..., 2]).max()
    assert hue_side(beside, 90.0)[:, 0].max() == pytest.approx(80.0 + widest, rel=0.01)
