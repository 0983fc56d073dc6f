"""Rendering intents from media-relative colours to inks."""

import numpy as np
import pytest

from strikeoff.base.errors import UsageError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.pcs import D50
from strikeoff.condition.rendering import INTENTS, relative_black_y, render
from strikeoff.model.gamut import lab_to_ok, map_into, ok_to_lab, visible
from strikeoff.model.inverse import solve


def relative(condition, recipes):
    return condition.connection.to_relative(recipes.lab)


@pytest.mark.parametrize("intent", INTENTS)
def test_every_intent_keeps_the_limits(measured_condition, intent):
    lab = np.random.default_rng(0).uniform([0, -100, -100], [100, 100, 100], (800, 3))
    inks = render(measured_condition, lab, intent).inks
    assert measured_condition.limits.legal(inks).all()


@pytest.mark.parametrize("intent", [i for i in INTENTS if i != "absolute"])
def test_the_source_white_prints_nothing(measured_condition, intent):
    assert (render(measured_condition, np.array([[100.0, 0, 0]]), intent).inks == 0).all()


@pytest.mark.parametrize("intent", [i for i in INTENTS if i != "absolute"])
def test_nearly_white_prints_nearly_nothing(measured_condition, intent):
    """A scanned white is never exact; its noise must not turn into a tint."""
    lab = np.array([[99.9, 0.1, -0.1], [99.8, -0.1, 0.1], [99.5, 0.2, 0.2]])
    got = render(measured_condition, lab, intent)
    assert got.inks.max() < 0.02
    assert relative(measured_condition, got)[:, 0].min() > 99.0


@pytest.mark.parametrize("intent", ["perceptual", "relative"])
def test_colours_that_get_darker_print_no_lighter(measured_condition, intent):
    """Far below the gamut, where Lab names what no light looks like, too."""
    for hue in np.radians(np.arange(0, 360, 45)):
        light = np.linspace(100.0, 0.0, 101)
        lab = np.column_stack([light, np.full(101, 40 * np.cos(hue)), np.full(101, 40 * np.sin(hue))])
        reached = relative(measured_condition, render(measured_condition, lab, intent))[:, 0]
        assert (reached - np.minimum.accumulate(reached)).max() <= 0.3


def test_greys_below_the_darkest_neutral_print_no_lighter(measured_condition):
    """A shade of a black that cannot be reached is at most as light as the one before."""
    darkest = measured_condition.black_lab[0]
    greys = np.linspace([darkest + 5.0, 0.0, 0.0], [0.0, 0.0, 0.0], 97)
    found = render(measured_condition, greys, "relative")
    assert np.diff(found.lab[:, 0]).max() < 0.005
    # Ends are as dark as the black point or darker, and near grey.
    black = measured_condition.connection.from_relative(measured_condition.black_lab[None])[0]
    assert found.lab[-1, 0] < black[0] + 0.05
    assert np.abs(found.lab[:, 1:]).max() < 1.0


def test_colours_that_prints_and_screens_have_are_visible(measured_condition):
    inks = measured_condition.limits.random(2000, np.random.default_rng(3))
    lab = measured_condition.connection.to_relative(measured_condition.native.lab(inks))
    np.testing.assert_array_equal(visible(lab), lab)
    # sRGB primaries and secondaries, D50 Lab (IEC 61966-2-1 through Bradford, from memory).
    srgb = np.array([[54.3, 80.8, 69.9], [87.8, -79.3, 81.0], [29.6, 68.3, -112.0], [97.6, -15.8, 93.4]])
    np.testing.assert_array_equal(visible(srgb), srgb)
    dark = np.array([[5.0, 0.0, 40.0]])
    seen = visible(dark)
    np.testing.assert_array_equal(seen[:, 0], dark[:, 0])
    assert 0 < seen[0, 2] < 20


@pytest.mark.parametrize("intent", ["perceptual", "relative-bpc"])
def test_greys_and_near_greys_agree(measured_condition, intent):
    light = np.linspace(5, 95, 19)
    lab = np.column_stack([light, np.zeros(19), np.zeros(19)])
    grey = relative(measured_condition, render(measured_condition, lab, intent))
    near = relative(measured_condition, render(measured_condition, lab + np.array([0, 0.3, 0.3]), intent))
    assert np.linalg.norm(near - grey, axis=1).max() < 1.2


