"""Runs of readings that stand one row early or late, as after a patch skipped or read twice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.measurement.sequence_runs import SequenceFault

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

# A fault must explain most of the residuals, and by more than scatter can. [-]
SHRINKS_TO = 0.35
# A residual counts no more than this, so that one outlier makes no strip. [CIELAB units]
_CAP = 20.0
_SHORTEST = 4
_LEAST_GAIN = 40.0
# Two readings of one patch lie within this share of the larger step to the rows around them. Common practice,
# no source. [-]
_SAME_PATCH = 0.5
_MOST_RUNS = 8


@dataclass(frozen=True)
class Candidate:
    """Faults that may be there, and where each row's reading would come from."""

    faults: tuple[SequenceFault, ...]
    source: IntArray

    def undo(self, lab: FloatArray, known: NDArray[np.bool_]) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return readings in their places, and which rows have one."""
        place = np.maximum(self.source, 0)
        return lab[place], known[place] & (self.source >= 0)


def best_shift(aims: FloatArray, lab: FloatArray) -> Candidate | None:
    """Return the run of rows whose readings fit the next or previous recipe much better than their own.

    Parameters
    ----------
    aims : ndarray, shape (n, 3)
        CIELAB that is predicted of each row.
    lab : ndarray, shape (n, 3)
        CIELAB as read.

    Returns
    -------
    Candidate or None
        The run that gains most, with its readings one row on; None where no run gains enough.

    Notes
    -----
    Along the tones of one ink a reading that differs from its prediction looks like that of the next step: a
    curve that bends is no shift. Readings fall back into step only where a patch was read twice, and so two
    readings of one patch must stand where a run meets a row that fits its own recipe.
    """
    own = np.minimum(_norm(lab - aims), _CAP)
    best: tuple[float, int, int, int] | None = None
    for step in (1, -1):
        there = np.full(len(lab), _CAP)
        if step == 1:
            there[:-1] = np.minimum(_norm(lab[:-1] - aims[1:]), _CAP)
        else:
            there[1:] = np.minimum(_norm(lab[1:] - aims[:-1]), _CAP)
        # Where most rows are shifted their own misfit is no measure of scatter; that of the better place is.
        gain = own - there - float(np.median(np.minimum(own, there)))
        for _ in range(_MOST_RUNS):
            total, first, last = _best_run(gain)
            if total < _LEAST_GAIN or (best is not None and total <= best[0]):
                break
            run = slice(first, last + 1)
            fits = there[run].mean() < SHRINKS_TO * own[run].mean() and last - first + 1 >= _SHORTEST
            if fits and _read_twice(lab, own, there, (first, last), step):
                best = (total, first, last, step)
                break
            gain[run] = -_CAP
    if best is None:
        return None
    _, first, last, step = best
    source = np.arange(len(lab))
    source[first + step : last + step + 1] = np.arange(first, last + 1)
    source[first if step == 1 else last] = -1
    before = float(_norm(lab - aims)[first : last + 1].mean())
    fault = SequenceFault("shift", (first, last), (first + step, last + step), before, before)
    return Candidate((fault,), source)


def _read_twice(
    lab: FloatArray, own: FloatArray, there: FloatArray, rows: tuple[int, int], step: int
) -> bool:
    """Return whether the row that a run runs into, if it fits its own recipe, reads the same once more."""
    first, last = rows
    end, beyond = (last, last + 1) if step == 1 else (first, first - 1)
    if not 0 <= beyond < len(lab):
        return True
    around = lab[max(min(end, beyond) - 1, 0) : max(end, beyond) + 2]
    most = _SAME_PATCH * float(_norm(np.diff(around, axis=0)).max())
    fits_its_own = own[beyond] <= float(there[first : last + 1].mean()) + most
    return not fits_its_own or float(_norm(lab[end] - lab[beyond])) < most


def _best_run(gain: FloatArray) -> tuple[float, int, int]:
    """Return sum, first and last index of the run with the largest sum (Kadane 1984)."""
    sums = np.concatenate([[0.0], np.cumsum(gain)])
    lowest = np.minimum.accumulate(sums)
    end = int(np.argmax(sums[1:] - lowest[:-1])) + 1
    start = int(np.argmin(sums[:end]))
    return float(sums[end] - sums[start]), start, end - 1


def _norm(gaps: FloatArray) -> FloatArray:
    return np.asarray(np.sqrt((gaps**2).sum(axis=-1)), dtype=np.float64)
