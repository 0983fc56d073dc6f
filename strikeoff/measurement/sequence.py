"""Faults of the reading order: swapped rows, shifted strips, drift; found and shown, never undone.

Rows are taken to stand in the order in which they were read.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np
from numpy.typing import NDArray

from strikeoff.measurement.neighbours import neighbour_predictions
from strikeoff.measurement.outliers import DISTANCE
from strikeoff.measurement.sequence_runs import SequenceFault, join_pieces
from strikeoff.measurement.sequence_shifts import SHRINKS_TO, Candidate, best_shift
from strikeoff.measurement.stiff_surfaces import stiff_surfaces

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

# Fewest rows: by their neighbours, and for a drift; where a condition predicts each row.
_FEWEST, _FEWEST_PREDICTED = 40, 8
_MOST_FAULTS = 8
_MOST_SUSPECTS = 400
# Charts below this size are also judged by stiff robust surfaces.
_SMALL = 1000
# Drift over the whole sequence: so much, and so many standard errors. [CIELAB units], [-]
DRIFT = 1.0
_DRIFT_ERRORS = 6.0
# Least number of rows in shuffled order that would tell as much of a drift: of a small chart printed ramp by
# ramp neighbours know the row, and a drift looks like ink; 123 such rows tell as much as 3. Common practice.
_LEAST_ROWS = 15.0


def find_sequence_faults(
    coverages: FloatArray, lab: FloatArray, predicted: FloatArray | None = None
) -> list[SequenceFault]:
    """Return the faults of the order in which patches were read.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Ink of each row, 0-1. [-]
    lab : ndarray, shape (n, 3)
        CIELAB as read.
    predicted : ndarray, shape (n, 3), optional
        What a condition predicts; each patch's neighbours in ink space by default.

    Returns
    -------
    list of SequenceFault
        In the order of the rows, drift last; empty below 40 rows, or 8 with a prediction, which tells a drift
        from 40 rows on.

    Notes
    -----
    Each fault found is undone in a copy before the next is looked for, so that its wrong readings do not
    hide others. Where most rows do not fit, neighbours are asked with all readings one row on, too: after a
    skip early in the chart they are right there and wrong where they stand. Drift is the least-squares slope
    of the residuals over the row number; where neighbours make the prediction, the row number goes through
    the same prediction, which takes out what neighbours share. Where little of it is left, as in small charts
    printed ramp by ramp, drift is not looked for. A condition's prediction knows the colour of each reading's
    own recipe even where most stand in wrong rows: how far readings are from the closest recipe then tells
    the scatter.
    """
    if len(lab) < (_FEWEST if predicted is None else _FEWEST_PREDICTED):
        return []
    model = _Model(coverages, predicted)
    current, known = np.array(lab), np.ones(len(lab), dtype=bool)
    faults: list[SequenceFault] = []
    aims = model.predict(current, known)
    for _ in range(_MOST_FAULTS):
        guesses = [aims, *model.rough(current, known), *model.shifted(current, known, aims)]
        limit = model.limit(current, aims)
        for find, guess in product((best_shift, partial(_swaps, most=limit)), guesses):
            candidate = find(guess, current)
            if candidate is None:
                continue
            trial, left = candidate.undo(current, known)
            after = model.predict(trial, left)
            confirmed = [fault for fault in candidate.faults if _confirmed(fault, trial, after)]
            if confirmed:
                break
        else:
            break
        faults += [_judged(fault, trial, after) for fault in confirmed]
        current, known, aims = trial, left, after
    faults = join_pieces(faults, lab, aims, _limit(_norm(current - aims)[known]))
    drift = model.drift(current, known)
    return [*faults, drift] if drift is not None else faults


class _Model:
    """Predicts each row: a condition, or the row's neighbours without it."""

    def __init__(self, coverages: FloatArray, predicted: FloatArray | None) -> None:
        self.coverages = coverages
        self.predicted = predicted

    def predict(self, lab: FloatArray, known: NDArray[np.bool_]) -> FloatArray:
        if self.predicted is not None:
            return self.predicted
        first = neighbour_predictions(self.coverages, lab, known)
        size = _norm(first - lab)
        calm = known & (size <= _limit(size))
        if calm.all() or calm.sum() < _FEWEST:
            return first
        return neighbour_predictions(self.coverages, lab, calm)

    def limit(self, lab: FloatArray, aims: FloatArray) -> float:
        """Return how far scatter may take a reading from its recipe, at most."""
        if self.predicted is None or len(lab) > _SMALL:
            return np.inf
        closest = _norm(lab[:, None, :] - aims[None, :, :]).min(axis=1)
        return _limit(closest)

    def rough(self, lab: FloatArray, known: NDArray[np.bool_]) -> list[FloatArray]:
        """Return surfaces too stiff to follow a strip of wrong readings: in small charts neighbours do."""
        if self.predicted is not None or len(lab) > _SMALL:
            return []
        return stiff_surfaces(self.coverages, lab, known)

    def shifted(self, lab: FloatArray, known: NDArray[np.bool_], aims: FloatArray) -> list[FloatArray]:
        """Return what neighbours predict if all rows were one early or late: most may be, as after a skip."""
        own = float(np.median(_norm(lab - aims)[known]))
        if self.predicted is not None or own < DISTANCE:
            return []
        found = []
        for step in (1, -1):
            moved, there = np.roll(lab, step, axis=0), np.roll(known, step)
            for guess in (self.predict(moved, there), *self.rough(moved, there)):
                if float(np.median(_norm(moved - guess)[there])) < SHRINKS_TO * own:
                    found.append(guess)
        return found

    def drift(self, lab: FloatArray, known: NDArray[np.bool_]) -> SequenceFault | None:
        n = len(lab)
        if n < _FEWEST:
            return None
        place = np.linspace(-0.5, 0.5, n)
        if self.predicted is None:
            aims = neighbour_predictions(self.coverages, np.column_stack([lab, place]), known)
            gaps, lever = lab - aims[:, :3], place - aims[:, 3]
        else:
            gaps, lever = lab - self.predicted, place
        size = _norm(gaps)
        calm = known & (size < 4.0 * np.median(size) + 1e-6)
        gaps, lever = gaps[calm], lever[calm]
        if self.predicted is not None:
            gaps, lever = gaps - gaps.mean(axis=0), lever - lever.mean()
        power = float(lever @ lever)
        if power <= _LEAST_ROWS * float(np.var(place)):
            return None
        slope = lever @ gaps / power
        rest = gaps - lever[:, None] * slope
        errors = np.sqrt((rest**2).mean(axis=0) / power) + 1e-9
        significance = float(np.sqrt(((slope / errors) ** 2).sum()))
        if float(np.linalg.norm(slope)) < DRIFT or significance < _DRIFT_ERRORS:
            return None
        change = (float(slope[0]), float(slope[1]), float(slope[2]))
        before, after = float(_norm(gaps).mean()), float(_norm(rest).mean())
        return SequenceFault("drift", (0, n - 1), (0, n - 1), before, after, change)


