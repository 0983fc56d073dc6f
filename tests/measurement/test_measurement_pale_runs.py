"""White lines through a strip of patches are found; clean sets raise no alarm.

The rule is common practice, no source; rates are measured here.
"""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.measurement.csv_text import format_csv
from strikeoff.measurement.pale_runs import pale_runs
from strikeoff.measurement.read import parse_readings, readings_lab


def part(whole, n, seed):
    """Random patches with the bare cloth first."""
    rng = np.random.default_rng(seed)
    inked = np.flatnonzero(whole.coverages.max(axis=1) > 0)
    bare = int(np.argmin(whole.coverages.max(axis=1)))
    return whole.take(np.append(bare, rng.choice(inked, n - 1, replace=False)))


def with_lines(readings, rows, share):
    spectra = readings.spectra.copy()
    spectra[rows] = (1 - share) * spectra[rows] + share * spectra[0]
    return replace(readings, spectra=spectra, xyz=None, lab=None)


def test_clean_sets_raise_no_alarm(measured_set, smoothed_set):
    for whole in (measured_set, smoothed_set):
        assert pale_runs(whole, readings_lab(whole)) == []
        for n in (60, 120, 300):
            for seed in range(4):
                some = part(whole, n, seed)
                assert pale_runs(some, readings_lab(some)) == [], (n, seed)


@pytest.mark.parametrize("share", [0.15, 0.3])
def test_white_lines_through_a_strip_are_found(measured_set, share):
    found = 0
    for seed in range(6):
        some = with_lines(part(measured_set, 300, seed), slice(90, 105), share)
        for finding in pale_runs(some, readings_lab(some)):
            first, last = min(finding.explains), max(finding.explains)
            found += abs(first - 90) < 6 and abs(last - 104) < 6
            assert "nozzles" in finding.problem.advice
    assert found >= (5 if share < 0.2 else 6)


def test_a_condition_finds_a_weaker_fault(measured_set):
    """Predicted from the clean readings themselves, as a condition does."""
    clean = part(measured_set, 200, 3)
    some = with_lines(clean, slice(50, 62), 0.08)
    (finding,) = pale_runs(some, readings_lab(some), readings_lab(clean))
    assert finding.problem.where.endswith(f"patches {some.sample_ids[50]} to {some.sample_ids[61]}")
    darker = with_lines(clean, slice(50, 62), -0.1)
    assert pale_runs(darker, readings_lab(darker), readings_lab(clean)) == []


def test_little_to_judge_by(measured_set):
    few = part(measured_set, 30, 1)
    assert pale_runs(few, readings_lab(few)) == []
    no_cloth = part(measured_set, 60, 1).take(np.arange(1, 60))
    assert pale_runs(no_cloth, readings_lab(no_cloth)) == []


def test_spectra_of_an_unknown_scale_warn(measured_set):
    some = part(measured_set, 30, 2)
    odd = replace(some, spectra=some.spectra * 5, xyz=None, lab=None)
    _, problems = parse_readings(format_csv(odd).encode(), source="odd")
    assert [p for p in problems if "next to nothing" in p.message]
    # Divided by 100 once too often; one patch of black alone is no chart.
    twice = replace(some, spectra=some.spectra / 100, xyz=None, lab=None)
    _, problems = parse_readings(format_csv(twice).encode(), source="twice")
    assert [p for p in problems if "next to nothing" in p.message]
    _, problems = parse_readings(format_csv(twice.take(np.arange(1))).encode(), source="one")
    assert not [p for p in problems if "next to nothing" in p.message]
    _, problems = parse_readings(format_csv(replace(some, xyz=None, lab=None)).encode(), source="plain")
    assert not [p for p in problems if "next to nothing" in p.message]
