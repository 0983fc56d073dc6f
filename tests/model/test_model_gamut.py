"""Gamut boundary and mapping along lines of constant hue."""

import numpy as np
import pytest

from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.gamut import GamutBoundary, find_boundary, lab_to_ok, map_into, ok_to_lab, visible

BOTH = pytest.mark.parametrize("which", ["measured_condition", "smoothed_condition"])


def ball(radius=0.2, centre=0.6):
    """Error function of a ball in Oklab: no error inside, growing outside."""

    def error(lab):
        ok = lab_to_ok(lab)
        out = np.linalg.norm(ok - [centre, 0, 0], axis=1) - radius
        return np.maximum(out, 0) * 100

    return error


def hue(ok):
    return np.arctan2(ok[:, 2], ok[:, 1])


def turned(first, second):
    return np.abs(np.angle(np.exp(1j * (first - second))))


def test_boundary_of_a_known_body():
    boundary = find_boundary(ball(), darkest=30.0)
    levels = boundary.lightness
    inside = np.abs(levels - 0.6) < 0.15
    truth = np.sqrt(0.204**2 - (levels[inside] - 0.6) ** 2)  # 0.4 units of error are allowed: 0.004
    np.testing.assert_allclose(boundary.chroma[inside], truth[:, None] * np.ones(60), atol=0.003)
    angles = np.linspace(-3, 3, 7)
    np.testing.assert_allclose(boundary.cusp(angles), 0.6, atol=0.03)


def test_largest_chroma_is_interpolated_and_wraps():
    chroma = np.tile(np.arange(4) * 0.1, (3, 1)) + np.array([[0.0], [0.1], [0.2]])
    boundary = GamutBoundary(np.array([0.2, 0.6, 1.0]), chroma)
    assert boundary.largest(np.array([0.4]), np.array([np.pi / 4]))[0] == pytest.approx(0.1)
    assert boundary.largest(np.array([0.2]), np.array([-np.pi / 4]))[0] == pytest.approx(0.15)
    assert boundary.largest(np.array([0.1, 1.1]), np.zeros(2)).tolist() == [0, 0]


def wild_colours(count=2000):
    rng = np.random.default_rng(5)
    ok = np.column_stack([rng.uniform(0.05, 1.05, count), rng.uniform(-0.35, 0.35, (count, 2))])
    return ok_to_lab(ok)


@pytest.mark.parametrize("knee", [0.8, 1.0])
def test_mapping_keeps_hue_and_ends_inside(measured_condition, knee):
    boundary = measured_condition.boundary
    lab = wild_colours()
    before, after = lab_to_ok(lab), lab_to_ok(map_into(boundary, lab, knee))
    # Darker than the darkest neutral, or of more chroma than any light: those keep their Lab hue.
    darkest = ok_to_lab(np.array([[boundary.lightness[0], 0.0, 0.0]]))[0, 0]
    seen = (np.abs(visible(lab) - lab).max(axis=1) == 0) & (lab[:, 0] > darkest)
    coloured = seen & (np.hypot(after[:, 1], after[:, 2]) > 1e-3)
    assert coloured.mean() > 0.15
    assert turned(hue(before), hue(after))[coloured].max() < 1e-6
    chroma = np.hypot(after[:, 1], after[:, 2])
    assert (
        chroma <= boundary.largest(np.clip(after[:, 0], *boundary.lightness[[0, -1]]), hue(after)) + 2e-3
    ).all()
    assert after[:, 0].min() >= boundary.lightness[0] - 1e-6
    assert after[:, 0].max() <= boundary.lightness[-1] + 1e-6


def test_mapping_leaves_what_is_inside_the_knee(measured_condition):
    boundary = measured_condition.boundary
    rng = np.random.default_rng(6)
    angle, level = rng.uniform(-np.pi, np.pi, 500), rng.uniform(0.45, 0.85, 500)
    chroma = 0.3 * boundary.largest(level, angle)
    ok = np.column_stack([level, chroma * np.cos(angle), chroma * np.sin(angle)])
    lab = ok_to_lab(ok)
    np.testing.assert_allclose(map_into(boundary, lab, 1.0), lab, atol=1e-6)
    moved = np.linalg.norm(map_into(boundary, lab, 0.8) - lab, axis=1)
    assert (moved < 1e-6).mean() > 0.8
    assert moved.max() < 1.0


def test_mapping_keeps_the_order_of_chroma(measured_condition):
    """Along a line of one hue and lightness more colourful stays at least as colourful."""
    for angle in np.linspace(-np.pi, np.pi, 13):
        chroma = np.linspace(0.0, 0.35, 200)
        ok = np.column_stack([np.full(200, 0.6), chroma * np.cos(angle), chroma * np.sin(angle)])
        mapped = lab_to_ok(map_into(measured_condition.boundary, ok_to_lab(ok), 0.8))
        reach = np.hypot(mapped[:, 1], mapped[:, 2])
        assert np.diff(reach).min() > -2e-3


def srgb_lab(rgb):
    """D50 Lab of sRGB, 0-1 (IEC 61966-2-1; primaries under D50 as common profiles hold them)."""
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    primaries = np.array([[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]])
    return xyz_to_lab(linear @ primaries.T, primaries.sum(axis=1))


@BOTH
@pytest.mark.parametrize("knee", [0.8, 1.0])
@pytest.mark.parametrize("white", [0.0, 0.25, 0.5])
@pytest.mark.parametrize("other", [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0)], ids=["red", "green"])
def test_neighbours_among_light_colours_stay_neighbours(request, which, knee, white, other):
    """Steps of a ramp to yellow, CIEDE2000 after mapping over before; limit by common practice, no source."""
    t = np.linspace(0.0, 1.0, 64)[:, None]
    start, yellow = np.array(other), np.array([1.0, 1.0, 0.0])
    ramp = srgb_lab((start + t * (yellow - start)) * (1.0 - white) + white)
    mapped = map_into(request.getfixturevalue(which).boundary, ramp, knee)
    steps = delta_e_2000(mapped[:-1], mapped[1:]) / delta_e_2000(ramp[:-1], ramp[1:])
    assert steps.max() < 2.5


def test_light_yellow_gives_up_lightness_rather_than_chroma(measured_condition):
    """regression: 34 of 91 C*ab were kept along lines to a lighter grey."""
    yellow = srgb_lab(np.array([[1.0, 1.0, 0.0]]))
    mapped = map_into(measured_condition.boundary, yellow, 0.8)[0]
    assert np.hypot(*mapped[1:]) > 50
    assert yellow[0, 0] - mapped[0] < 9


@BOTH
def test_colours_of_legal_inks_lie_inside(request, which):
    condition = request.getfixturevalue(which)
    inks = condition.limits.random(3000, np.random.default_rng(7))
    lab = condition.connection.to_relative(condition.native.lab(inks))
    ok = lab_to_ok(lab)
    chroma = np.hypot(ok[:, 1], ok[:, 2])
    over = chroma - condition.boundary.largest(ok[:, 0], hue(ok))
    known = ok[:, 0] > condition.boundary.lightness[0] + 0.02
    assert np.quantile(over[known], 0.99) < 0.012
    moved = np.linalg.norm(map_into(condition.boundary, lab, 1.0) - lab, axis=1)
    # Overprints darker than the darkest neutral move up to it; all else hardly moves.
    assert np.quantile(moved[known], 0.99) < 1.0
    assert np.quantile(moved, 0.9) < 1.8
    assert np.quantile(moved, 0.99) < 4.6
