"""Ink columns whose solids look like other inks than their names promise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.colour.cielab import lab_to_lch
from strikeoff.inks.roles import process_channels
from strikeoff.measurement.findings import Finding, Rank
from strikeoff.measurement.plausible import patch_place
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet

FloatArray = NDArray[np.float64]

# Hue angle of inks at full strength [degrees]; common practice, no source.
_HUES = {
    "C": 235.0,
    "M": 355.0,
    "Y": 95.0,
    "orange": 60.0,
    "red": 30.0,
    "green": 155.0,
    "blue": 295.0,
    "violet": 310.0,
}
# How much better solids must fit other columns: turns of 90 degrees, over all that are exchanged.
_SWAP_GAIN = 1.0
# How much better spectra fit the names of inks when read from the other end than when columns change places;
# a yellow's edge read backwards is no cyan's. By the solids of two simulated presses 1.3, and -1.3 where inks
# are swapped. Turns of 90 degrees, over all.
_TURNED_GAIN = 0.5


def swapped_columns(readings: ReadingSet, lab: FloatArray) -> list[tuple[int, int, int]]:
    """Return the solids that look like other inks than the names of their columns promise.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks; the strongest patch of each ink alone is judged.
    lab : ndarray, shape (n, 3)
        Their CIELAB.

    Returns
    -------
    list of tuple of int
        Row of each, its ink column, and the column of the ink that it looks like.
    """
    rows, columns, promises = _solids(readings)
    return [(rows[i], columns[i], columns[k]) for i, k in enumerate(_best(rows, promises, lab)[0]) if k != i]


def spectra_turned(readings: ReadingSet, lab: FloatArray) -> bool:
    """Return whether solids look like other inks because wavelengths are named from the wrong end.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks.
    lab : ndarray, shape (n, 3)
        Their CIELAB.
    """
    if readings.spectra is None:
        return False
    rows, _, promises = _solids(readings)
    exchanged, misfit = _best(rows, promises, lab)
    if all(k == i for i, k in enumerate(exchanged)):
        return False
    turned = readings_lab(replace(readings, spectra=readings.spectra[:, ::-1]))
    return sum(map(_misfit, turned[rows], promises)) < misfit - _TURNED_GAIN


def swapped_inks(readings: ReadingSet, lab: FloatArray) -> list[Finding]:
    """Compare the strongest single-ink patches with the hues that the names of their inks promise."""
    swapped = swapped_columns(readings, lab)
    if not swapped:
        return []
    names = readings.inks
    solids = frozenset(row for row, _, _ in swapped)
    places = ", ".join(
        f"{names[column]} solid ({patch_place(readings, row)}) looks like {names[like]}"
        for row, column, like in swapped
    )
    if spectra_turned(readings, lab):
        problem = Problem(
            "error",
            "columns of spectra",
            "wavelengths seem to be named from the wrong end: read from the other, inks have the hues of "
            "their names",
            found=places,
            expected="each wavelength at its own values",
            advice="Turn the names of the wavelengths round, or export the spectra again",
        )
        return [Finding(problem, Rank.COLUMNS, "spectra turned", solids)]
    problem = Problem(
        "error",
        patch_place(readings, swapped[0][0]),
        f"ink columns seem to be swapped: {' and '.join(names[column] for _, column, _ in swapped)}",
        found=places,
        expected="solids in the hue of their column's ink",
        advice="Correct the order of the ink columns, or of LAB_A and LAB_B, in the file; where that is "
        "right, look whether inks or planes of the print are in the wrong heads",
    )
    return [Finding(problem, Rank.COLUMNS, "swapped inks", solids)]


def _solids(readings: ReadingSet) -> tuple[list[int], list[int], list[str]]:
    """Return row, column and promised ink of the strongest patch of each ink alone that promises a hue."""
    rows, columns, promises = [], [], []
    hued = _hued_inks(readings.inks)
    for ink, column in sorted(hued.items(), key=lambda one: one[1]):
        others = np.delete(readings.coverages, column, axis=1).max(axis=1, initial=0.0)
        alone = np.where(others < 0.02, readings.coverages[:, column], 0.0)
        row = int(np.argmax(alone))
        if alone[row] >= 0.7:
            rows.append(row)
            columns.append(column)
            promises.append(ink)
    return rows, columns, promises


def _best(rows: Sequence[int], promises: Sequence[str], lab: FloatArray) -> tuple[list[int], float]:
    """Return which promise each solid keeps, its own unless others fit plainly better, and their misfit."""
    from scipy.optimize import linear_sum_assignment

    order = np.arange(len(rows))
    if len(rows) < 2:
        return order.tolist(), 0.0
    cost = np.array([[_misfit(lab[row], ink) for ink in promises] for row in rows])
    best = linear_sum_assignment(cost)[1]
    if cost[order, order].sum() - cost[order, best].sum() < _SWAP_GAIN:
        best = order
    return best.tolist(), float(cost[order, best].sum())


def _hued_inks(names: Sequence[str]) -> dict[str, int]:
    """Return the columns of inks whose names promise a hue, or none, by what they promise.

    Examples
    --------
    >>> _hued_inks(["c", "C", "Orange", "K", "Gold", "V"])
    {'C': 1, 'K': 3, 'orange': 2, 'violet': 5}
    """
    found = process_channels(names)
    for column, name in enumerate(names):
        for ink in _HUES:
            if len(ink) > 1 and name.lower() in (ink, ink[0]):
                found.setdefault(ink, column)
    return found


def _misfit(lab: FloatArray, ink: str) -> float:
    """How unlike an ink a solid is: 0 alike, about 1 a neighbour in hue, 2 opposite."""
    _, chroma, hue = lab_to_lch(lab)
    if ink == "K":
        return float(min(chroma / 30.0, 2.0))
    if chroma < 12.0:
        return 1.5
    turn = abs((hue - _HUES[ink] + 180.0) % 360.0 - 180.0)
    return float(turn / 90.0)
