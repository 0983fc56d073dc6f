"""Wavelengths in a file of readings that stand at each other's values."""

import numpy as np
import pytest

from strikeoff.measurement.band_order import exchanged_bands
from strikeoff.measurement.read import parse_readings
from strikeoff.mill.press import WAVELENGTHS_NM, invented_press


@pytest.fixture(scope="module")
def spectra():
    """Simulated: random recipes of four inks, read with a scatter of 0.2 % of the reflectance."""
    rng = np.random.default_rng(3)
    printed = invented_press("T1", inks="CMYK").print(rng.random((60, 4)) ** 2)
    return printed * rng.normal(1, 0.002, printed.shape)


def table(spectra, names):
    lines = ["SAMPLE_ID," + ",".join(f"SPEC_{nm:g}" for nm in names)]
    lines += [f"P{k}," + ",".join(f"{value:.5f}" for value in row) for k, row in enumerate(spectra)]
    return ("\n".join(lines) + "\n").encode()


def told(spectra, names):
    _, problems = parse_readings(table(spectra, names), source="a.csv", need_inks=False)
    return [p for p in problems if p.where == "columns of spectra"]


def exchanged(first, second):
    order = np.arange(len(WAVELENGTHS_NM))
    order[[first, second]] = second, first
    return order


@pytest.mark.parametrize(("first", "second"), [(8, 9), (15, 16), (20, 23)])
def test_exchanged_names_are_an_error(spectra, first, second):
    names = WAVELENGTHS_NM[exchanged(first, second)]
    (problem,) = told(spectra, names)
    assert problem.severity == "error"
    assert f"{WAVELENGTHS_NM[first]:g} nm and {WAVELENGTHS_NM[second]:g} nm" in problem.message


def test_exchanged_values_under_ordered_names_are_warned_of(spectra):
    (problem,) = told(spectra[:, exchanged(15, 16)], WAVELENGTHS_NM)
    assert (problem.severity, problem.found) == ("warning", None)
    assert "530 nm and 540 nm seem to be exchanged" in problem.message


def test_columns_out_of_order_count_by_their_names(spectra):
    order = exchanged(15, 16)
    (problem,) = told(spectra[:, order], WAVELENGTHS_NM[order])
    assert (problem.severity, problem.found) == ("note", "540 nm before 530 nm")
    readings, _ = parse_readings(
        table(spectra[:, order], WAVELENGTHS_NM[order]), source="a.csv", need_inks=False
    )
    np.testing.assert_allclose(readings.spectra, spectra, atol=1e-5)
    # From long to short is an order too.
    assert told(spectra[:, ::-1], WAVELENGTHS_NM[::-1]) == []


def test_sound_spectra_of_many_bands_are_left_alone(spectra):
    assert told(spectra, WAVELENGTHS_NM) == []
    fine = np.arange(380, 731)
    rows = np.array([np.interp(fine, WAVELENGTHS_NM, row) for row in spectra])
    assert exchanged_bands(np.repeat(rows, 10, axis=0)) is None
