"""Profiles of seven inks and of other lights against the ICC's reference implementation."""

import iccdev
import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.weights import white_point
from strikeoff.condition.rendering import render
from strikeoff.icc.evaluate import device_to_lab, lab_to_device, media_white
from strikeoff.icc.interpolate import interpolate
from strikeoff.icc.output_tables import axis_nodes, curve_nodes
from strikeoff.icc.profile import read_profile
from strikeoff.model import gamut
from strikeoff.qualify import profile_grids
from strikeoff.qualify.profiles import ProfileTables, build_profiles, profile_tables
from strikeoff.qualify.reach import relight

_INTENTS = {"perceptual": 0, "relative": 1, "saturation": 2, "absolute": 3}


@pytest.fixture(scope="module")
def seven(seven_inks):
    return seven_inks[1]


def test_black_without_scaling_reaches_the_darkest_neutral(seven):
    """Artwork's black lies far below the cloth's; many inks must not hold it to a paler recipe.

    What is within 0.5 of a neutral counts as one.
    """
    claimed = seven.connection.from_relative(seven.black_lab[None])
    for intent in ("relative", "relative-bpc"):
        lab = render(seven, np.zeros((1, 3)), intent).lab
        assert delta_e_2000(claimed, lab)[0] <= 0.5, intent


@pytest.fixture
def small_grids(monkeypatch):
    monkeypatch.setattr(profile_grids, "_LEVELS", (5, 9))
    monkeypatch.setattr(profile_grids, "_LARGEST", dict.fromkeys(range(1, 5), 13))
    monkeypatch.setattr(profile_grids, "_LARGEST_OF_MANY", 9)
    monkeypatch.setattr(profile_grids, "A2B_BYTES", 1 << 17)


def reference_lab(data, device, intent, folder):
    path = folder / "profile.icc"
    path.write_bytes(data)
    engine = iccdev.IccCmm(iccdev.ColorSpace.Unknown, iccdev.ColorSpace.Lab, True)
    engine.attach(str(path), intent=_INTENTS[intent], interp=0)
    engine.begin()
    unit = engine.apply_ndarray(np.ascontiguousarray(device, np.float32))
    return np.asarray(unit, float) * [100, 255, 255] - [0, 128, 128]


def reference_inks(data, lab, intent, folder):
    path = folder / "profile.icc"
    path.write_bytes(data)
    engine = iccdev.IccCmm(iccdev.ColorSpace.Lab, iccdev.ColorSpace.Unknown, False)
    engine.attach(str(path), intent=_INTENTS[intent], interp=0)
    engine.begin()
    unit = np.add(lab, [0, 128, 128]) / [100, 255, 255]
    return np.asarray(engine.apply_ndarray(np.ascontiguousarray(unit, np.float32)), float)


def agrees(condition, tables: ProfileTables, data, folder):
    """Nodes within 0.02 dE and random points within 0.15 dE in the mean, both ways."""
    result = iccdev.validate_profile(data)
    assert (result.status, result.report) == (iccdev.ValidationStatus.OK, "")
    profile = read_profile(data)
    rng = np.random.default_rng(5)
    count = condition.n_inks
    size = tables.a2b.grid.shape[0]
    knots = np.stack([curve_nodes(curve, size) for curve in tables.a2b.input_curves])
    nodes = knots[np.arange(count), rng.integers(0, size, (400, count))]
    for device, limit in ((nodes, 0.02), (rng.random((400, count)), 0.15)):
        for intent in ("relative", "absolute"):
            found = np.linalg.norm(
                device_to_lab(profile, device, intent) - reference_lab(data, device, intent, folder), axis=1
            )
            assert (found.max() if limit < 0.1 else found.mean()) <= limit
    axes = tables.b2a["relative"].axes
    # For version 2 the reference implementation moves perceptual black to the medium of version 4.
    intents = (
        ("relative", "saturation") if profile.header.major < 4 else ("perceptual", "relative", "saturation")
    )
    for intent in intents:
        grid = tables.b2a[intent].grid.shape[0]
        at = [axis_nodes(axis, grid)[rng.integers(0, grid, 400)] for axis in axes]
        scattered = [rng.uniform(axis.positions[0], axis.positions[-1], 400) for axis in axes]
        for lab, limit in ((np.stack(at, axis=1), 0.02), (np.stack(scattered, axis=1), 0.15)):
            ours = device_to_lab(profile, lab_to_device(profile, lab, intent))
            theirs = device_to_lab(profile, np.clip(reference_inks(data, lab, intent, folder), 0, 1))
            found = np.linalg.norm(ours - theirs, axis=1)
            assert (found.max() if limit < 0.1 else found.mean()) <= limit


def test_seven_inks(seven, small_grids, tmp_path):
    tables = profile_tables(seven)
    for version, data in build_profiles(seven, tables=tables).items():
        profile = read_profile(data)
        assert profile.header.colour_space == "7CLR"
        assert profile.header.major == version
        agrees(seven, tables, data, tmp_path)


