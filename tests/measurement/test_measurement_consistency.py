"""Planted faults are found in real readings, and real readings raise no alarm.

Limits are common practice, no source.
"""

import itertools
import time
from dataclasses import replace

import numpy as np
import pytest

from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.measurement.consistency import check_consistency
from strikeoff.measurement.neighbours import neighbour_doubts, neighbour_residuals
from strikeoff.measurement.outliers import find_outliers
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.mill.press import WAVELENGTHS_NM, invented_press


def alarms(readings):
    return [p for p in check_consistency(readings) if p.severity != "note"]


def test_real_sets_raise_no_alarm(measured_set, smoothed_set):
    assert alarms(measured_set) == []
    assert alarms(smoothed_set) == []


def test_the_check_is_quick(measured_set):
    check_consistency(measured_set)
    start = time.process_time()
    check_consistency(measured_set)
    assert time.process_time() - start < 5  # about half a second on an idle core


def test_the_light_of_silent_columns_is_found(measured_set):
    (note,) = [p for p in check_consistency(measured_set) if "fits the spectra best" in p.message]
    assert "D50/2" in note.message
    for light in (("D65", "10"), ("D50", "10"), ("D65", "2")):
        lab = spectra_to_lab(measured_set.spectra, measured_set.wavelengths_nm, *light)
        other = replace(measured_set, lab=lab, xyz=None)
        assert any("/".join(light) in p.message for p in check_consistency(other))
        assert alarms(other) == []


def test_columns_of_another_light_than_stated_are_a_warning(measured_set):
    lab = spectra_to_lab(measured_set.spectra, measured_set.wavelengths_nm, "A", "10")
    stated = {"ILLUMINATION_NAME": "D50", "OBSERVER_ANGLE": "2"}
    (warning,) = alarms(replace(measured_set, lab=lab, xyz=None, keywords=stated))
    assert "LAB columns and spectra disagree" in warning.message
    assert "worst" in warning.found


def test_one_wrong_xyz_row_is_named(measured_set):
    xyz = measured_set.xyz.copy()
    xyz[1234] = xyz[1234][::-1] * 1.3
    (warning,) = alarms(replace(measured_set, xyz=xyz))
    assert warning.where == f"line {measured_set.lines[1234]}, patch {measured_set.sample_ids[1234]}"


def test_xyz_and_lab_without_spectra_are_compared(measured_set):
    xyz = spectra_to_xyz(measured_set.spectra, measured_set.wavelengths_nm)
    lab = spectra_to_lab(measured_set.spectra, measured_set.wavelengths_nm)
    bare = replace(measured_set, spectra=None, wavelengths_nm=None, xyz=xyz, lab=lab, setup=Setup())
    assert alarms(bare) == []
    (warning,) = alarms(replace(bare, lab=lab + np.array([0, 3, 0])))
    assert "LAB and XYZ columns disagree" in warning.message


@pytest.mark.parametrize("pair", list(itertools.combinations(range(4), 2)))
def test_swapped_ink_columns_are_an_error(pair, measured_set, smoothed_set):
    for readings in (measured_set, smoothed_set):
        order = list(range(4))
        order[pair[0]], order[pair[1]] = pair[1], pair[0]
        swapped = replace(readings, coverages=readings.coverages[:, order])
        (error,) = [p for p in check_consistency(swapped) if p.severity == "error"]
        assert f"{'CMYK'[pair[0]]} and {'CMYK'[pair[1]]}" in error.message
        assert error.where.startswith("line ")


def test_wavelengths_named_from_the_wrong_end_are_told_as_that_not_as_swapped_inks(measured_set):
    """A table whose columns are named 730 to 380 over values from 380 to 730 nm, of measured prints."""
    assert alarms(measured_set) == []
    turned = replace(measured_set, spectra=measured_set.spectra[:, ::-1], xyz=None, lab=None)
    (error,) = [p for p in check_consistency(turned) if p.severity == "error"]
    assert "wavelengths seem to be named from the wrong end" in error.message
    assert error.where == "columns of spectra"


def test_swapped_columns_of_named_inks_are_an_error(smoothed_set):
    """Numbered columns promise hues too where INK_NAMES names them, by letter or in full."""
    columns = tuple(f"4CLR_{i}" for i in (1, 2, 3, 4))
    for names in ("C M Y K", "Cyan Magenta Yellow Black"):
        named = replace(smoothed_set, ink_columns=columns, keywords={"INK_NAMES": names})
        assert alarms(named) == []
        swapped = replace(named, coverages=named.coverages[:, [1, 0, 2, 3]])
        (error,) = [p for p in check_consistency(swapped) if p.severity == "error"]
        assert " and ".join(names.split()[:2]) in error.message


