"""The report and the gamut command state one largest chroma per hue, that of the recipes themselves."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from strikeoff import workbench
from strikeoff.condition.archive import write_condition
from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.model.gamut import lab_to_ok
from strikeoff.qualify.build import build_condition
from strikeoff.workbench import gamut_bodies
from strikeoff.workbench.condition_figures import gamut_section
from strikeoff.workbench.gamut_bodies import condition_body
from strikeoff.workbench.hue_reach import _cut, hue_reach

HUES = tuple(range(0, 360, 30))


def test_the_report_and_the_gamut_command_agree(small_readings, tmp_path):
    condition = small_readings.condition
    write_condition(tmp_path / "a.cond", condition)
    done = workbench.measure_gamut(tmp_path / "a.cond", tmp_path / "g.svg", hues=HUES)
    said = [f"{row['largest_chroma']:.1f}" for row in done.results["hue_cuts"]]
    html = gamut_section(condition).html
    (row,) = re.findall(r"<tr>(?:(?!</tr>).)*largest C\*.*?</tr>", html, re.DOTALL)
    assert re.findall(r">(\d+\.\d)<", row) == said


def test_the_largest_chroma_is_that_of_many_random_recipes(small_readings):
    """Brute force: the most colourful of 300,000 legal recipes within a degree, its surface among them."""
    condition = small_readings.condition
    rng = np.random.default_rng(3)
    inks = rng.random((300_000, 3)) * condition.inverse.limits.per_ink
    inks[np.arange(200_000), rng.integers(0, 3, 200_000)] = 0.0
    inks[np.arange(100_000), rng.integers(0, 3, 100_000)] = 1.0
    inks = inks[condition.inverse.limits.legal(inks)]
    lab = condition.connection.to_absolute(condition.inverse.quick.lab(inks))
    hue, chroma = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])), np.hypot(lab[:, 1], lab[:, 2])
    for reach in hue_reach(condition, HUES):
        near = np.abs((hue - reach.hue + 180) % 360 - 180) < 1.0
        assert reach.chroma == pytest.approx(chroma[near].max(), abs=1.0)


def test_the_body_holds_what_recipes_at_the_limits_reach(small_readings):
    """Faces of the legal recipes, above the darkest neutral: one in 1,000 may lie 3 C* outside."""
    condition = small_readings.condition
    rng = np.random.default_rng(6)
    inks = rng.random((40_000, 3))
    inks[np.arange(40_000), rng.integers(0, 3, 40_000)] = 0.0
    inks[np.arange(20_000), rng.integers(0, 3, 20_000)] = 1.0
    inks = inks[condition.inverse.limits.legal(inks)]
    lab = condition.connection.to_absolute(condition.inverse.quick.lab(inks))
    body = condition_body(condition)
    ends = body.mesh()[[0, -1], :, 0]
    lab = lab[(lab[:, 0] > ends[0].max() + 1.0) & (lab[:, 0] < ends[1].min() - 1.0)]
    assert body.contains(lab, 0.01).mean() > 0.999


def test_a_solid_lighter_than_the_cloth_moves_no_darks(small_readings):
    """Yellow that glows beyond the cloth: the body still stands round the cloth's greys, and claims no darks
    that no recipe makes. Convex hulls are never smaller than what they hold.
    """
    read = small_readings.readings
    glow = 1.2 * np.exp(-(((read.wavelengths_nm - 525.0) / 35.0) ** 2))
    spectra = read.spectra + read.coverages[:, 2:] * read.spectra / read.spectra[0] * glow
    read = replace(read, spectra=spectra, xyz=None, lab=None)
    data = format_iso28178(read).encode()
    condition = build_condition(read, data, name="glows", label="simulated", total_ink=2.5)
    white = condition.connection.to_absolute(condition.connection.media_lab[None])
    inks = np.random.default_rng(8).random((300_000, 3)) ** 0.5
    inks = inks[condition.inverse.limits.legal(inks)]
    lab = condition.connection.to_absolute(condition.inverse.quick.lab(inks))
    solid = condition.connection.to_absolute(condition.inverse.quick.lab(np.array([[0.0, 0.0, 1.0]])))
    assert solid[0, 0] > white[0, 0] + 1.0
    body = condition_body(condition)
    (lightness, *tint), *_ = lab_to_ok(white)
    assert body.lean == pytest.approx(np.array(tint) / lightness, abs=1e-4)
    low = float(body.mesh()[0, :, 0].max())
    for level in (low + 3.0, low + 8.0):
        made = ConvexHull(lab[np.abs(lab[:, 0] - level) < 0.5, 1:]).volume
        assert ConvexHull(body.cut(level)).volume < 1.05 * made


def test_a_profile_of_a_glowing_ink_stands_round_its_white(monkeypatch):
    """Arithmetic: a device whose three inks move Lab each its own way, the last to lighter than the cloth."""
    ways = np.array([[-40.0, -40.0, -30.0], [-45.0, 65.0, 0.0], [3.0, -20.0, 90.0]])
    monkeypatch.setattr(
        gamut_bodies, "device_to_lab", lambda profile, device, intent: [95.0, 0.0, 0.0] + device @ ways
    )
    header = SimpleNamespace(colour_space="3CLR", device_class="prtr")
    body = gamut_bodies.profile_body(SimpleNamespace(header=header))
    assert body.lean == pytest.approx([0.0, 0.0], abs=1e-3)
    assert body.boundary.lightness.max() <= lab_to_ok(np.array([[95.0, 0.0, 0.0]]))[0, 0]
    # What is lighter than the cloth is little of the whole, a parallelepiped.
    assert body.volume() == pytest.approx(abs(np.linalg.det(ways)), rel=0.06)


def test_limits_and_inks_by_name_only_bind(small_readings):
    """Yellow alone: no colour of blue hue, and of its own hue the full ink."""
    condition = small_readings.condition
    limits = condition.inverse.limits.without(np.array([True, True, False]))
    alone = replace(condition.inverse, limits=limits)

    class YellowOnly:
        inverse, connection, n_inks, white_recipe = alone, condition.connection, 3, None

    solid = condition.connection.to_absolute(condition.inverse.quick.lab(np.array([[0.0, 0.0, 1.0]])))[0]
    hue = float(np.degrees(np.arctan2(solid[2], solid[1])))
    own, blue = hue_reach(YellowOnly, [hue, hue + 180.0])
    assert own.chroma == pytest.approx(np.hypot(*solid[1:]), abs=0.1)
    assert own.lightness == pytest.approx(solid[0], abs=0.5)
    assert blue.chroma < 5


def test_a_corner_in_the_half_plane_counts_whatever_its_rounding():
    """A line of colours whose far end has the hue asked for, but for rounding to either side."""
    for aside in (-1e-12, 0.0, 1e-12):
        line = np.array([[[90.0, 1.0, 1.0], [80.0, 20.0, 3.0], [70.0, 60.0, aside]]])
        reach, light = _cut(line, 0.0)
        assert reach.tolist() == pytest.approx([60.0])
        assert light.tolist() == pytest.approx([70.0])
