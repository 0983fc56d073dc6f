"""A chart's reference: its patches, their inks and where they stand."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.measurement.fields import normal_name
from strikeoff.measurement.iso28178 import is_iso28178, parse_iso28178
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.text import MAX_BYTES, decode, numbered_lines

IntArray = NDArray[np.int64]

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
    lines = numbered_lines(decode(read_bytes(path, MAX_BYTES), []))
    places = np.zeros((3, len(readings)), np.int64)
    if is_iso28178(lines):
        by_line = _places(lines)
        found = [by_line.get(line) for line in readings.lines]
        known = [place for place in found if place is not None]
        if len(known) == len(readings):
            places = np.array(known, np.int64).T
    return ChartPatches(readings, *places)


def _places(lines: list[tuple[int, str]]) -> dict[int, tuple[int, int, int]]:
    """Return page, row and column by line, as far as they are told."""
    found: dict[int, tuple[int, int, int]] = {}
    for table in parse_iso28178(lines, [])[1]:
        names = [normal_name(name) for name in table.fields]
        if not {"PAGE", "ROW", "COLUMN"} <= set(names):
            continue
        at = [names.index(name) for name in ("PAGE", "ROW", "COLUMN")]
        for line, text in table.rows:
            cells = table.cells(text)
            if len(cells) > max(at):
                page, row, column = (cells[k].strip() for k in at)
                if page.isdigit() and column.isdigit() and row.isalpha():
                    found[line] = (int(page), row_number(row), int(column))
    return found


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
