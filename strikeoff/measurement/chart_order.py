"""Whether readings were put on the patches of a chart in the right order: their colours know."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.measurement.chart_match import By, chart_begun, counts_rows, last_page_first, match_patches
from strikeoff.measurement.chart_patches import WALKS, ChartPatches
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_LEAST_ROWS = 20
_RIDGE = 1e-4
#: Another order is the right one where it leaves less than this share of the deviations; common practice,
#: no source.
_BETTER = 0.5


def check_order(
    chart: ChartPatches,
    sets: Sequence[ReadingSet],
    found: Sequence[IntArray],
    by: By,
    walk: str,
    *,
    insisted: bool,
) -> list[Problem]:
    """Look whether one of the usual mistakes about the order explains the readings much better.

    Parameters
    ----------
    chart : ChartPatches
        What was printed.
    sets : sequence of ReadingSet
        With colours.
    found : sequence of ndarray
        Patch of each row, by file.
    by, walk : str
        How they were found.
    insisted : bool
        Whether a person said so.

    Returns
    -------
    list of Problem
        A warning, where a person insisted on the worse order.

    Raises
    ------
    InputError
        Where nobody did; or where row numbers may be names of the chart or not, and the colours do not tell.
    """
    others: list[tuple[By, str]]
    if by == "names":
        others = [("order", "rows")] if counts_rows(sets) else []
    elif by == "places":
        others = [("places", "rows" if walk == "columns" else "columns")]
    else:
        others = [("order", other) for other in WALKS if other != walk]
    inks = chart.readings.coverages
    lab = np.concatenate([readings_lab(s) for s in sets])
    given = misfit(inks[np.concatenate(found)], lab)
    best: tuple[float, By, str] | None = None
    for other_by, other_walk in others:
        matched = match_patches(chart, sets, other_by, other_walk)
        if matched is None or np.array_equal(np.concatenate(matched), np.concatenate(found)):
            continue
        left = misfit(inks[np.concatenate(matched)], lab)
        if left is not None and (best is None or left < best[0]):
            best = (left, other_by, other_walk)
        if by == "names" and not insisted and (left is None or given is None or not _told(left, given)):
            raise InputError(
                "numbers in the file may be names of patches or count the rows, and the colours do not tell",
                path=sets[0].source or None,
                found=f"names 1 to {len(sets[0])}",
                advice="Say --by order if the chart was read in its order, --by names if it is named so",
            )
    if by == "names" and others and given is not None and not insisted:
        _refuse_begun(chart, sets, walk, given)
    if best is None or given is None or best[0] > _BETTER * given:
        if by == "order" and given is not None and not insisted:
            _refuse_last_page_first(chart, sets, given)
        return []
    left, other_by, other_walk = best
    if by == "names":
        seen, option = "the numbers in the file count its rows", "--by order"
    elif by == "places":
        first, second = ("columns", "rows") if other_walk == "columns" else ("rows", "columns")
        seen, option = f"letters name {first} and numbers {second}", f"--walk {other_walk}"
    else:
        seen, option = f"it was read {WALKS[other_walk]}", f"--walk {other_walk}"
    message = f"colours fit the inks of the chart much better if {seen}"
    told = f"{given:.1f} CIELAB units off as it is, {left:.1f} then"
    if insisted:
        return [Problem("warning", "order of reading", message, told)]
    raise InputError(
        message,
        path=sets[0].source or None,
        found=told,
        advice=f"Say {option} if that is so; else look whether this is the chart that was read",
    )


def _refuse_begun(chart: ChartPatches, sets: Sequence[ReadingSet], walk: str, given: float) -> None:
    """Refuse rows whose numbers count them, where their colours say that the chart was read in part."""
    matched = chart_begun(chart, sets, walk)
    if matched is None:
        return
    left = misfit(chart.readings.coverages[matched[0]], readings_lab(sets[0]))
    if left is not None and left <= _BETTER * given:
        raise InputError(
            "colours fit the inks of the chart much better if the numbers in the file count its rows, from "
            "the first patch on: the chart was read in part",
            path=sets[0].source or None,
            found=f"{given:.1f} CIELAB units off as names, {left:.1f} as rows; {len(sets[0])} rows",
            expected=f"{len(chart.readings)} rows, or the chart's names",
            advice="Read the rest of the chart, or give the rows the names of its patches",
        )


def _refuse_last_page_first(chart: ChartPatches, sets: Sequence[ReadingSet], given: float) -> None:
    """Refuse readings whose colours fit much better if their pages were read from the last to the first."""
    for walk, words in WALKS.items():
        matched = last_page_first(chart, sets, walk)
        left = None
        if matched is not None:
            inks = chart.readings.coverages[np.concatenate(matched)]
            left = misfit(inks, np.concatenate([readings_lab(s) for s in sets]))
        if left is not None and left <= _BETTER * given:
            also = "" if walk == "rows" else f" with --walk {walk}"
            raise InputError(
                "colours fit the inks of the chart much better if its last page was read first",
                path=sets[0].source or None,
                found=f"{given:.1f} CIELAB units off as it is, {left:.1f} then, each page {words}",
                expected="pages in the order of the chart",
                advice=f"Put a file of each page in that order and assign them{also}",
            )


def _told(one: float, other: float) -> bool:
    return one < _BETTER * other or other < _BETTER * one


def misfit(inks: FloatArray, lab: FloatArray) -> float | None:
    """Return how far colours are from a smooth function of inks fitted to the others. [CIELAB units].

    Squares and products of inks, ridge regression; each row judged by the fit without it (D. M. Allen,
    Technometrics 16 (1974), 125-127; from memory). None where there are too few rows to tell.
    """
    count = inks.shape[1]
    pairs = [inks[:, i] * inks[:, j] for i in range(count) for j in range(i, count)]
    basis = np.column_stack([np.ones(len(inks)), inks, *pairs])
    if len(inks) < max(_LEAST_ROWS, 1.5 * basis.shape[1]):
        return None
    gram = basis.T @ basis + _RIDGE * len(inks) * np.eye(basis.shape[1])
    hat = basis @ np.linalg.solve(gram, basis.T)
    left = (lab - hat @ lab) / (1.0 - np.diag(hat))[:, None]
    return float(np.sqrt((left**2).sum(axis=1).mean()))
