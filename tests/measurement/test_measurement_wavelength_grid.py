"""Wavelengths in even steps but for one are misnamed; gaps and uneven grids are not."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.measurement.read import read_readings, readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.wavelength_grid import grid_problems, misnamed_band

# As instruments for prints export them: 36 bands of 10 nm, 31 of 10, 16 of 20.
EVEN = [np.arange(380.0, 731, 10), np.arange(400.0, 701, 10), np.arange(400.0, 701, 20)]


@pytest.mark.parametrize("waves", EVEN, ids=len)
def test_each_wavelength_that_is_misnamed_by_half_a_step_is_found(waves):
    half = np.diff(waves)[0] / 2
    for band, name in enumerate(waves):
        wrong = waves.copy()
        wrong[band] += half
        found, meant = misnamed_band(wrong)
        assert found == band
        assert meant == (None if band in (0, len(waves) - 1) else name)
    assert misnamed_band(waves) is None


@pytest.mark.parametrize("waves", EVEN, ids=len)
@pytest.mark.parametrize("off", [300.0, -300.0, 440.0])
def test_a_wavelength_named_far_beyond_the_others_is_found(waves, off):
    """850 for 550, by a slip of one key; the first and last leave no gap behind."""
    for name in waves[1:-1]:
        wrong = np.sort(np.where(waves == name, name + off, waves))
        away = max(waves[0] - wrong[0], wrong[-1] - waves[-1]) / np.diff(waves)[0]
        if len(set(wrong)) < len(waves) or away < 3:
            continue
        band, meant = misnamed_band(wrong)
        assert (wrong[band], meant) == (name + off, name)
    assert misnamed_band(np.delete(waves, [5, len(waves) - 2])) is None


@pytest.mark.parametrize("waves", EVEN, ids=len)
def test_gaps_and_uneven_grids_have_no_misnamed_wavelength(waves):
    for band in range(1, len(waves) - 1):
        (told,) = grid_problems(np.delete(waves, band))
        assert told.severity == "warning"
        assert "are missing" in told.message
    # Pixels of a spectrometer, whose steps grow, and steps of 10/3 nm as whole numbers tell them.
    assert misnamed_band(380.0 + np.cumsum(np.linspace(3.0, 4.0, 90))) is None
    assert misnamed_band(np.rint(np.arange(380.0, 731, 10 / 3))) is None


def test_the_file_is_refused_by_the_name_of_the_column(tmp_path):
    names = [f"SPEC_{nm}" for nm in (*range(400, 550, 10), 555, *range(560, 701, 10))]
    path = tmp_path / "x.csv"
    path.write_text(",".join(["SAMPLE_ID", *names]) + "\nA," + ",".join(["0.5"] * 31) + "\n")
    _, problems = read_readings(path, need_inks=False)
    (error,) = [p for p in problems if p.severity == "error"]
    assert (error.where, error.found) == ("columns of spectra", "555 nm")
    assert "550 nm in its place" in error.expected


def test_colours_of_spectra_with_a_wavelength_far_beyond_the_others_are_refused_by_its_name():
    waves = np.array([*range(400, 550, 10), *range(560, 701, 10), 850], dtype=float)
    readings = ReadingSet(("A",), (), np.zeros((1, 0)), spectra=np.full((1, 31), 0.5), wavelengths_nm=waves)
    with pytest.raises(InputError, match=r"850 nm.*550 nm in its place"):
        readings_lab(readings)