def test_swapped_columns_of_further_inks_are_an_error():
    press = invented_press("T1", inks="CMYKOB")
    inks = np.vstack([np.zeros(6), *(step * np.eye(6) for step in (0.3, 0.6, 1.0))])
    columns = tuple(f"6CLR_{i}" for i in range(1, 7))
    names = tuple(str(i) for i in range(len(inks)))
    spectra = press.print(inks)
    for letters, wrong in (("C M Y K O B", ""), ("O M Y K C B", "O and C"), ("C M Y K B O", "B and O")):
        keywords = {"INK_NAMES": letters}
        readings = ReadingSet(
            names, columns, inks, spectra, WAVELENGTHS_NM, lines=tuple(range(len(inks))), keywords=keywords
        )
        errors = [p.message for p in check_consistency(readings) if p.severity == "error"]
        assert errors == ([f"ink columns seem to be swapped: {wrong}"] if wrong else [])


def test_swapped_lab_columns_are_an_error(smoothed_set):
    swapped = replace(smoothed_set, lab=smoothed_set.lab[:, [0, 2, 1]])
    assert any("LAB_A and LAB_B" in (p.advice or "") for p in alarms(swapped))


def test_inks_of_unknown_names_are_not_judged_by_hue(smoothed_set):
    other = replace(smoothed_set, ink_columns=tuple(f"4CLR_{i}" for i in (1, 2, 3, 4)))
    assert alarms(replace(other, coverages=other.coverages[:, [1, 0, 2, 3]])) == []


def test_planted_outliers_are_named_and_their_neighbours_are_not(smoothed_set):
    lab = smoothed_set.lab.copy()
    rows = [380, 800, 1010]
    lab[rows] += [[0, 18, 0], [-15, 0, 0], [0, 0, -14]]
    found = [p for p in alarms(replace(smoothed_set, lab=lab)) if "neighbours" in p.message]
    assert {p.where for p in found} == {
        f"line {smoothed_set.lines[row]}, patch {smoothed_set.sample_ids[row]}" for row in rows
    }


def test_a_smooth_surface_has_no_outliers_and_small_residuals():
    rng = np.random.default_rng(5)
    inks = rng.uniform(0, 1, (400, 3))
    lab = np.stack([90 - 60 * inks.mean(axis=1), 40 * inks[:, 0] ** 2, -30 * inks[:, 1]], axis=1)
    rows, _ = find_outliers(inks, lab)
    assert rows.size == 0
    assert np.median(neighbour_residuals(inks, lab, np.ones(400, dtype=bool))) < 1.0
    lab[7, 1] += 25
    assert find_outliers(inks, lab)[0].tolist() == [7]


def test_repeats_that_disagree_and_patches_lighter_than_cloth(smoothed_set):
    twins = replace(smoothed_set)
    paper = np.flatnonzero(twins.coverages.max(axis=1) == 0)
    lab = twins.lab.copy()
    lab[paper[0]] -= [12, 0, 0]
    assert any("differs from its repeat" in p.message for p in alarms(replace(twins, lab=lab)))
    lab = twins.lab.copy()
    row = int(np.flatnonzero(twins.coverages.sum(axis=1) > 1.5)[0])
    lab[row] = [99.5, 0, 0]
    (warning,) = [p for p in alarms(replace(twins, lab=lab)) if "cloth" in p.message]
    assert twins.sample_ids[row] in warning.where


def test_impossible_reflectance_is_a_warning(measured_set):
    spectra = measured_set.spectra.copy()
    spectra[10, 3] = -0.02
    spectra[20, 30] = 1.7
    found = [
        p for p in alarms(replace(measured_set, spectra=spectra, xyz=None)) if "reflectance" in p.message
    ]
    assert [measured_set.sample_ids[10] in found[0].where, measured_set.sample_ids[20] in found[1].where] == [
        True
    ] * 2


def test_few_or_inkless_readings_are_no_trouble(smoothed_set):
    for n in (1, 2, 5, 39):
        check_consistency(smoothed_set.take(np.arange(n)))
    inkless = replace(smoothed_set, ink_columns=(), coverages=np.zeros((len(smoothed_set), 0)))
    (told,) = check_consistency(inkless)
    assert told.message == "light of the colours is not wholly stated; they are read as of D50/2"
    stated = {"ILLUMINATION_NAME": "D50", "OBSERVER_ANGLE": "2"}
    assert check_consistency(replace(inkless, keywords=stated)) == []


def test_an_observer_that_does_not_exist_is_one_clear_error():
    text = "OBSERVER_ANGLE,5\nSAMPLE_ID,CMYK_C,CMYK_M,CMYK_Y,CMYK_K,LAB_L,LAB_A,LAB_B\n1,0,0,0,0,95,0,-2\n"
    _, problems = parse_readings(text.encode(), source="five degrees")
    errors = [problem for problem in problems if problem.severity == "error"]
    assert [(e.message, e.found) for e in errors] == [("observer is not known", "5")]
    _, fine = parse_readings(text.replace(",5\n", ",10\n").encode(), source="ten degrees")
    assert not [problem for problem in fine if problem.severity == "error"]


