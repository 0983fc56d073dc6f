"""ICC profiles of real goods in engines that strikeoff did not write."""

import io

import iccdev
import numpy as np
import pytest
from PIL import ImageCms

from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.rendering import render
from strikeoff.icc.evaluate import gamut_alarm
from strikeoff.icc.profile import read_profile
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.model.error_bars import RadiusScale
from strikeoff.model.forward import fit_forward
from strikeoff.model.validation import Validation, split_recipes
from strikeoff.qualify import build, profile_grids, profiles

BOTH = pytest.mark.parametrize("which", ["measured", "smoothed"])
VERSIONS = pytest.mark.parametrize("version", [2, 4])


@pytest.fixture
def condition(request, which):
    return request.getfixturevalue(f"{which}_condition")


@BOTH
@VERSIONS
def test_validates_without_warning_and_loads(condition, version):
    data = condition.profiles[version]
    result = iccdev.validate_profile(data)
    assert (result.status, result.report) == (iccdev.ValidationStatus.OK, "")
    profile = ImageCms.ImageCmsProfile(io.BytesIO(data)).profile
    assert (profile.device_class, profile.xcolor_space, profile.connection_space) == ("prtr", "CMYK", "Lab ")
    np.testing.assert_allclose(profile.media_white_point[0], condition.connection.media_white, atol=1e-4)
    tags = set(read_profile(data).tags)
    assert {"A2B0", "A2B1", "A2B2", "B2A0", "B2A1", "B2A2", "gamt", "targ", "wtpt", "desc", "cprt"} <= tags


@BOTH
def test_readings_are_inside(condition):
    text = read_profile(condition.profiles[4]).decode("targ").text
    assert text.encode("latin-1").rstrip(b"\0") == condition.readings.rstrip(b"\0")


@BOTH
@VERSIONS
def test_round_trip_in_a_foreign_engine(condition, version, lcms):
    """In-gamut Lab through B2A1 then A2B1 at 16 bit."""
    inks = condition.limits.random(2000, np.random.default_rng(1))
    lab = condition.connection.to_relative(condition.native.lab(inks))
    data = condition.profiles[version]
    back = lcms.to_lab(data, "CMYK", lcms.from_lab(data, "CMYK", lab, "relative"), "relative")
    error = delta_e_2000(lab, back)
    print(f"profile v{version} round trip: mean {error.mean():.3f}, 95 % {np.percentile(error, 95):.3f}")
    assert error.mean() <= 0.5
    assert np.percentile(error, 95) <= 1.2


@BOTH
@pytest.mark.parametrize("intent", ["perceptual", "relative", "saturation", "absolute"])
def test_total_ink_is_never_passed(condition, intent, lcms):
    rng = np.random.default_rng(2)
    lab = np.vstack([rng.uniform([0, -128, -128], [100, 127, 127], (20_000, 3)), [[0, 0, 0]]])
    inks = lcms.from_lab(condition.profiles[4], "CMYK", lab, intent)
    assert inks.sum(axis=1).max() <= condition.limits.total + 4 / 65535
    assert inks.sum(axis=1).max() > 2.0


@BOTH
def test_white_prints_nothing(condition, lcms):
    white = np.array([[100.0, 0.0, 0.0]])
    for intent in ("perceptual", "relative", "saturation"):
        assert lcms.from_lab(condition.profiles[4], "CMYK", white, intent).max() <= 5e-4


@BOTH
def test_intents_differ_where_they_should(condition, lcms):
    """Perceptual brings black to the darkest neutral and keeps shadows apart; relative cuts off."""
    ramp = np.zeros((12, 3))
    ramp[:, 0] = np.linspace(0, 11, 12)
    data = condition.profiles[4]
    light = {
        intent: lcms.to_lab(data, "CMYK", lcms.from_lab(data, "CMYK", ramp, intent), "relative")[:, 0]
        for intent in ("perceptual", "relative")
    }
    assert np.ptp(light["perceptual"]) > np.ptp(light["relative"]) + 0.5