def _norm(gaps: FloatArray) -> FloatArray:
    return np.asarray(np.sqrt((gaps**2).sum(axis=-1)), dtype=np.float64)


def _limit(size: FloatArray) -> float:
    middle = float(np.median(size))
    return max(DISTANCE, middle + 6.0 * 1.4826 * float(np.median(np.abs(size - middle))))


def _swaps(aims: FloatArray, lab: FloatArray, *, most: float = np.inf) -> Candidate | None:
    """Return the pairs of suspect rows that fit much better with their readings exchanged."""
    size = _norm(lab - aims)
    limit = min(_limit(size), most)
    suspects = np.flatnonzero(size > limit)
    suspects = suspects[np.argsort(-size[suspects], kind="stable")][:_MOST_SUSPECTS]
    if suspects.size < 2:
        return None
    across = _norm(lab[suspects][None, :, :] - aims[suspects][:, None, :])
    together = size[suspects][:, None] + size[suspects][None, :]
    exchanged = across + across.T
    fits = (exchanged < SHRINKS_TO * together) & (np.maximum(across, across.T) <= limit)
    gain = np.where(fits, together - exchanged, 0.0)
    np.fill_diagonal(gain, 0.0)
    pairs: list[tuple[int, int]] = []
    for at in np.argsort(-gain, axis=None):
        i, j = divmod(int(at), suspects.size)
        if gain[i, j] < 2.0 * DISTANCE:
            break
        a, b = sorted((int(suspects[i]), int(suspects[j])))
        if not any({a, b} & set(pair) for pair in pairs):
            pairs.append((a, b))
    if not pairs:
        return None
    source = np.arange(len(lab))
    for a, b in pairs:
        source[[a, b]] = b, a
    return Candidate(tuple(_grouped(sorted(pairs), size)), source)


def _grouped(pairs: list[tuple[int, int]], size: FloatArray) -> list[SequenceFault]:
    """Join pairs that lie side by side: runs exchanged in step, or one run read backwards."""
    runs: list[list[tuple[int, int]]] = []
    for pair in pairs:
        if runs and _goes_on(runs[-1], pair):
            runs[-1].append(pair)
        else:
            runs.append([pair])
    faults = []
    for run in runs:
        rows = [row for pair in run for row in pair]
        before = float(size[rows].mean())
        if _step(run) == -1:
            first, last = run[0][0], run[0][1]
            faults.append(SequenceFault("reversed", (first, last), (first, last), before, before))
        else:
            faults.append(
                SequenceFault("swap", (run[0][0], run[-1][0]), (run[0][1], run[-1][1]), before, before)
            )
    return faults


def _goes_on(run: list[tuple[int, int]], pair: tuple[int, int]) -> bool:
    (a, b), step = run[-1], _step(run)
    return pair[0] == a + 1 and abs(pair[1] - b) == 1 and step in (0, pair[1] - b)


def _step(run: list[tuple[int, int]]) -> int:
    return run[-1][1] - run[-2][1] if len(run) > 1 else 0


def _places(fault: SequenceFault) -> IntArray:
    """Rows whose readings are right after undoing."""
    rows = set(range(fault.other[0], fault.other[1] + 1))
    if fault.kind != "shift":
        rows |= set(range(fault.rows[0], fault.rows[1] + 1))
    return np.array(sorted(rows), dtype=np.intp)


def _judged(fault: SequenceFault, lab: FloatArray, aims: FloatArray) -> SequenceFault:
    return replace(fault, residual_undone=float(_norm(lab - aims)[_places(fault)].mean()))


def _confirmed(fault: SequenceFault, lab: FloatArray, aims: FloatArray) -> bool:
    return _judged(fault, lab, aims).residual_undone < 0.5 * fault.residual
