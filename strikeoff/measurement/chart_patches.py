"""A chart's reference: its patches, their inks and where they stand."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.measurement.further_columns import further_columns
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.records import ReadingSet

IntArray = NDArray[np.int64]

#: What the header of a reference says of its chart.
CHART_KEYWORDS = (
    "CHART_KIND",
    "INK_SPACE",
    "CURVES_DIGEST",
    "CONDITION_NAME",
    "CONDITION_DIGEST",
    "INK_NAMES",
    "TOTAL_INK",
    "SEED",
    "PATCH_SIZE_MM",
    "PAGE_SIZE_MM",
)
#: Ways over a page, in words.
WALKS: dict[str, str] = {
    "rows": "as the chart says",
    "back": "from the last patch to the first",
    "turning": "with every second row the other way",
    "columns": "column by column",
}


@dataclass(frozen=True)
class ChartPatches:
    """The patches of a chart in reading order.

    Attributes
    ----------
    readings : ReadingSet
        Names, inks and keywords; no colours.
    page, row, column : ndarray of int, shape (n,)
        From 1; zeros where the reference tells no places.
    """

    readings: ReadingSet
    page: IntArray
    row: IntArray
    column: IntArray

    @property
    def has_places(self) -> bool:
        """Whether the reference tells where patches stand."""
        return bool(self.row.min(initial=1) > 0)

    @property
    def pages(self) -> int:
        """Number of pages."""
        return int(self.page.max(initial=1))

    def on_page(self, page: int) -> IntArray:
        """Return the patches of a page in reading order."""
        return np.flatnonzero(np.maximum(self.page, 1) == page)

    def walked(self, patches: IntArray, walk: str) -> IntArray:
        """Return patches of one page in another order of reading."""
        row, column = self.row[patches], self.column[patches]
        if walk == "back":
            return patches[::-1]
        if walk == "columns":
            return patches[np.lexsort((row, column))]
        if walk == "turning":
            # Against the chart's own way, whichever that is.
            place = np.empty(len(patches), np.int64)
            for number, label in enumerate(dict.fromkeys(row.tolist())):
                at = np.flatnonzero(row == label)
                place[at] = at[::-1] if number % 2 else at
            return patches[place]
        return patches


def read_chart(path: str | Path) -> ChartPatches:
    """Read a chart reference.

    Raises
    ------
    StorageError
        When the file cannot be opened.
    InputError
        When it holds no inks.
    """
    readings, problems = read_readings(path, need_colour=False)
    first = next((p for p in problems if p.severity == "error"), None)
    if first is not None:
        raise InputError(
            first.message, path=path, where=first.where, found=first.found, expected=first.expected
        )
    return ChartPatches(readings, *_places(further_columns(path, readings), len(readings)))


def _places(columns: dict[str, list[str]], count: int) -> IntArray:
    """Return pages, rows and columns; zeros where not all patches tell theirs."""
    places = np.zeros((3, count), np.int64)
    if not {"PAGE", "ROW", "COLUMN"} <= set(columns):
        return places
    pages, rows, across = columns["PAGE"], columns["ROW"], columns["COLUMN"]
    if all(text.isdecimal() for text in (*pages, *across)) and all(text.isalpha() for text in rows):
        for at, numbers in enumerate((map(int, pages), map(row_number, rows), map(int, across))):
            places[at] = list(numbers)
    return places


def row_number(label: str) -> int:
    """Return the number of a row from its letters.

    Examples
    --------
    >>> row_number("A"), row_number("z"), row_number("AA")
    (1, 26, 27)
    """
    number = 0
    for letter in label.upper():
        number = 26 * number + ord(letter) - ord("A") + 1
    return number
