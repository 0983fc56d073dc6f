"""Runs of patches that let the cloth show through: dead nozzles, a lifted roller, an empty ink."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.base.words import beside
from strikeoff.measurement.findings import Finding, Rank
from strikeoff.measurement.neighbours import neighbour_predictions
from strikeoff.measurement.plausible import run_place
from strikeoff.measurement.records import ReadingSet

FloatArray = NDArray[np.float64]

_FEWEST = 40
_SHORTEST = 5
# Colours nearer to the cloth than this say nothing about how much of it shows. [CIELAB units]
_NEAR_CLOTH = 15.0
# Least share of cloth that shows, mean of a run; scatters above the median that count at all, and at most;
# sum over a run that chance does not reach. Common practice, no source.
_SHOWS, _COUNTS_ABOVE, _COUNTS_TO, _TOTAL = 0.06, 1.0, 4.0, 12.0
# A cause that holds this share of the run's rows explains it.
_MOSTLY = 0.5


def pale_runs(readings: ReadingSet, lab: FloatArray, predicted: FloatArray | None = None) -> list[Finding]:
    """Return a warning for the longest run of rows that are paler than predicted.

    Parameters
    ----------
    readings : ReadingSet
        Rows in the order in which they were read.
    lab : ndarray, shape (n, 3)
        CIELAB as read.
    predicted : ndarray, shape (n, 3), optional
        What a condition predicts; each patch's neighbours in ink space by default.

    Returns
    -------
    list of Finding
        At most one, which explains what rests on its rows; empty below 40 rows and without bare cloth.

    Notes
    -----
    How much cloth shows is the part of the way from the predicted colour to the cloth that the reading has
    gone. The run is that of the largest sum of it, in scatters above the median (J. Kadane's algorithm in
    J. Bentley, Comm. ACM 27 (1984), 865-873).
    """
    bare = readings.coverages.max(axis=1, initial=0.0) <= 0.0
    if len(lab) < _FEWEST or not bare.any() or not readings.ink_columns:
        return []
    cloth = np.median(lab[bare], axis=0)
    aims = (
        neighbour_predictions(readings.coverages, lab, np.ones(len(lab), dtype=np.bool_))
        if predicted is None
        else predicted
    )
    way = cloth - aims
    far = np.sqrt((way**2).sum(axis=1))
    told = (far > _NEAR_CLOTH) & ~bare
    if told.sum() < _FEWEST:
        return []
    rows = np.flatnonzero(told)
    shows = ((lab - aims)[rows] * way[rows]).sum(axis=1) / far[rows] ** 2
    middle = float(np.median(shows))
    scatter = max(1.4826 * float(np.median(np.abs(shows - middle))), 0.01)
    gain = np.clip((shows - middle) / scatter, -_COUNTS_TO, _COUNTS_TO) - _COUNTS_ABOVE
    sums = np.concatenate([[0.0], np.cumsum(gain)])
    lowest = np.minimum.accumulate(sums)
    last = int(np.argmax(sums[1:] - lowest[:-1]))
    first = int(np.argmin(sums[: last + 1]))
    total, share = float(sums[last + 1] - sums[first]), float(shows[first : last + 1].mean()) - middle
    if last - first + 1 < _SHORTEST or total < _TOTAL or share < _SHOWS:
        return []
    problem = Problem(
        "warning",
        run_place(readings, int(rows[first]), int(rows[last])),
        f"{last - first + 1} patches in a row are paler than their recipes",
        f"{beside(100 * share, 100 * _SHOWS)} % of the way to the cloth",
        f"less than {100 * _SHOWS:.0f} %",
        "Look for white lines: dead nozzles look so. Clean the heads and print this strip again",
    )
    run = frozenset(rows[first : last + 1].tolist())
    return [Finding(problem, Rank.RUN, "pale run", run, _MOSTLY, explains=run)]
