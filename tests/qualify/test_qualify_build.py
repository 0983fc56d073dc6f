"""Conditions of cloths of other physics, other ink sets, small charts and poor files."""

import numpy as np
import pytest
from simulated_cloth import cloth, made

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.weights import weighting_factors
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.mill.press import WAVELENGTHS_NM
from strikeoff.model.inverse import solve
from strikeoff.qualify import profile_grids
from strikeoff.qualify.profiles import build_profiles

pytestmark = pytest.mark.usefixtures("coarse_gamut")


@pytest.mark.parametrize(
    ("printer", "inks", "patches", "most"),
    [
        ("T1", "CMY", 200, 0.4),
        ("T1", "CMYK", 300, 0.6),
        ("T2", "CMYKO", 200, 1.2),
    ],
)
def test_cloths_of_other_physics(printer, inks, patches, most, monkeypatch):
    # A field of few nodes, which takes less long; the seven inks below have all.
    monkeypatch.setattr("strikeoff.model.node_solving.refine", lambda guide, limits, coarse, *rest: coarse)
    press, readings = cloth(inks, patches, printer)
    holds(press, made(readings), most)


def test_seven_inks_of_other_physics(seven_inks):
    holds(*seven_inks, 2.0)


def test_whatever_seven_inks_make_they_find_again(seven_inks):
    """Corners of the legal recipes and mixtures of two, in gamut by construction, as single colours."""
    _, condition = seven_inks
    corners = condition.limits.corners()
    rng = np.random.default_rng(1)
    first, second = rng.integers(0, len(corners), (2, 300))
    share = rng.random((300, 1))
    inks = np.vstack([corners, share * corners[first] + (1.0 - share) * corners[second]])
    found = solve(condition.inverse, condition.native.lab(inks))
    assert condition.limits.legal(found.inks).all()
    assert found.de00.mean() <= 0.05
    assert found.de00.max() <= 0.5


def holds(press, condition, most):
    """The model is as near to the mill's truth as it says, and recipes are legal and exact."""
    assert condition.validation.figure("all").mean < 2 * most
    rng = np.random.default_rng(9)
    fresh = condition.limits.random(200, rng)
    truth = condition.native.view.lab(press.print(fresh))
    error = delta_e_2000(truth, condition.native.lab(fresh))
    assert error.mean() < most  # hidden truth of the mill
    found = solve(condition.inverse, condition.native.lab(fresh[:60]))
    assert found.de00.mean() < 0.05
    assert condition.limits.legal(found.inks).all()


def test_numbered_inks_without_a_black(monkeypatch):
    _, readings = cloth("CMY", 120)
    condition = made(readings, validated=False)
    assert condition.inks == ("1", "2", "3")
    assert condition.inverse.black is None
    found = solve(condition.inverse, condition.native.lab(np.array([[0.3, 0.2, 0.6]])))
    np.testing.assert_allclose(found.inks, [[0.3, 0.2, 0.6]], atol=0.02)  # three inks: one answer
    monkeypatch.setattr(profile_grids, "_LEVELS", (5,))
    monkeypatch.setattr(profile_grids, "_LARGEST", {3: 5})
    assert set(build_profiles(condition)) == {2, 4}


def test_readings_with_xyz_only():
    press, spectral = cloth("CMY", 150)
    weights = weighting_factors("D50", "2", WAVELENGTHS_NM)
    readings = ReadingSet(
        spectral.sample_ids, spectral.ink_columns, spectral.coverages, xyz=spectral.spectra @ weights
    )
    condition = made(readings, validated=False)
    assert not condition.has_spectra
    fresh = np.random.default_rng(1).random((100, 3)) * 0.8
    truth = condition.native.view.lab(press.print(fresh) @ weights / condition.native.view.white)
    assert delta_e_2000(truth, condition.native.lab(fresh)).mean() < 0.6
    with pytest.raises(UsageError):
        condition.under("A")


def test_sixty_patches():
    press, readings = cloth("CMYK", 60)
    condition = made(readings, validated=False)
    fresh = condition.limits.random(200, np.random.default_rng(2))
    truth = condition.native.view.lab(press.print(fresh))
    assert delta_e_2000(truth, condition.native.lab(fresh)).mean() < 2.5


def test_repeats_are_averaged():
    _, readings = cloth("CMY", 100)
    noisy = np.vstack([readings.spectra * 1.02, readings.spectra * 0.98])
    twice = ReadingSet(
        readings.sample_ids * 2,
        readings.ink_columns,
        np.vstack([readings.coverages] * 2),
        spectra=noisy,
        wavelengths_nm=WAVELENGTHS_NM,
    )
    condition = made(twice, validated=False)
    single = merge_repeats(readings)
    assert len(condition.forward.recipes) == len(single)
    np.testing.assert_allclose(condition.forward.bands, single.spectra, atol=1e-9)


def test_total_ink_warnings():
    _, readings = cloth("CMY", 100)
    highest = readings.coverages.sum(axis=1).max()
    silent = made(readings, total_ink=None, validated=False)
    assert silent.limits.total == pytest.approx(highest, abs=1e-4)
    assert any("no limit was given" in problem.message for problem in silent.problems)
    above = made(readings, total_ink=highest + 0.2, validated=False)
    assert any("extrapolated" in problem.message for problem in above.problems)
    assert not made(readings, total_ink=highest - 0.1, validated=False).problems


def changed(readings, rows=slice(None), coverages=None):
    inks = readings.coverages if coverages is None else coverages
    return ReadingSet(
        readings.sample_ids[rows],
        readings.ink_columns,
        inks[rows],
        spectra=readings.spectra[rows],
        wavelengths_nm=WAVELENGTHS_NM,
    )


def test_bad_charts_say_what_is_missing():
    _, readings = cloth("CMY", 60)
    with pytest.raises(InputError, match="no patch of bare cloth"):
        made(changed(readings, slice(1, None)))
    with pytest.raises(InputError, match=r"3CLR_2.*never printed"):
        made(changed(readings, coverages=readings.coverages * np.array([1, 0, 1])))
    with pytest.raises(InputError, match="too few distinct patches"):
        made(changed(readings, slice(0, 10)))
    with pytest.raises(UsageError, match="too low"):
        made(readings, total_ink=0.2)


def test_building_can_be_stopped():
    _, readings = cloth("CMY", 60)
    seen = []

    def progress(stage, fraction):
        seen.append(stage)
        if "gamut" in stage:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        made(readings, progress=progress, validated=False)
    assert len(set(seen)) >= 4