@pytest.mark.parametrize(("low", "severity"), [(-0.4, "error"), (-0.021, "error"), (-0.019, "warning")])
def test_clearly_negative_reflectance_is_an_error_at_its_patch(measured_set, low, severity):
    spectra = measured_set.spectra.copy()
    spectra[7, 3] = low
    found = [p for p in check_consistency(replace(measured_set, spectra=spectra)) if "negative" in p.message]
    assert [p.severity for p in found] == [severity]
    assert measured_set.sample_ids[7] in found[0].where


def test_a_trace_of_an_ink_that_no_neighbour_has_is_no_outlier():
    """A structured chart of three inks, and a few patches with a trace of a fourth."""
    steps = np.linspace(0.0, 1.0, 7)
    grid = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    solids = np.array([[-40.0, -35.0, -45.0], [-45.0, 70.0, -5.0], [-8.0, -5.0, 90.0]])
    odd = np.array([[0.67, 0.6, 0.56], [0.3, 0.9, 0.4], [0.2, 0.1, 0.5]])
    inks = np.vstack([np.pad(grid, ((0, 0), (0, 1))), np.pad(odd, ((0, 0), (0, 1)), constant_values=0.03)])
    shade = np.concatenate([np.zeros(len(grid)), [1.0, 1.0, 1.0]])
    lab = [93.0, 0.0, 2.0] + (1.0 - np.exp(-inks[:, :3])) @ solids + np.outer(shade, [-0.5, 1.0, 1.0])
    lab += np.random.default_rng(0).normal(0.0, 0.1, lab.shape)
    assert find_outliers(inks, lab)[0].size == 0
    residuals = neighbour_residuals(inks, lab, np.ones(len(inks), dtype=bool))
    assert residuals[-3:].max() < 4.0
    lab[[171, -1]] += [[0.0, 9.0, 0.0], [0.0, 20.0, 0.0]]
    assert sorted(find_outliers(inks, lab)[0]) == [171, len(inks) - 1]


def test_doubts_tell_where_neighbours_predict_badly():
    """Against the errors themselves: at corners, in gaps and where an ink is new."""
    rng = np.random.default_rng(2)
    inks = np.vstack([0.5 * rng.uniform(0, 1, (300, 4)), rng.uniform(0, 1, (60, 4))])
    inks[:300, 3] = 0.0
    lab = [93.0, 0.0, 0.0] + (1.0 - np.exp(-2.0 * inks)) @ rng.uniform(-50, 50, (4, 3))
    usable = np.ones(len(inks), dtype=bool)
    doubts, errors = neighbour_doubts(inks, usable), neighbour_residuals(inks, lab, usable)
    ranks = [np.argsort(np.argsort(values)) for values in (doubts, errors)]
    assert np.corrcoef(ranks)[0, 1] > 0.6
    assert np.median(doubts[300:]) > 3 * np.median(doubts[:300])


def glowing(seed, count):
    """Return recipes of C, M, K and an orange that sends back the blue light it takes, and their CIELAB."""
    rng = np.random.default_rng(seed)
    inks = rng.random((count, 4)) * (rng.random((count, 4)) < 0.5)
    inks[:5] = np.vstack([np.zeros(4), np.eye(4)])
    inks /= np.maximum(inks.sum(axis=1) / 2.4, 1.0)[:, None]
    press = invented_press("T1", inks="CMKO")
    plain = press.print(inks)
    taken = np.maximum(press.print(inks * [1, 1, 1, 0]) - plain, 0.0)
    blue = (WAVELENGTHS_NM > 430) & (WAVELENGTHS_NM < 530)
    glow = np.exp(-(((WAVELENGTHS_NM - 585.0) / 25.0) ** 2)) * plain / plain[0]
    spectra = plain + 2.0 * taken[:, blue].mean(axis=1, keepdims=True) * glow
    assert 1.5 < spectra.max() < 2.0
    return inks, spectra_to_lab(spectra, WAVELENGTHS_NM, "D50", "2") + rng.normal(0, 0.3, (count, 3))


def test_a_little_black_that_takes_a_glow_is_no_outlier_in_a_large_chart():
    """Neighbours alone accuse one good patch of 700; a wrong one is still named by both."""
    inks, lab = glowing(5, 700)
    assert find_outliers(inks, lab)[0].tolist() == []
    lab[100] += [12.0, 12.0, 12.0]
    assert find_outliers(inks, lab)[0].tolist() == [100]


def test_a_chart_that_adds_to_another_needs_neither_cloth_nor_all_inks(smoothed_set):
    few = smoothed_set.take(np.flatnonzero(smoothed_set.coverages[:, 0] > 0.5)[:3])
    said = [p.message for p in check_consistency(few)]
    assert "fewer recipes than inks" in said
    added = replace(few, keywords={**few.keywords, "CHART_KIND": "next"})
    assert not {"fewer recipes than inks", "no patch of bare cloth"} & {
        p.message for p in check_consistency(added)
    }
