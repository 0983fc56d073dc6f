"""A strip that does not pass is told with what may be wrong with rows, columns and heads."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.condition.archive import write_condition
from strikeoff.measurement.write import write_readings
from strikeoff.mill.press import invented_press
from strikeoff.workbench import verify


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
