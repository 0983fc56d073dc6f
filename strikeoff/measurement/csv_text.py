"""CSV, semicolon, tab and blank separated tables with a line of field names."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from numpy.typing import ArrayLike

from strikeoff.base.errors import InputError
from strikeoff.base.files import write_text
from strikeoff.base.problems import Problem
from strikeoff.measurement.columns import output_columns
from strikeoff.measurement.fields import classify
from strikeoff.measurement.iso28178 import setup_words
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.text import (
    MAX_COLUMNS,
    MAX_ROWS,
    RawTable,
    split_delimited,
    split_spaced,
    trim_cells,
)

# Field names stand near the top; what comes before is header text.
_SEARCH_LINES = 200
_LONGEST_NAMES = 64 << 10
# Rows that tell how long numbers are.
_ENOUGH_ROWS = 30


def parse_delimited(
    lines: list[tuple[int, str]], problems: list[Problem]
) -> tuple[dict[str, str], list[RawTable]]:
    """Read a bare table: header lines of ``keyword value``, a line of field names, rows.

    Parameters
    ----------
    lines : list of (int, str)
        Non-blank lines with their numbers.
    problems : list of Problem
        Added to.

    Returns
    -------
    keywords, tables
        As `parse_iso28178`.

    Raises
    ------
    InputError
        When no line of field names is found.
    """
    best: tuple[int, int, str | None, list[str]] = (0, 0, None, [])
    fault: InputError | None = None
    for index, (number, line) in enumerate(lines[:_SEARCH_LINES]):
        if len(line) > _LONGEST_NAMES:
            continue
        for delimiter in ("\t", ";", ",", None):
            cells = _split(line.lstrip("#") if line.startswith("#SAMPLE") else line, delimiter)
            if not 1 <= len(cells) <= MAX_COLUMNS:
                continue
            try:
                known = classify(cells, f"line {number}").count
            except InputError as error:
                fault = fault or error
                continue
            if known > best[0]:
                best = (known, index, delimiter, cells)
        if best[0] >= 3:
            break
    known, index, delimiter, fields = best
    if known < 1 or (fault is not None and known < 3):
        if fault is not None:
            raise fault
        raise InputError(
            "no field names found",
            where=f"line {lines[0][0]}",
            found=lines[0][1][:60].strip(),
            expected="a line such as SAMPLE_ID CMYK_C ... LAB_L LAB_A LAB_B",
            advice="Export the readings with a line of column names",
        )
    keywords: dict[str, str] = {}
    for _, line in lines[:index]:
        cells = [cell for cell in _split(line, delimiter) if cell]
        if len(cells) < 2:
            cells = split_spaced(line)
        if len(cells) >= 2:
            keywords.setdefault(cells[0].upper().rstrip("=:"), " ".join(cells[1:]))
    table = RawTable(fields, delimiter, lines[index][0])
    for number, line in lines[index + 1 :]:
        if line.startswith("#") and len(_split(line, delimiter)) != len(fields):
            continue
        if not line.strip(";,\t "):
            continue
        if len(table.rows) >= MAX_ROWS:
            raise InputError("too many rows", where=f"line {number}", expected=f"{MAX_ROWS} or fewer")
        table.rows.append((number, line))
    problems.append(Problem("note", f"line {table.fields_line}", "table without ISO 28178 header"))
    return keywords, [table]


def report_cut(text: str, table: RawTable, problems: list[Problem]) -> None:
    """Add a warning where a text ends inside a number: without a line end, and shorter than all others.

    Parameters
    ----------
    text : str
        The whole file; what marks its end is its last line end.
    table : RawTable
        Its table.
    problems : list of Problem
        Added to.
    """
    if text.endswith(("\n", "\r")) or len(table.rows) < _ENOUGH_ROWS:
        return
    (number, last), rows = table.rows[-1], table.rows[-_ENOUGH_ROWS:-1]
    cells = table.cells(last)
    others = [others[-1] for _, row in rows if len(others := table.cells(row)) == len(cells)]
    if len(cells) == len(table.fields) and others and len(cells[-1]) + 1 < min(map(len, others)):
        problems.append(
            Problem(
                "warning",
                f"line {number}, column {table.fields[-1]}",
                "file seems to be cut short inside its last number",
                found=f"{cells[-1]!r} and no line end",
                expected=f"{min(map(len, others))} characters or more, as in other rows",
                advice="Export or copy the file again, or end the last line if the number is whole",
            )
        )


def _split(line: str, delimiter: str | None) -> list[str]:
    if delimiter is None:
        return split_spaced(line)
    return trim_cells(split_delimited(line, delimiter), 0)


def format_csv(
    readings: ReadingSet,
    *,
    extra_columns: Mapping[str, ArrayLike] | None = None,
    header: Mapping[str, str] | None = None,
    digits: int = 10,
    delimiter: str = ",",
) -> str:
    """Return readings as delimited text; the set-up and header stand above as ``KEYWORD,value`` lines."""
    words = {
        **setup_words(readings),
        **{key.upper(): " ".join(str(text).split()) for key, text in (header or {}).items()},
    }
    names, rows = output_columns(readings, extra_columns or {}, digits)
    table = [[key, value] for key, value in words.items()] + [names] + rows
    return "".join(delimiter.join(_quoted(cell, delimiter) for cell in row) + "\n" for row in table)


def write_csv(
    path: str | Path,
    readings: ReadingSet,
    extra_columns: Mapping[str, ArrayLike] | None = None,
    header: Mapping[str, str] | None = None,
    digits: int = 10,
    delimiter: str = ",",
) -> None:
    """Write readings as delimited text; see `format_csv`."""
    text = format_csv(
        readings, extra_columns=extra_columns, header=header, digits=digits, delimiter=delimiter
    )
    write_text(path, text)


def _quoted(cell: str, delimiter: str) -> str:
    text = " ".join(cell.split())
    if delimiter in text or '"' in text or text.startswith("#"):
        return '"' + text.replace('"', '""') + '"'
    return text
