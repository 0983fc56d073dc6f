"""Columns of a file beside inks and colours, as text: places in a chart, widths, uncertainties.

References
----------
ISO 28178:2009 and ISO 17972-1:2015 leave such columns and tags to those who write the files.
"""

from __future__ import annotations

from pathlib import Path

from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem
from strikeoff.measurement.csv_text import parse_delimited
from strikeoff.measurement.cxf import NONE, parse_cxf
from strikeoff.measurement.cxf_scan import is_xml
from strikeoff.measurement.cxf_tags import KNOWN
from strikeoff.measurement.fields import AVERAGED, normal_name
from strikeoff.measurement.iso28178 import is_iso28178, parse_iso28178
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.text import MAX_BYTES, RawTable, decode, numbered_lines

# What stands in a text file for a value that a CxF object lacks.
_EMPTY = "-"


def raw_tables(path: str | Path) -> list[RawTable]:
    """Return the tables of a file of readings as text.

    Raises
    ------
    StorageError
        When the file cannot be opened.
    InputError
        When it is no table of readings.
    """
    problems: list[Problem] = []
    text = decode(read_bytes(path, MAX_BYTES), problems)
    if is_xml(text):
        return parse_cxf(text, problems)[1]
    lines = numbered_lines(text)
    return (parse_iso28178 if is_iso28178(lines) else parse_delimited)(lines, problems)[1]


def further_columns(path: str | Path, readings: ReadingSet) -> dict[str, list[str]]:
    """Return the known columns of a file that `ReadingSet` does not hold, in the order of its rows.

    Parameters
    ----------
    path : str or Path
        The file.
    readings : ReadingSet
        What was read from it.

    Returns
    -------
    dict of str to list of str
        ``-`` where a row has no value; columns without any value are left out. Rows that share a line, as in
        CxF written without line ends, belong to the readings in order, if none of those was left out.
    """
    found: dict[str, dict[int, str]] = {}
    for table in raw_tables(path):
        names = [normal_name(name) for name in table.fields]
        places = {name: names.index(name) for name in KNOWN if name in names and name != AVERAGED}
        for row, text in _rows(table, readings) if places else []:
            cells = table.cells(text)
            if len(cells) == len(names):
                for name, place in places.items():
                    if cells[place] not in ("", NONE):
                        found.setdefault(name, {})[row] = cells[place]
    columns = {
        name: [by_row.get(row, _EMPTY) for row in range(len(readings))] for name, by_row in found.items()
    }
    return {name: column for name, column in columns.items() if set(column) != {_EMPTY}}


def _rows(table: RawTable, readings: ReadingSet) -> list[tuple[int, str]]:
    """Return the rows of readings by what they are in a table, with their text."""
    by_line = dict(table.rows)
    if len(by_line) == len(table.rows):
        return [(row, by_line[line]) for row, line in enumerate(readings.lines) if line in by_line]
    if len(table.rows) == len(readings):
        return [(row, text) for row, (_, text) in enumerate(table.rows)]
    return []