def test_tables_hold_the_model_as_well_as_they_say(small_readings, small_grids):
    """The error that chose the size is the error found on other colours."""
    condition = small_readings.condition
    tables = profile_tables(condition)
    inks = condition.limits.random(800, np.random.default_rng(6))
    profile = read_profile(build_profiles(condition, tables=tables)[4])
    lab = condition.connection.to_relative(condition.native.lab(inks))
    forward = delta_e_2000(lab, device_to_lab(profile, inks))
    assert forward.mean() == pytest.approx(tables.a2b_error, rel=0.4, abs=0.02)
    back = condition.connection.to_relative(condition.native.lab(lab_to_device(profile, lab)))
    assert delta_e_2000(lab, back).mean() == pytest.approx(tables.b2a_errors["relative"], rel=0.4, abs=0.05)


def test_a_finer_grid_is_chosen_for_a_stricter_aim(small_readings, monkeypatch):
    condition = small_readings.condition
    monkeypatch.setattr(profile_grids, "A2B_AIM", 0.5)
    coarse, error = profile_grids.inks_to_colour(condition)
    assert error <= 0.5
    monkeypatch.setattr(profile_grids, "A2B_AIM", 0.05)
    fine, less = profile_grids.inks_to_colour(condition)
    assert less <= 0.05
    assert fine.grid.shape[0] > coarse.grid.shape[0]
    assert profile_grids._size(4, 0.48) == 33  # four times the aim: half the spacing
    assert profile_grids._size(4, 1e-3) == 17
    assert profile_grids._size(7, 9.0) == 33


def daylight_6500():
    """A made-up lamp with lines; no source: any positive power will do."""
    grid = np.arange(380.0, 735.0, 5.0)
    lines = sum(8.0 * np.exp(-(((grid - peak) / 6.0) ** 2)) for peak in (435.0, 545.0, 612.0))
    return grid, 1.0 + lines


@pytest.mark.parametrize(("light", "number"), [("D65", 2), ("A", 6), ("FL11", 0), ("lamp", 0)])
def test_other_lights(small_readings, small_grids, light, number, tmp_path, monkeypatch):
    """The cloth stays white in relation, its media white is adapted, and the light is written down."""
    lamp = daylight_6500() if light == "lamp" else light
    monkeypatch.setattr(gamut, "_LEVELS", 9)
    monkeypatch.setattr(gamut, "_HUES", 12)
    condition = relight(small_readings.condition, lamp, light, "10")
    tables = profile_tables(condition)
    profiles = build_profiles(condition, tables=tables)
    profile = read_profile(profiles[4])
    white = white_point(lamp, "10")
    view = profile.decode("view")
    np.testing.assert_allclose(view.illuminant_xyz / view.illuminant_xyz[1], white / white[1], atol=1e-4)
    assert view.illuminant == number
    assert light in profile.decode("vued").text
    # ICC.1:2022, 9.2.15: chad carries the light's white to D50.
    chad = profile.decode("chad").values.reshape(3, 3)
    np.testing.assert_allclose(chad @ white / white[1], [0.9642, 1.0, 0.8249], atol=2e-4)
    cloth = condition.native.lab(np.zeros((1, 3)))
    expected = condition.connection.to_absolute(cloth)
    np.testing.assert_allclose(device_to_lab(profile, np.zeros((1, 3)), "absolute"), expected, atol=0.05)
    np.testing.assert_allclose(media_white(profile), condition.connection.media_white, atol=1e-4)
    if light == "D65":
        agrees(condition, tables, profiles[4], tmp_path)
        agrees(condition, tables, profiles[2], tmp_path)


def test_the_same_colours_under_another_light_differ(small_readings):
    """A yellow turns under incandescent light: the light is not just a label."""
    inks = np.array([[0.0, 0.0, 1.0], [0.3, 0.6, 0.1]])
    own = small_readings.condition
    other = relight(own, "A", "A")
    assert np.linalg.norm(own.native.lab(inks) - other.native.lab(inks), axis=1).min() > 2.0


def test_levelled_nodes_err_to_both_sides():
    """A bowl over four axes: chords lie above it, by a twelfth of the second difference for each axis."""
    size, count = 7, 4
    axis = np.linspace(0.0, 1.0, size)
    grid = sum(g**2 for g in np.meshgrid(*[axis] * count, indexing="ij"))[..., None]
    points = np.random.default_rng(9).random((4000, count))
    truth = (points**2).sum(axis=1)
    plain = interpolate(grid, points)[:, 0] - truth
    levelled = profile_grids.level_nodes(grid)
    found = interpolate(levelled, points)[:, 0] - truth
    assert plain.min() >= -1e-12
    assert plain.mean() == pytest.approx(count * 2.0 / (size - 1) ** 2 / 12.0, rel=0.05)
    assert np.abs(found).mean() < 0.5 * np.abs(plain).mean()
    corners = np.ix_(*[[0, -1]] * count)
    np.testing.assert_array_equal(levelled[corners], grid[corners])
