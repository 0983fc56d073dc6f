"""A fault of many rows is told first, once, and takes what it explains with it; nothing is dropped.

Faults are planted in measured readings; the order is common practice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.measurement.consistency import check_consistency
from strikeoff.measurement.examine import examine
from strikeoff.measurement.findings import Finding, Rank, problems_in_order
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.press import press_from_readings


@pytest.fixture(scope="module")
def press(measured_set):
    return press_from_readings(measured_set)


def part(whole, n, seed):
    """Random patches with the bare cloth first."""
    rng = np.random.default_rng(seed)
    inked = np.flatnonzero(whole.coverages.max(axis=1) > 0)
    bare = int(np.argmin(whole.coverages.max(axis=1)))
    return whole.take(np.append(bare, rng.choice(inked, n - 1, replace=False)))


def with_lab(readings, lab):
    return replace(readings, spectra=None, wavelengths_nm=None, xyz=None, lab=lab)


def starved(readings, press, ink, rows, loss=0.3):
    thin = readings.coverages[rows].copy()
    thin[:, ink] *= 1 - loss
    spectra = readings.spectra.copy()
    spectra[rows] *= press.print(thin) / press.print(readings.coverages[rows])
    return replace(readings, spectra=spectra, xyz=None, lab=None)


def told(readings, predicted=None):
    """Return what stands for itself and what that explains, without notes."""
    problems = [p for p in examine(readings, predicted).problems if p.severity != "note"]
    causes = [p for p in problems if p.cause is None]
    assert problems[: len(causes)] == causes, "what is explained comes last"
    assert {p.cause for p in problems if p.cause} <= {p.title for p in causes}
    return causes, [p for p in problems if p.cause is not None]


def test_clean_sets_are_silent(measured_set, smoothed_set):
    assert told(measured_set) == told(smoothed_set) == ([], [])


@pytest.mark.parametrize("seed", [0, 1])
@pytest.mark.parametrize("ink", [0, 1, 3])
def test_lost_ink_explains_its_patches(measured_set, press, seed, ink):
    some = starved(part(measured_set, 300, seed), press, ink, slice(60, 90))
    (cause,), explained = told(some)
    assert f"ink {'CMYK'[ink]} lack some of it" in cause.message
    alone = [p.title for p in check_consistency(some) if p.severity != "note"]
    assert set(alone) <= {p.title for p in explained}
    assert any("does not fit its neighbours" in title for title in alone)


@pytest.mark.parametrize("ink", [0, 3])
def test_a_head_that_starves_to_the_end_is_no_drift(measured_set, press, ink):
    some = starved(part(measured_set, 300, 1), press, ink, slice(240, 300))
    (cause,), explained = told(some)
    assert "lack some of it" in cause.message
    assert any("drift" in p.message for p in explained)
    assert examine(some).sequence == ()


@pytest.mark.parametrize("first", [0, 20])
def test_a_shifted_strip_explains_its_patches(measured_set, first):
    """From row 0 on the bare cloth is wrong as well, and all that is judged by it."""
    some = part(measured_set, 300, 0)
    lab = readings_lab(some).copy()
    lab[first : first + 20] = lab[first + 1 : first + 21]
    (cause,), explained = told(with_lab(some, lab))
    assert "a patch was skipped or read twice" in cause.message
    assert len(explained) >= 8
    assert any("bare cloth is darker" in p.message for p in explained) == (first == 0)


def test_swapped_solids_are_no_swapped_columns(smoothed_set):
    """What would be an error by itself makes its cause one."""
    alone = [
        int(
            np.flatnonzero((smoothed_set.coverages[:, i] == 1) & (smoothed_set.coverages.sum(axis=1) == 1))[0]
        )
        for i in (0, 1)
    ]
    lab = smoothed_set.lab.copy()
    lab[alone] = lab[alone[::-1]]
    (cause,), explained = told(with_lab(smoothed_set, lab))
    assert cause.severity == "error"
    assert "rows are exchanged" in cause.message
    assert any("ink columns seem to be swapped" in p.message for p in explained)
    with pytest.raises(Exception, match="rows are exchanged") as caught:
        raise_first_error([cause, *explained], "a.txt")
    assert "more)" not in str(caught.value)


def test_a_drift_explains_what_is_gone_without_it(measured_set):
    lab = readings_lab(measured_set)
    drifted = lab + np.linspace(-0.5, 0.5, len(lab))[:, None] * [8, -3, 4]
    (cause,), explained = told(with_lab(measured_set, drifted))
    assert "drift" in cause.message
    assert any("lighter than the bare cloth" in p.message for p in explained)
    drifted[380] += [0, 30, 0]
    causes, explained = told(with_lab(measured_set, drifted))
    assert [p.message for p in causes[1:]] == ["patch does not fit its neighbours"]
    assert measured_set.sample_ids[380] in causes[1].where
    assert explained


def test_patches_beside_a_run_stand_for_themselves(measured_set, press):
    some = starved(part(measured_set, 300, 0), press, 0, slice(60, 90))
    spectra = some.spectra.copy()
    spectra[200] = some.spectra[0]
    causes, _ = told(replace(some, spectra=spectra))
    assert "lack some of it" in causes[0].message
    assert any(some.sample_ids[200] in p.where for p in causes[1:])


def test_white_lines_explain_their_patches(smoothed_set):
    rng = np.random.default_rng(2)
    inked = np.flatnonzero((smoothed_set.coverages[:729, 1] >= 0.4) & (smoothed_set.coverages[:729, 3] == 0))
    hurt = rng.choice(inked, 20, replace=False)
    lab = smoothed_set.lab.copy()
    lab[hurt] = 0.6 * lab[hurt] + 0.4 * smoothed_set.lab[smoothed_set.coverages.max(axis=1) == 0][0]
    causes, explained = told(with_lab(smoothed_set, lab))
    lines = [p for p in causes if "lighter than their neighbours" in p.message]
    assert len(lines) == 1
    assert "ink M" in lines[0].message
    assert sum(p.cause == lines[0].title for p in explained) >= 10


def test_a_wrong_order_of_columns_is_one_error(smoothed_set):
    for order in ([1, 0, 2], [2, 1, 0]):
        (cause,), explained = told(with_lab(smoothed_set, smoothed_set.lab[:, order]))
        assert "lightness is impossible" in cause.message
        assert any("dark and vivid" in p.message for p in explained)


def test_order_and_shares():
    """A group is explained by half of its rows, a patch by one; ranks decide the order."""

    def finding(rank, rows=(), share=0.0, explains=()):
        problem = Problem("warning", rank.name, "odd")
        return Finding(problem, rank, rank.name, frozenset(rows), share, frozenset(explains))

    run = finding(Rank.RUN, explains={1, 2})
    setup, patch = finding(Rank.SETUP), finding(Rank.PATCH, {2, 9})
    for rows, alone in (({1, 2, 3, 4}, False), ({1, 2, 3, 4, 5}, True), ({7}, True)):
        found = problems_in_order([patch, finding(Rank.GROUP, rows, 0.5), run, setup])
        assert [p.where for p in found if p.cause is None] == ["SETUP", "RUN"] + ["GROUP"] * alone
        assert {p.cause for p in found if p.cause} == {"RUN: odd"}
        assert len(found) == 4


def test_numbers_beside_their_limits_read_unlike_them(measured_set, press):
    """30 patches lose 25 % of cyan and are 6.4 % paler, which is not 'less than 6'."""
    whole = starved(measured_set, press, 0, slice(1200, 1230), 0.25)
    (cause,), explained = told(whole)
    assert "patches 1201 to 1230" in cause.where
    pale = [p for p in explained if "paler" in p.message]
    assert len(explained) >= 15
    for problem in pale:
        assert problem.found.split(" %")[0] != problem.expected.removeprefix("less than ").split(" %")[0]


def dark_cloth(white_ramp):
    """An ink and white on cloth of L* 30: five steps of each alone, and the ink over white."""
    amounts = [0.2, 0.4, 0.6, 0.8, 1.0]
    inks = [(0.0, 0.0)] + [(a, 0.0) for a in amounts] + [(0.0, a) for a in amounts] + [(0.5, 1.0)]
    lightness = [30.0, 29.0, 28.0, 27.0, 26.0, 25.0, *white_ramp, 55.0]
    lab = np.column_stack([lightness, np.zeros((len(inks), 2))])
    names = tuple(str(n) for n in range(len(inks)))
    return ReadingSet(names, ("2CLR_1", "2CLR_2"), np.array(inks), lab=lab)


def test_white_ink_on_dark_cloth_is_no_fault():
    """It rises step by step from the cloth; all patches that are lighter hold it."""
    said = [p for p in examine(dark_cloth([45.0, 58.0, 68.0, 76.0, 82.0])).problems if "cloth" in p.message]
    assert [p.severity for p in said] == ["note"]
    assert said[0].message == "6 patches are lighter than the cloth, with ink 2"


@pytest.mark.parametrize(("names", "severity"), [(("K", "White"), "note"), (("K", "Blue"), "warning")])
def test_white_over_colours_without_steps_lightens_dark_cloth(names, severity):
    """An ink named white was printed full alone and over others, and never in steps."""
    lab = np.array([[30.0, 0, 0], [28, 0, 0], [26, 0, 0], [24, 0, 0], [22, 0, 0], [82, 0, 0], [60, 0, 0]])
    amounts = np.array([[0, 0], [0.25, 0], [0.5, 0], [0.75, 0], [1, 0], [0, 1], [0.5, 1]], dtype=float)
    readings = ReadingSet(tuple("1234567"), ("2CLR_1", "2CLR_2"), amounts, lab=lab)
    readings = replace(readings, keywords={"INK_NAMES": " ".join(names)})
    said = [p for p in examine(readings).problems if "cloth" in p.message]
    assert [p.severity for p in said] == [severity]
    assert ("with ink White" in said[0].message) is (severity == "note")


@pytest.mark.parametrize(
    ("cloth", "yellow", "severity"), [(25.0, 30.0, "note"), (25.0, 45.0, "warning"), (94.0, 99.0, "warning")]
)
def test_pigment_that_few_patches_hold_may_lighten_dark_cloth_a_little(cloth, yellow, severity):
    """Yellow pigment on navy cloth, printed full alone and in a mixture, beside a ramp of white."""
    ramp = np.linspace(cloth, max(90.0, cloth + 4.0), 6)[1:]
    amounts = np.array([[0, 0], *[[0, a] for a in (0.2, 0.4, 0.6, 0.8, 1.0)], [1, 0], [0.8, 0.3]])
    lab = np.zeros((len(amounts), 3))
    lab[:, 0] = [cloth, *ramp, yellow, cloth + 3.5]
    readings = ReadingSet(tuple("12345678"), ("2CLR_1", "2CLR_2"), amounts, lab=lab)
    readings = replace(readings, keywords={"INK_NAMES": "Y White"})
    told_of = [p for p in examine(readings).problems if "lighter than" in p.message or "darker" in p.message]
    assert [p.severity for p in told_of] == [severity]


@pytest.mark.parametrize("ramp", [[92.0, 90.0, 88.0, 87.0, 86.0], [80.0, 81.0, 82.0, 83.0, 84.0]])
def test_cloth_that_was_read_too_dark_is_a_fault(ramp):
    """All steps lie far above it at once."""
    said = [p for p in examine(dark_cloth(ramp)).problems if "bare cloth" in p.message]
    assert [p.severity for p in said] == ["warning"]
    assert "bare cloth is darker than 6 patches" in said[0].message


@pytest.mark.parametrize(("peak", "warned"), [(1.4, False), (1.0, True)])
def test_fluorescent_ink_is_lighter_than_the_cloth_by_right(peak, warned):
    """Yellow that sends out green light: its first step is lighter than the cloth at once."""
    amounts = np.array([[0.0, 0.0], *([a, 0.0] for a in (0.25, 0.5, 0.75, 1.0)), [0.0, 0.5], [0.0, 1.0]])
    wavelengths = np.arange(400.0, 701.0, 10.0)
    spectra = np.full((len(amounts), len(wavelengths)), 0.75)
    green = np.exp(-(((wavelengths - 540.0) / 60.0) ** 2))
    spectra[1:5] += (peak - 0.75) * green
    spectra[5:] = [[0.4], [0.1]]
    names = tuple(str(n) for n in range(len(amounts)))
    readings = ReadingSet(names, ("2CLR_1", "2CLR_2"), amounts, spectra=spectra, wavelengths_nm=wavelengths)
    said = [p for p in examine(readings).problems if "cloth" in p.message and p.severity == "warning"]
    assert bool(said) is warned


def test_a_lighter_patch_without_white_is_a_fault():
    readings = dark_cloth([45.0, 58.0, 68.0, 76.0, 82.0])
    lab = readings.lab.copy()
    lab[3, 0] = 60.0
    said = [p for p in examine(replace(readings, lab=lab)).problems if "bare cloth is darker" in p.message]
    assert [p.severity for p in said] == ["warning"]


def test_planes_in_the_wrong_heads_are_no_exchanged_rows(measured_set, press):
    """C and M exchanged in all recipes: mirror images fit each other's rows, but the heads are the cause."""
    alone = np.flatnonzero((measured_set.coverages > 0).sum(axis=1) <= 1)
    readings = part(measured_set.take(np.unique(np.append(alone, np.arange(0, 900, 15)))), 80, 1)
    predicted = spectra_to_lab(press.print(readings.coverages), measured_set.wavelengths_nm, "D50", "2")
    spectra = press.print(readings.coverages[:, [1, 0, 2, 3]])
    (cause, *others), _ = told(replace(readings, spectra=spectra, xyz=None, lab=None), predicted)
    assert "ink columns seem to be swapped: C and M" in cause.message
    assert "wrong heads" in cause.advice
    assert not [p for p in others if "exchanged" in p.message]


def test_a_patch_far_from_the_prediction_is_named_once(measured_set):
    """A dead nozzle in one patch of a small chart, whose neighbours say little; not a press that changed."""
    readings = part(measured_set, 35, 2)
    predicted = readings_lab(readings)
    lab = predicted + np.random.default_rng(2).normal(0.0, 0.4, predicted.shape)
    assert told(with_lab(readings, lab), predicted) == ([], [])
    row = 20
    lab[row] += [8.0, 0.0, 0.0]
    (warning,), _ = told(with_lab(readings, lab), predicted)
    assert readings.sample_ids[row] in warning.where
    assert "far from what the condition predicts" in warning.message
    weaker = predicted + [9.0, 0.0, 0.0] * (readings.coverages[:, :1] > 0.3)
    assert not [p for p in told(with_lab(readings, weaker), predicted)[0] if "predicts" in p.message]