@BOTH
@pytest.mark.parametrize("intent", ["perceptual", "relative", "saturation"])
def test_far_colours_of_artwork_come_where_direct_rendering_brings_them(condition, intent, lcms):
    """Corners and darks of sRGB, far beyond cloth, by a foreign engine: blue stays blue, black black.

    Lab of the corners is that of IEC 61966-2-1 adapted to D50 (Bradford), from memory.
    """
    corners = [[54.3, 80.8, 69.9], [87.8, -79.3, 81.0], [29.6, 68.3, -112.0], [97.6, -15.7, 93.4]]
    corners += [[60.2, 93.5, -60.5], [90.7, -50.7, -15.0], [15.0, 45.0, -75.0]]
    darks = [[0.0, 0.0, 0.0], [5.0, 0.0, 0.0], [10.0, 0.0, 0.0], [15.0, 8.0, 6.0]]
    rng = np.random.default_rng(6)
    mixed = rng.dirichlet(np.ones(7), 200) @ np.array(corners)
    wanted = np.vstack([corners, darks, mixed])
    direct = condition.connection.to_relative(condition.native.lab(render(condition, wanted, intent).inks))
    data = condition.profiles[2]
    read = condition.connection.to_relative(condition.native.lab(lcms.from_lab(data, "CMYK", wanted, intent)))
    error = delta_e_2000(direct, read)
    print(f"{intent}: corners and darks {np.round(error[:11], 2)}, mixed {error[11:].mean():.2f}")
    assert error[:11].max() <= 2.5
    assert error[7:9].max() <= 0.7
    assert error[11:].mean() <= 0.7


@BOTH
def test_gamut_alarm(condition):
    profile = read_profile(condition.profiles[4])
    inks = condition.limits.random(500, np.random.default_rng(3)) * 0.6
    inside = condition.connection.to_relative(condition.native.lab(inks))
    outside = np.array([[50.0, 100, 0], [50, -100, 0], [50, 0, -110], [90, 80, 80], [2.0, 0, 0], [98, 0, 60]])
    assert np.mean(gamut_alarm(profile, inside) < 0.5) > 0.95
    assert (gamut_alarm(profile, outside) > 0.5).all()


@BOTH
@pytest.mark.usefixtures("coarse_gamut")
def test_held_out_readings_in_a_foreign_engine(request, which, condition, lcms, monkeypatch):
    """A profile made from 80 % of the recipes predicts the rest, absolute A2B1, about as well as the
    model itself: within 10 %."""
    merged = merge_repeats(request.getfixturevalue(f"{which}_set"))
    train, test = next(iter(split_recipes(len(merged))))
    groups = condition.validation
    monkeypatch.setattr(
        build, "validate", lambda *_: Validation(groups.groups, RadiusScale(1.0), groups.errors)
    )
    monkeypatch.setattr(profile_grids, "_LEVELS", (5,))
    monkeypatch.setattr(profile_grids, "_LARGEST", {4: 5})
    part = build.build_condition(merged.take(train), b"", name="part", label="measured", total_ink=3.0)
    data = profiles.build_profiles(part)[4]
    view = part.native.view
    truth = view.lab(condition.forward.bands[test])
    inks = merged.coverages[test]
    model = delta_e_2000(truth, part.native.lab(inks))
    foreign = delta_e_2000(truth, lcms.to_lab(data, "CMYK", inks, "absolute"))
    print(f"{which}: model {model.mean():.3f}, absolute A2B1 {foreign.mean():.3f}")
    again = fit_forward(merged.coverages[train], np.ones(len(train)), condition.forward.bands[train], view)
    assert delta_e_2000(truth, again.under(view).lab(inks)).mean() == pytest.approx(model.mean(), rel=0.1)
    assert foreign.mean() <= 1.10 * model.mean()
    assert np.percentile(foreign, 95) <= 1.10 * np.percentile(model, 95)
