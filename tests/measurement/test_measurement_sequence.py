"""Faults of the reading order, planted in the measured set, are found; clean sets raise no alarm.

Detection by neighbours in ink space: common practice, no source. Rates below are measured here.
"""

import itertools

import numpy as np
import pytest

from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.sequence import find_sequence_faults
from strikeoff.measurement.sequence_problems import sequence_findings, sequence_records
from strikeoff.measurement.sequence_runs import SequenceFault, join_pieces
from strikeoff.measurement.sequence_shifts import best_shift
from strikeoff.mill.press import invented_press

SEEDS = range(4)


@pytest.fixture(scope="module")
def full(measured_set):
    return measured_set.coverages, readings_lab(measured_set)


def subset(full, n, seed):
    rows = np.random.default_rng(seed).choice(len(full[1]), n, replace=False)
    return full[0][rows], full[1][rows].copy()


def spans(faults, kind):
    return [(f.rows, f.other) for f in faults if f.kind == kind]


def test_clean_sets_raise_no_alarm(full, smoothed_set):
    """0 of 26: two whole sets in their own order, 24 random parts."""
    assert find_sequence_faults(*full) == []
    assert find_sequence_faults(smoothed_set.coverages, smoothed_set.lab) == []
    for n in (60, 120, 300):
        for seed in range(100, 108):
            assert find_sequence_faults(*subset(full, n, seed)) == [], (n, seed)


