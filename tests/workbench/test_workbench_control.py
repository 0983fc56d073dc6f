"""A strip that does not pass is told with what may be wrong with rows, columns and heads."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.condition.archive import write_condition
from strikeoff.measurement.write import write_readings
from strikeoff.mill.press import invented_press
from strikeoff.workbench import check_readings, verify


@pytest.fixture(scope="module")
def strip(small_readings):
    """Cloth, solids, tints and overprints of the small chart."""
    return replace(small_readings.readings.take(np.arange(32)), lines=())


@pytest.fixture(scope="module")
def cond(small_readings, tmp_path_factory):
    path = tmp_path_factory.mktemp("control") / "small.cond"
    write_condition(path, small_readings.condition)
    return path


def told(cond, readings, tmp_path):
    write_readings(tmp_path / "strip.csv", readings, header={"INK_NAMES": "C M Y"})
    result = verify(cond, tmp_path / "strip.csv")
    return result.outcome, [p for p in result.problems if p.severity == "warning"]


def test_a_good_strip_is_told_without_causes(cond, strip, tmp_path):
    outcome, warnings = told(cond, strip, tmp_path)
    assert outcome != "fail"
    assert warnings == []


def test_exchanged_rows(cond, strip, tmp_path):
    rows = [*range(16, 32), *range(16)]
    outcome, (warning,) = told(cond, replace(strip, spectra=strip.spectra[rows]), tmp_path)
    assert outcome == "fail"
    assert "rows are exchanged" in warning.message


def test_planes_in_the_wrong_heads(cond, strip, tmp_path):
    spectra = invented_press("T1", inks="CMY").print(strip.coverages[:, [1, 0, 2]])
    outcome, (warning, *_) = told(cond, replace(strip, spectra=spectra), tmp_path)
    assert outcome == "fail"
    assert "ink columns seem to be swapped: C and M" in warning.message
    assert "wrong heads" in warning.advice


@pytest.mark.parametrize(("light", "eye"), [("D50", "10"), ("D65", "10"), ("D65", "2")])
def test_colours_of_another_light_given_as_those_of_the_condition(cond, strip, tmp_path, light, eye):
    """Lab without a word of its light is taken as of D50/2, far from what the condition tells."""
    lab = spectra_to_lab(strip.spectra, strip.wavelengths_nm, light, eye)
    bare = replace(strip, spectra=None, wavelengths_nm=None, lab=lab)
    outcome, (warning, *_) = told(cond, bare, tmp_path)
    assert outcome == "fail"
    assert f"taken under {light}/{eye}, not under D50/2" in warning.message
    checked = check_readings(tmp_path / "strip.csv", condition=cond)
    assert f"taken under {light}/{eye}, not under D50/2" in checked.problems[0].message


def test_weak_heads_are_no_other_light(cond, strip, tmp_path):
    """Prints that lost a fifth of an ink, told in Lab of the condition's own light."""
    for ink in range(3):
        amounts = strip.coverages.copy()
        amounts[:, ink] *= 0.8
        spectra = invented_press("T1", inks="CMY").print(amounts)
        lab = spectra_to_lab(spectra, strip.wavelengths_nm)
        _, warnings = told(cond, replace(strip, spectra=None, wavelengths_nm=None, lab=lab), tmp_path)
        assert not [w for w in warnings if "taken under" in w.message]
