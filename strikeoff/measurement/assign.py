"""Which patch of a chart each reading of a plain file is: by name, by place or by the order of reading.

Instruments write what they saw under names of their own, or none; the chart's reference knows the inks, the
places and the curves. Putting them together wrongly spoils everything after, so the readings themselves are
asked whether another order fits the inks better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.measurement.chart_match import By, Walk, match_patches
from strikeoff.measurement.chart_order import check_order
from strikeoff.measurement.chart_patches import WALKS, ChartPatches
from strikeoff.measurement.mixing import combine_readings
from strikeoff.measurement.records import ReadingSet

IntArray = NDArray[np.int64]

_SAME_INK = 0.006
_LISTED = 5


@dataclass(frozen=True)
class Assigned:
    """Readings with the inks of their patches.

    Attributes
    ----------
    readings : ReadingSet
        As they were read, with the names, inks and keywords of the chart.
    patches : ndarray of int, shape (n,)
        Patch of the chart that each row is.
    by : {"names", "places", "order"}
        How it was found.
    missing : tuple of str
        Patches that were not read.
    problems : tuple of Problem
    """

    readings: ReadingSet
    patches: IntArray
    by: By
    missing: tuple[str, ...]
    problems: tuple[Problem, ...]


def assign(
    chart: ChartPatches, sets: Sequence[ReadingSet], by: By | None = None, walk: Walk | None = None
) -> Assigned:
    """Put readings on the patches of a chart.

    Parameters
    ----------
    chart : ChartPatches
        What was printed.
    sets : sequence of ReadingSet
        Readings of one chart each, or of its pages in order, with colours; inks are compared where they are
        told.
    by : {"names", "places", "order"}, optional
        How; the first of these that fits by default.
    walk : {"rows", "back", "turning", "columns"}, optional
        Order of reading, for ``order``; for ``places``, ``columns`` says that letters name columns.

    Returns
    -------
    Assigned

    Raises
    ------
    InputError
        When names are not those of the chart, or counts are not; when the colours fit the inks much better
        otherwise and neither ``by`` nor ``walk`` was given.
    """
    insisted = by is not None or walk is not None
    ways: tuple[By, ...] = ("names", "places", "order")
    if by is not None:
        ways = (by,)
    elif walk is not None:
        ways = ("places", "order") if walk == "columns" else ("order",)
    used, found = next(
        (
            (way, rows)
            for way in ways
            if (rows := match_patches(chart, sets, way, walk or "rows")) is not None
        ),
        (ways[-1], None),
    )
    if found is None:
        raise _no_match(chart, sets, ways)
    parts = []
    for readings, patches in zip(sets, found, strict=True):
        _check_inks(chart, readings, patches)
        parts.append(_on_patches(chart, readings, patches))
    problems = check_order(chart, sets, found, used, walk or "rows", insisted=insisted)
    if used == "order":
        message = f"read in the order of the chart, {WALKS[walk or 'rows']}: the file names no patches of it"
        problems.append(Problem("note", "rows", message))
    every = np.concatenate(found)
    lacking = np.setdiff1d(np.arange(len(chart.readings)), every)
    missing = tuple(chart.readings.sample_ids[k] for k in lacking)
    if missing:
        shown = ", ".join(missing[:_LISTED]) + (" …" if len(missing) > _LISTED else "")
        message = f"{counted(len(missing), 'patch')} of the chart not read"
        problems.append(Problem("warning", "patches", message, shown, advice="Read them, or go on without"))
    together, mixed = combine_readings(parts)
    return Assigned(together, every, used, missing, (*mixed, *problems))


def _no_match(chart: ChartPatches, sets: Sequence[ReadingSet], ways: tuple[By, ...]) -> InputError:
    names = {name.casefold() for name in chart.readings.sample_ids}
    strange = [name for s in sets for name in s.sample_ids if name.strip().casefold() not in names]
    rows = " + ".join(str(len(s)) for s in sets)
    pages = [len(chart.on_page(page)) for page in range(1, chart.pages + 1)]
    if ways == ("names",) and strange:
        found = f"{counted(len(strange), 'row')} with other names, such as {strange[0][:40]}"
    elif ways == ("places",):
        found = f"names such as {sets[0].sample_ids[0][:40]} in {counted(len(sets), 'file')}"
    else:
        found = f"{rows} rows named {sets[0].sample_ids[0][:40]} and on"
    whole = f"{len(chart.readings)} rows" + (
        f", or files of {' + '.join(map(str, pages))} rows" if pages[1:] else ""
    )
    expected = {
        "names": f"names of the chart, such as {chart.readings.sample_ids[0]}",
        "places": "row and column of the chart, such as B7; a file for each page, in order"
        if chart.has_places
        else "a chart reference that tells places",
        "order": whole,
    }
    return InputError(
        "readings do not fit the chart",
        path=sets[0].source or None,
        found=found,
        expected="; or ".join(expected[way] for way in ways),
        advice="Is this the reference of the chart that was read? Read what is missing, name the patches, or "
        "say --walk columns where letters name columns",
    )


def _check_inks(chart: ChartPatches, readings: ReadingSet, patches: IntArray) -> None:
    for key in ("INK_SPACE", "CURVES_DIGEST"):
        own, its = readings.keywords.get(key), chart.readings.keywords.get(key)
        if own is not None and its is not None and own != its:
            raise InputError(
                "readings are of a chart that was printed through other curves",
                path=readings.source or None,
                where=f"keyword {key}",
                found=own[:19],
                expected=its[:19],
                advice="Is this the reference of the chart that was read?",
            )
    if not readings.ink_columns:
        return
    wanted = chart.readings.coverages[patches]
    if readings.coverages.shape[1] == wanted.shape[1]:
        gap = np.abs(readings.coverages - wanted).max(axis=1)
        row = int(gap.argmax())
        if gap[row] <= _SAME_INK:
            return
        where = f"line {readings.lines[row]}" if readings.lines else f"row {row + 1}"
        found, expected = (
            " ".join(f"{100 * v:g}" for v in inks[row]) for inks in (readings.coverages, wanted)
        )
    else:
        where, found, expected = (
            "ink columns",
            " ".join(readings.ink_columns),
            " ".join(chart.readings.ink_columns),
        )
    raise InputError(
        "inks in the file are not those of the chart's patch",
        path=readings.source or None,
        where=where,
        found=found,
        expected=expected,
        advice="Is this the reference of the chart that was read?",
    )


def _on_patches(chart: ChartPatches, readings: ReadingSet, patches: IntArray) -> ReadingSet:
    """Return readings with the names, inks and keywords of the chart."""
    of = chart.readings
    return replace(
        readings,
        sample_ids=tuple(of.sample_ids[k] for k in patches),
        ink_columns=of.ink_columns,
        coverages=of.coverages[patches],
        keywords=readings.keywords | of.keywords,
    )