@pytest.mark.parametrize("n", [100, 400])
def test_swapped_rows(full, n):
    found = 0
    for seed in SEEDS:
        inks, lab = subset(full, n, seed)
        far = np.linalg.norm(lab - lab[30], axis=1)
        other = int(np.argsort(far)[n // 2])
        lab[[30, other]] = lab[[other, 30]]
        a, b = sorted((30, other))
        found += spans(find_sequence_faults(inks, lab), "swap") == [((a, a), (b, b))]
    assert found >= 3


@pytest.mark.parametrize("n", [80, 400])
@pytest.mark.parametrize("step", [1, -1])
def test_shifted_strips(full, n, step):
    """A patch was skipped (each reading is the next one's), or read twice."""
    for seed in SEEDS[:3]:
        inks, lab = subset(full, n, seed)
        true = lab.copy()
        lab[20:40] = true[20 + step : 40 + step]
        ((rows, other),) = spans(find_sequence_faults(inks, lab), "shift")
        assert np.abs(np.subtract(rows, (20, 39))).max() <= 2
        assert np.subtract(other, rows).tolist() == [step, step]


@pytest.mark.parametrize("first", [0, 110])
@pytest.mark.parametrize("step", [1, -1])
def test_most_of_a_chart_is_shifted(full, first, step):
    """One patch skipped or read twice near the beginning: every reading from there on is a neighbour's."""
    inks, true = subset(full, 400, 5)
    lab = true.copy()
    lab[first + 1 : 399] = true[first + 1 + step : 399 + step]
    for predicted in (None, true):
        ((rows, other),) = spans(find_sequence_faults(inks, lab, predicted), "shift")
        assert np.abs(np.subtract(rows, (first + 1, 398))).max() <= 2
        assert np.subtract(other, rows).tolist() == [step, step]


def test_strips_exchanged_and_read_backwards(full):
    inks, lab = subset(full, 300, 1)
    lab[40:60], lab[100:120] = lab[100:120].copy(), lab[40:60].copy()
    lab[200:220] = lab[200:220][::-1].copy()
    faults = find_sequence_faults(inks, lab)
    exchanged = sum(b[1] - b[0] + 1 for _, b in spans(faults, "swap") if b[0] >= 100)
    assert exchanged >= 16
    assert any(rows[0] <= 204 and rows[1] >= 215 for rows, _ in spans(faults, "reversed"))


@pytest.mark.parametrize("kind", ["swap", "reversed"])
def test_a_strip_is_one_fault(full, kind):
    """Rows that look alike show no exchange and part a strip into pieces; it is told as one."""
    ends, wanted = [], ((40, 61), (62, 83)) if kind == "swap" else ((40, 61), (40, 61))
    for seed in SEEDS:
        inks, lab = subset(full, 400, seed)
        order = [*range(62, 84), *range(40, 62)] if kind == "swap" else [*range(61, 39, -1)]
        lab[40 : 40 + len(order)] = lab[order]
        faults = find_sequence_faults(inks, lab)
        ends += [np.abs(np.subtract(span, wanted)).max() for span in spans(faults, kind) if len(faults) == 1]
    assert len(ends) >= 3
    assert max(ends) <= 3


def test_pieces_are_joined_only_where_no_row_is_the_worse_for_it():
    """Rows 0-2 and 10-12 exchanged, 1 and 11 alike; and the same with row 1 in its place, unlike row 11."""
    aims = np.zeros((20, 3))
    aims[[0, 2]], aims[[10, 12]] = 30.0, -30.0
    pieces = [SequenceFault("swap", (k, k), (10 + k, 10 + k), 50.0, 0.0) for k in (0, 2)]
    read = aims.copy()
    read[[0, 2, 10, 12]] = aims[[10, 12, 0, 2]]
    (whole,) = join_pieces(pieces, read, aims, 5.0)
    assert (whole.rows, whole.other) == ((0, 2), (10, 12))
    assert whole.residual_undone == 0.0
    aims[1] = read[1] = 20.0
    assert join_pieces(pieces, read, aims, 5.0) == pieces


def test_undoing_shrinks_the_residual(full):
    inks, lab = subset(full, 300, 2)
    lab[20:40] = lab[21:41].copy()
    (fault,) = find_sequence_faults(inks, lab)
    assert fault.residual > 10
    assert fault.residual_undone < 3


@pytest.mark.parametrize(("order", "aids"), [("as printed", False), ("random", False), ("random", True)])
def test_drift(full, order, aids):
    """2.7 units from first to last; in sorted charts neighbours drift along, and the slope is still right."""
    inks, lab = (full[0], full[1].copy()) if order == "as printed" else subset(full, 400, 3)
    clean = lab.copy()
    trend = np.array([2.0, -1.0, 1.5])
    lab += np.linspace(0, 1, len(lab))[:, None] * trend
    (fault,) = find_sequence_faults(inks, lab, clean if aids else None)
    assert fault.kind == "drift"
    np.testing.assert_allclose(fault.change, trend, atol=0.1 if aids else 0.8)


def test_a_condition_shows_faults_in_a_small_strip(full):
    inks, lab = subset(full, 45, 5)
    aims = lab + np.random.default_rng(1).normal(0, 0.5, lab.shape)
    assert find_sequence_faults(inks, lab, aims) == []
    lab[[4, 30]] = lab[[30, 4]]
    assert spans(find_sequence_faults(inks, lab, aims), "swap") == [((4, 4), (30, 30))]
    assert find_sequence_faults(inks[:20], lab[:20]) == []


def test_lines_are_named(full, measured_set):
    lab = full[1].copy()
    lab[[500, 900]] = lab[[900, 500]]
    faults = find_sequence_faults(full[0], lab)
    (finding,) = sequence_findings(measured_set, faults)
    problem = finding.problem
    assert finding.explains == {500, 900}
    assert f"line {measured_set.lines[500]}" in problem.where
    assert f"line {measured_set.lines[900]}" in problem.message
    (record,) = sequence_records(measured_set, faults)
    assert record["kind"] == "swap"
    assert record["residual_undone_de"] < 0.3 * record["residual_de"]


def test_a_chart_printed_ramp_by_ramp_accuses_no_drift():
    """By hand: steps of each ink, then overprints; neighbours know the row, so a drift would look like ink.

    In a shuffled order the same drift is found.
    """
    steps = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]
    ramps = [np.zeros((1, 5)), *(np.outer(steps, solid) for solid in np.eye(5))]
    levels = list(itertools.product((0.3, 0.7, 1.0), repeat=2))
    two = itertools.combinations(np.eye(5)[::-1], 2)
    pairs = [a * one + b * other for one, other in two for a, b in levels]
    inks = np.vstack([*ramps, pairs])
    press = invented_press("T1", inks="CMYKO")
    lab = spectra_to_lab(press.print(inks), press.wavelengths_nm, "D50", "2")
    lab += np.random.default_rng(3).normal(0, 0.2, lab.shape)
    assert [fault.kind for fault in find_sequence_faults(inks, lab)] == []
    order = np.append(0, 1 + np.random.default_rng(1).permutation(len(inks) - 1))
    late = np.linspace(0, 4, len(inks))[:, None] * [1, 0, 0]
    (drift,) = find_sequence_faults(inks[order], lab[order] + late)
    assert drift.kind == "drift"
    assert drift.change[0] == pytest.approx(4, abs=1)


@pytest.mark.parametrize("seed", SEEDS[:2])
@pytest.mark.parametrize("step", [1, -1])
def test_a_shifted_strip_of_eight_inks(seed, step):
    """Neighbours are far among many inks; what inks filter adds up all the same. Measured here."""
    letters = "CMYKORBN"
    draw = np.random.default_rng(seed)
    n_inks = len(letters)
    solids = np.vstack([np.zeros(n_inks), np.repeat(np.eye(n_inks), 6, axis=0)])
    ramps = solids * np.append(1.0, np.tile(np.linspace(1, 6, 6) / 6, n_inks))[:, None]
    mixed = draw.random((400, n_inks)) * (draw.random((400, n_inks)) < 0.45)
    inks = draw.permutation(np.vstack([ramps, mixed / np.maximum(mixed.sum(axis=1) / 2.5, 1.0)[:, None]]))
    press = invented_press("T1", inks=letters)
    true = spectra_to_lab(press.print(inks), press.wavelengths_nm, "D50", "2")
    true += draw.normal(0, 0.2, true.shape)
    assert find_sequence_faults(inks, true) == []
    lab = true.copy()
    lab[200:240] = true[200 + step : 240 + step]
    ((rows, other),) = spans(find_sequence_faults(inks, lab), "shift")
    assert np.abs(np.subtract(rows, (200, 239))).max() <= 2
    assert np.subtract(other, rows).tolist() == [step, step]


@pytest.mark.parametrize("step", [1, -1])
def test_a_tone_curve_that_bends_is_no_shift(step):
    """Along a ramp printed in order a curve a step off looks like the next row; it falls back slowly.

    Where a row was skipped, or read twice, and all is in step again, two neighbouring rows read the same.
    """
    place = np.arange(30.0)
    tones = 80.0 * (1.0 - np.exp(-place / 12.0))
    aims = np.stack([90.0 - tones, tones, 0.2 * tones], axis=1)

    def at(where):
        return np.stack([np.interp(where, place, channel) for channel in aims.T], axis=1)

    bent = at(place + step * np.clip(np.minimum(place - 2.0, 20.0 - place) / 5.0, 0.0, 1.0))
    assert best_shift(aims, bent) is None
    order = np.arange(30)
    order[4:16] += step
    found = best_shift(aims, aims[order])
    assert found is not None
    (fault,) = found.faults
    assert (fault.rows, fault.other) == ((4, 15), (4 + step, 15 + step))


@pytest.mark.parametrize("n", [32, 40])
def test_most_of_a_small_chart_in_wrong_rows_shows_by_a_prediction(full, n):
    """Two rows of 16 exchanged on a page, as on control strips: few readings, most of them wrong."""
    inks, true = subset(full, n, 3)
    lab = true + np.random.default_rng(3).normal(0.0, 0.3, true.shape)
    assert find_sequence_faults(inks, lab, true) == []
    lab[:32] = lab[[*range(16, 32), *range(16)]]
    ((rows, other),) = spans(find_sequence_faults(inks, lab, true), "swap")
    assert np.abs(np.subtract((*rows, *other), (0, 15, 16, 31))).max() <= 1, "ends may look alike"


def test_a_weak_press_is_no_wrong_order(full):
    """All colours 12 units off the prediction: far from their own recipes, but not in places of others."""
    inks, true = subset(full, 40, 4)
    lab = true + [12.0, 0.0, 0.0] * (true[:, :1] < 80.0)
    assert find_sequence_faults(inks, lab, true) == []


def test_tints_of_two_inks_exchanged_throughout_point_at_the_heads():
    """Where light inks change places, solids are right and every tint of the one looks like the other's."""
    coverages = np.zeros((6, 3))
    coverages[[0, 1], 0] = coverages[[2, 3], 1] = [0.2, 0.4]
    coverages[4], coverages[5] = [0.5, 0.1, 0.0], [0.1, 0.5, 0.3]
    names = tuple("abcdef")
    strip = ReadingSet(names, ("3CLR_1", "3CLR_2", "3CLR_3"), coverages, lab=np.zeros((6, 3)), source="s")

    def advice(*swaps):
        faults = [SequenceFault("swap", (i, i), (j, j), 9.0, 0.5) for i, j in swaps]
        return [finding.problem.advice for finding in sequence_findings(strip, faults)]

    first, second = advice((0, 2), (1, 3))
    assert first == second
    assert "2 pairs of rows exchange 1 for 2" in first
    # One pair may be chance, and rows that differ in a third ink, or in amounts, are no mirror image.
    for swaps in ([(0, 2)], [(0, 2), (4, 5)], [(0, 3), (1, 2)]):
        assert not any("heads" in said for said in advice(*swaps))