def test_absolute_keeps_the_white_of_the_source(measured_condition):
    """ICC.1:2022, 6.3.2: a whiter source than the cloth stays unreachable; its own white prints nothing."""
    white = np.array([[100.0, 0, 0]])
    cloth = measured_condition.connection.media_white
    assert (render(measured_condition, white, "absolute", source_white=cloth).inks == 0).all()
    grey = np.array([[60.0, 0, 0]])
    darker = render(measured_condition, grey, "absolute", source_white=0.8 * cloth)
    plain = render(measured_condition, grey, "relative")
    assert relative(measured_condition, darker)[0, 0] < relative(measured_condition, plain)[0, 0] - 3
    assert D50[1] == 1.0


def test_relative_keeps_what_is_reachable(measured_condition):
    inks = measured_condition.limits.random(300, np.random.default_rng(1)) * 0.8
    lab = measured_condition.connection.to_relative(measured_condition.native.lab(inks))
    got = relative(measured_condition, render(measured_condition, lab, "relative"))
    assert np.linalg.norm(got - lab, axis=1).mean() < 0.15


def test_black_scaling_brings_black_to_the_darkest_neutral(measured_condition):
    black = np.array([[0.0, 0, 0]])
    got = relative(measured_condition, render(measured_condition, black, "relative-bpc"))
    assert got[0, 0] == pytest.approx(measured_condition.black_lab[0], abs=1.0)
    assert relative_black_y(measured_condition) == pytest.approx(
        ((measured_condition.black_lab[0] + 16) / 116) ** 3, rel=1e-6
    )
    ramp = np.zeros((40, 3))
    ramp[:, 0] = np.linspace(0, 100, 40)
    light = relative(measured_condition, render(measured_condition, ramp, "relative-bpc"))[:, 0]
    assert np.diff(light).min() > 0.5  # shadows stay apart
    clipped = relative(measured_condition, render(measured_condition, ramp, "relative"))[:, 0]
    assert np.diff(clipped).min() < 0.5


@pytest.mark.parametrize("intent", ["perceptual", "relative"])
def test_hue_of_unreachable_colours_is_kept(measured_condition, intent):
    """B. Ottosson 2020: lines of constant Oklab hue look straight, blue included."""
    angle = np.linspace(-np.pi, np.pi, 73)[:-1]
    far = ok_to_lab(np.column_stack([np.full(72, 0.6), 0.28 * np.cos(angle), 0.28 * np.sin(angle)]))
    got = lab_to_ok(relative(measured_condition, render(measured_condition, far, intent)))
    aim = lab_to_ok(far)
    turn = np.degrees(
        np.angle(np.exp(1j * (np.arctan2(got[:, 2], got[:, 1]) - np.arctan2(aim[:, 2], aim[:, 1]))))
    )
    assert np.abs(turn).mean() < 2.5
    assert np.abs(turn).max() < 8


def test_colours_a_little_beyond_end_on_the_boundary(measured_condition):
    """From 2 CIEDE2000 on they have the hue that was asked for; what is merely closest has not."""
    condition = measured_condition
    angle, light = (g.ravel() for g in np.meshgrid(np.arange(72) * np.pi / 36.0, [0.5, 0.65, 0.8]))
    chroma = condition.boundary.largest(light, angle) + 0.03
    lab = ok_to_lab(np.column_stack([light, chroma * np.cos(angle), chroma * np.sin(angle)]))
    closest = solve(condition.inverse, condition.connection.from_relative(lab), exact=False)
    some = (closest.de00 > 2.0) & (closest.de00 < 5.0)
    assert some.sum() > 50
    mapped = map_into(condition.boundary, lab[some], 1.0)
    got = relative(condition, render(condition, lab[some], "relative"))
    away = delta_e_2000(mapped, got)
    assert away.mean() < 0.5
    assert (
        away.mean() < 0.5 * delta_e_2000(mapped, condition.connection.to_relative(closest.lab[some])).mean()
    )


def test_unknown_intent(measured_condition):
    with pytest.raises(UsageError, match="unknown rendering intent"):
        render(measured_condition, np.zeros((1, 3)), "vivid")


@pytest.mark.parametrize("intent", INTENTS)
def test_the_colour_told_is_that_of_the_inks(small_readings, intent):
    """Whichever step a recipe came from: solved, moved to the edge, or set to bare cloth."""
    condition = small_readings.condition
    lab = np.random.default_rng(8).uniform([0, -80, -80], [100, 80, 80], (200, 3))
    lab[:2] = [[100.0, 0.0, 0.0], [0.0, 0.0, 0.0]]
    found = render(condition, lab, intent)
    np.testing.assert_allclose(found.lab, condition.inverse.quick.lab(found.inks), atol=1e-9)
    near = np.linalg.norm(lab[:, 1:], axis=1) < 70.0
    again = render(condition, lab, intent, start=found.inks, beyond=~near)
    np.testing.assert_allclose(again.lab, condition.inverse.quick.lab(again.inks), atol=1e-9)
