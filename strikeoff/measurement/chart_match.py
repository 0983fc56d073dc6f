"""Ways in which readings name the patches of a chart."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.measurement.chart_patches import ChartPatches, row_number
from strikeoff.measurement.records import ReadingSet

IntArray = NDArray[np.int64]

By = Literal["names", "places", "order"]
Walk = Literal["rows", "back", "turning", "columns"]

_NUMBER = re.compile(r"0*(\d+)(?:[.,](\d+))?")
_PLACE = re.compile(r"\s*(?:([A-Za-z]{1,3})[-_ .:]?0*(\d{1,4})|0*(\d{1,4})[-_ .:]?([A-Za-z]{1,3}))\s*")


def match_patches(
    chart: ChartPatches, sets: Sequence[ReadingSet], by: By, walk: str = "rows"
) -> list[IntArray] | None:
    """Return the patch of the chart that each row is, by file; None where they do not fit.

    Parameters
    ----------
    chart : ChartPatches
        What was printed.
    sets : sequence of ReadingSet
        Readings of one chart each, or of its pages in order.
    by : {"names", "places", "order"}
        By the chart's names, by row and column, or by the order of reading.
    walk : {"rows", "back", "turning", "columns"}
        Order of reading; for places, ``columns`` says that letters name columns.
    """
    if by == "order":
        return _in_order(chart, sets, walk)
    if by == "names":
        named = _by_names(chart.readings.sample_ids, sets)
    else:
        if not chart.has_places:
            return None
        pages = _pages(chart, sets)
        if pages is None:
            return None
        spots = {spot: k for k, spot in enumerate(zip(chart.page, chart.row, chart.column, strict=True))}
        named = [
            [spots.get((page, *_place(name, walk)), -1) for name in s.sample_ids]
            for page, s in zip(pages, sets, strict=True)
        ]
    found = [np.array(rows, np.int64) for rows in named]
    if any((rows < 0).any() for rows in found):
        return None
    # Files of single pages that all begin at the same name say nothing of where they belong.
    if by == "names" and len(found) > 1:
        sizes = {len(np.unique(rows)) for rows in found}
        if sizes != {len(chart.readings)} and len(np.unique(np.concatenate(found))) < sum(map(len, found)):
            return None
    return found


def _by_names(ids: Sequence[str], sets: Sequence[ReadingSet]) -> list[list[int]]:
    """Return the patch of each name, -1 for none: as they stand, else as spreadsheets write numbers anew."""
    as_written = _patches_named(ids, sets, str.casefold)
    if all(min(rows, default=0) >= 0 for rows in as_written):
        return as_written
    if len({_number(name) for name in ids}) < len(ids):
        return as_written
    return _patches_named(ids, sets, _number)


def _patches_named(
    ids: Sequence[str], sets: Sequence[ReadingSet], spelt: Callable[[str], str]
) -> list[list[int]]:
    place = {spelt(name): k for k, name in enumerate(ids)}
    return [[place.get(spelt(name.strip()), -1) for name in s.sample_ids] for s in sets]


def _number(name: str) -> str:
    """Return a number without what spreadsheets add or change: 38.0, 38.20 and 38,2 are 38, 38.2 and 38.2."""
    match = _NUMBER.fullmatch(name)
    if match is None:
        return name.casefold()
    decimals = (match[2] or "").rstrip("0")
    return f"{match[1]}.{decimals}" if decimals else match[1]


def _place(name: str, walk: str) -> tuple[int, int]:
    """Return row and column of a name such as B7 or 7B; zeros for none."""
    match = _PLACE.fullmatch(name)
    if match is None:
        return 0, 0
    letters, number = match[1] or match[4], int(match[2] or match[3])
    return (number, row_number(letters)) if walk == "columns" else (row_number(letters), number)


def _pages(chart: ChartPatches, sets: Sequence[ReadingSet]) -> list[int] | None:
    """Return the page of each file: one page for all, or files in the order of pages."""
    if chart.pages == 1:
        return [1] * len(sets)
    return list(range(1, chart.pages + 1)) if len(sets) == chart.pages else None


def _in_order(
    chart: ChartPatches, sets: Sequence[ReadingSet], walk: str, *, last_first: bool = False
) -> list[IntArray] | None:
    if walk != "rows" and not chart.has_places:
        return None
    pages = range(1, chart.pages + 1)
    by_page = [chart.walked(chart.on_page(page), walk) for page in (reversed(pages) if last_first else pages)]
    whole = np.concatenate(by_page)
    if len(sets) == chart.pages > 1 and all(len(s) == len(p) for s, p in zip(sets, by_page, strict=True)):
        return by_page
    if any(len(s) % len(whole) for s in sets):
        return None
    return [np.tile(whole, len(s) // len(whole)) for s in sets]


def last_page_first(chart: ChartPatches, sets: Sequence[ReadingSet], walk: str) -> list[IntArray] | None:
    """Return the patch of each row if pages were read from the last to the first; None where it cannot be."""
    return None if chart.pages == 1 else _in_order(chart, sets, walk, last_first=True)


def chart_begun(chart: ChartPatches, sets: Sequence[ReadingSet], walk: str) -> list[IntArray] | None:
    """Return the patch of each row if one file holds the chart from its start on, and no more; else None."""
    if len(sets) != 1 or len(sets[0]) >= len(chart.readings) or not (walk == "rows" or chart.has_places):
        return None
    whole = [chart.walked(chart.on_page(page), walk) for page in range(1, chart.pages + 1)]
    return [np.concatenate(whole)[: len(sets[0])]]


def counts_rows(sets: Sequence[ReadingSet]) -> bool:
    """Say whether every file only counts its rows, 1, 2, 3 and on."""
    return all(
        [_number(name.strip()) for name in s.sample_ids] == [str(row) for row in range(1, len(s) + 1)]
        for s in sets
    )
