"""The mill's physics and presses."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.physics import (
    absorption_ratio_kubelka_munk_1931,
    reflectance_kubelka_munk_1931,
    with_ink_scaled,
)
from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press, press_from_readings
from strikeoff.mill.world import LABEL, fabric, ink_truth, names, printer


def lightness(press, coverages):
    return spectra_to_lab(press.print(coverages), press.wavelengths_nm)[:, 0]


def flat(reflectance):
    return np.full((1, WAVELENGTHS_NM.size), reflectance)


def test_kubelka_munk_goes_both_ways():
    reflectance = np.linspace(0.001, 1.0, 200)
    back = reflectance_kubelka_munk_1931(absorption_ratio_kubelka_munk_1931(reflectance))
    np.testing.assert_allclose(back, reflectance, rtol=1e-9)


def test_shrinkage_darkens_a_mid_grey_as_first_order_theory_says():
    # Solid mid-grey (L* 50) on L* 93 cloth, 6 x 3 % shrinkage: -1.4 L*. Calculated by hand from
    # (K/S - K/S cloth) x 1/((1-sL)(1-sW)); common practice, no source.
    cloth, grey = ((93 + 16) / 116) ** 3, ((50 + 16) / 116) ** 3
    after = with_ink_scaled(flat(grey), flat(cloth)[0], 1 / (0.94 * 0.97))
    lab = spectra_to_lab(np.vstack([flat(grey), after]), WAVELENGTHS_NM)
    assert lab[1, 0] - lab[0, 0] == pytest.approx(-1.4, abs=0.05)
    assert np.abs(lab[:, 1:]).max() < 0.05
    np.testing.assert_array_equal(with_ink_scaled(flat(cloth), flat(cloth)[0], 1.2), flat(cloth))


@pytest.mark.parametrize("name", names("printers"))
def test_more_ink_is_never_lighter(name):
    press = invented_press(name)
    base = np.random.default_rng(0).uniform(0, 0.5, (20, len(press.inks)))
    for ink in range(len(press.inks)):
        ramp = []
        for amount in np.linspace(0, 1, 9):
            recipe = base.copy()
            recipe[:, ink] = amount
            ramp.append(press.print(recipe).mean(axis=1))
        change = np.diff(ramp, axis=0)
        # Ink that lies first keeps some of the later out, so a pale ink may cost a hair of depth.
        assert change.max() < 0.004
    spectra = press.print(np.random.default_rng(1).random((50, len(press.inks))))
    assert spectra.min() >= press.printer.surface
    assert spectra.max() < 1


def test_inks_have_the_hue_of_their_names():
    press = invented_press("T1", inks="CMYK")
    lab = spectra_to_lab(press.print(np.vstack([np.zeros(4), np.eye(4)])), press.wavelengths_nm)
    white, cyan, magenta, yellow, black = lab
    assert white[0] > 92
    assert cyan[1] < -25
    assert cyan[2] < -25
    assert magenta[1] > 50
    assert yellow[2] > 60
    assert black[0] < 30
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    assert 200 < hue[1] < 250
    assert hue[2] > 340 or hue[2] < 10
    assert 80 < hue[3] < 100


def test_ink_gain_darkens_and_order_matters():
    press = invented_press("T3", inks="CM")
    half = [[0.5, 0.5]]
    assert lightness(press, half) - lightness(press, [[0.5, 0.6]]) > 0
    assert press.print(half, [1.0, 1.1]).mean() < press.print(half).mean()
    other = invented_press("T3", inks="MC")
    assert np.abs(press.print([[1.0, 0.9]]) - other.print([[0.9, 1.0]])).max() > 0.002


def test_world_file_is_whole_and_labelled():
    assert LABEL == "simulated, not yet shown on cloth"
    for name in names("printers"):
        assert all(ink_truth(letter).floor > 0 for letter in printer(name).inks)
        assert printer(name).drop_pl > 0
    for name in names("fabrics"):
        assert all(-10 < change < 1 for change in fabric(name).change_percent)
        assert 0 < fabric(name).noise < 1
    assert len(names("fabrics")) == 7


def test_unknown_names_and_bad_coverages():
    for call in (
        lambda: invented_press("X"),
        lambda: invented_press("O2", inks="CMYKR"),
        lambda: fabric("felt"),
    ):
        with pytest.raises(UsageError):
            call()
    press = invented_press("O2")
    for bad in ([[0, 0, 0]], [[0, 0, 0, 1.2]], [[0, 0, 0, np.nan]], [0, 0, 0, 0]):
        with pytest.raises(InputError):
            press.print(bad)
    with pytest.raises(InputError):
        press.print([[0, 0, 0, 0]], [1, 1, 1, -1])


def made_readings(n=400, seed=2):
    press = invented_press("O2")
    rng = np.random.default_rng(seed)
    corners = np.array(np.meshgrid(*[[0.0, 1.0]] * 4)).reshape(4, -1).T
    recipes = np.vstack([corners, rng.random((n, 4)) ** 1.5])
    ids = tuple(map(str, range(len(recipes))))
    return press, ReadingSet(ids, ink_columns("CMYK"), recipes, press.print(recipes), press.wavelengths_nm)


def test_press_from_readings_repeats_them_and_fits_between():
    truth, readings = made_readings()
    press = press_from_readings(readings)
    np.testing.assert_allclose(press.print(readings.coverages), readings.spectra, rtol=1e-5)
    new = np.random.default_rng(9).random((60, 4)) * 0.9
    lab = spectra_to_lab(press.print(new), press.wavelengths_nm)
    expected = spectra_to_lab(truth.print(new), truth.wavelengths_nm)
    assert np.linalg.norm(lab - expected, axis=1).mean() < 2.5
    assert press.inks == ("C", "M", "Y", "K")


def test_press_from_readings_takes_their_finishing_off():
    _, readings = made_readings()
    before = press_from_readings(readings, ink_kept=1.1).print(readings.coverages)
    again = with_ink_scaled(before, before[0], 1.1)
    np.testing.assert_allclose(again, readings.spectra, rtol=1e-5)
    assert before[1:].mean() > readings.spectra[1:].mean()


def test_press_from_readings_averages_repeats_and_refuses_what_it_cannot_use():
    _, readings = made_readings()
    twice = readings.take(np.concatenate([np.arange(len(readings))] * 2))
    np.testing.assert_allclose(
        press_from_readings(twice).print([[0.3] * 4]), press_from_readings(readings).print([[0.3] * 4])
    )
    with pytest.raises(InputError, match="spectra"):
        press_from_readings(ReadingSet(("1",), ink_columns("CMYK"), np.zeros((1, 4))))
    with pytest.raises(InputError, match="without ink"):
        press_from_readings(readings.take(np.arange(1, 100)))
    with pytest.raises(InputError):
        press_from_readings(readings, ink_kept=0)


def test_press_from_measured_readings_predicts_held_out_patches():
    # Oracle: readings that the press has not seen; the 2,376-patch measured set.
    from strikeoff.colour.difference import delta_e_2000
    from strikeoff.measurement.embedded import measured_cmyk_text
    from strikeoff.measurement.read import parse_readings

    readings, _ = parse_readings(measured_cmyk_text().encode())
    held = np.random.default_rng(0).random(len(readings)) < 0.05
    held &= readings.coverages.any(axis=1)
    press = press_from_readings(readings.take(~held))
    out = readings.take(held)
    lab = spectra_to_lab(press.print(out.coverages), press.wavelengths_nm)
    difference = delta_e_2000(spectra_to_lab(out.spectra, out.wavelengths_nm), lab)
    assert difference.mean() < 2.0, difference.mean()
