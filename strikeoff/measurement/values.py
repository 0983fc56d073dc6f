"""Cells of text to numbers, each fault with its line and column."""

from __future__ import annotations

import math
import re

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem, Severity
from strikeoff.base.words import counted
from strikeoff.measurement.text import RawTable

FloatArray = NDArray[np.float64]

# A damaged file has thousands of faults; the first few tell the story.
_MAX_FAULTS = 50
_DECIMAL_COMMA = re.compile(r"^[+-]?\d*,\d+(?:[eE][+-]?\d+)?$")
_LONGEST_NUMBER = 64
# What to do about a row with too many cells, by whether blanks separate them.
_MANY = {
    True: "Put names that hold blanks in double quotes",
    False: "Separate columns by semicolons where numbers have decimal commas, and put texts that hold the "
    "separator in double quotes",
}
_NUMBER = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$")


class Faults:
    """Collects faults of one kind and counts those beyond the first few."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        self.count = 0

    def add(self, problem: Problem) -> None:
        """Keep the problem if it is among the first."""
        self.count += 1
        if self.count <= _MAX_FAULTS:
            self.problems.append(problem)

    def finish(self, cause: str | None = None) -> None:
        """Say how many were not listed; ``cause`` is what explains them all."""
        if self.count > _MAX_FAULTS:
            more = f"{self.count - _MAX_FAULTS} further faults of this kind are not listed"
            self.problems.append(Problem("error", "file", more, cause=cause))


def read_number(text: str) -> float:
    """Return the number in a cell; decimal comma and the typographic minus are understood.

    Returns
    -------
    float
        NaN when the cell holds no finite number.

    Examples
    --------
    >>> read_number("12,5"), read_number("−3"), read_number("1e-3"), read_number("n/a")
    (12.5, -3.0, 0.001, nan)
    """
    plain = text.strip().replace("\u2212", "-")
    if len(plain) > _LONGEST_NUMBER:
        return math.nan
    if _DECIMAL_COMMA.match(plain):
        plain = plain.replace(",", ".")
    if not _NUMBER.match(plain):
        return math.nan
    value = float(plain)
    return value if math.isfinite(value) else math.nan


def table_values(
    table: RawTable, columns: list[int], id_column: int | None, problems: list[Problem]
) -> tuple[list[str], list[int], FloatArray]:
    """Return names, line numbers and values of the wanted columns, row by row.

    Parameters
    ----------
    table : RawTable
        The table.
    columns : list of int
        Positions wanted.
    id_column : int or None
        Position of the patch name; rows are numbered from 1 where there is none.
    problems : list of Problem
        Rows that are too short or too long are added as errors.

    Returns
    -------
    ids : list of str
    lines : list of int
    values : ndarray, shape (n, len(columns))
        NaN where a cell holds no number; rows that do not fit are left out.
    """
    wanted = len(table.fields)
    # A row that fits has a character a cell and separators; others need no room.
    room = sum(len(text) >= 2 * wanted - 1 for _, text in table.rows)
    values = np.full((room, len(columns)), np.nan)
    ids: list[str] = []
    lines: list[int] = []
    faults = Faults(problems)
    commas = 0
    for number, text in table.rows:
        cells = table.cells(text)
        if len(cells) != wanted:
            faults.add(_misfit(number, cells, wanted, spaced=table.delimiter is None))
            continue
        picked = [cells[position] for position in columns]
        row = values[len(ids)]
        try:
            if any("_" in cell for cell in picked):
                raise ValueError
            row[:] = [float(cell) for cell in picked]
        except ValueError:
            commas += any(_DECIMAL_COMMA.match(cell[:_LONGEST_NUMBER]) is not None for cell in picked)
            row[:] = [read_number(cell) for cell in picked]
        ids.append(cells[id_column] if id_column is not None else str(len(ids) + 1))
        lines.append(number)
    faults.finish()
    if commas:
        problems.append(
            Problem("note", "file", f"decimal commas read as decimal points in {counted(commas, 'row')}")
        )
    found = values[: len(ids)]
    found[~np.isfinite(found)] = np.nan
    return ids, lines, found


def _misfit(number: int, cells: list[str], wanted: int, *, spaced: bool) -> Problem:
    few = len(cells) < wanted
    return Problem(
        "error",
        f"line {number}",
        f"row has too {'few' if few else 'many'} columns",
        found=str(len(cells)),
        expected=str(wanted),
        advice="Export or copy the file again, or complete this row" if few else _MANY[spaced],
    )


def cell_text(table: RawTable, line: int, column: int) -> str:
    """Return what stands in a cell, for a message."""
    text = next((text for number, text in table.rows if number == line), "")
    cells = table.cells(text)
    return cells[column][:40] if column < len(cells) else ""


def _shown(text: str) -> str:
    return repr(text) if text else "nothing"


def report_missing(
    table: RawTable,
    ids: list[str],
    lines: list[int],
    values: FloatArray,
    columns: list[int],
    what: str,
    severity: Severity,
    problems: list[Problem],
) -> NDArray[np.bool_]:
    """Report every cell without a number and return which rows are whole.

    A row that lacks all of several cells is one fault that names the patch.

    Parameters
    ----------
    table : RawTable
        The table.
    ids, lines : list
        Name and line of each row of the values.
    values : ndarray, shape (n, len(columns))
        NaN where a cell holds no number.
    columns : list of int
        Positions in the table.
    what : str
        What the columns hold together, such as ``spectrum``.
    severity : str
        Of what is reported.
    problems : list of Problem
        Added to.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    bad = np.isnan(values)
    lacking = np.asarray(bad.all(axis=1) & (len(columns) > 1), dtype=np.bool_)
    single = bad & ~lacking[:, None]
    places = [(int(row), -1) for row in np.flatnonzero(lacking)]
    places += [(int(row), int(column)) for row, column in np.argwhere(single)[: _MAX_FAULTS + 1]]
    faults = Faults(problems)
    for row, position in sorted(places):
        first = columns[max(position, 0)]
        if position < 0:
            where, message = f"line {lines[row]}, patch {ids[row]}", f"patch has no {what}"
            found = f"no number from {table.fields[first]} to {table.fields[columns[-1]]}"
            expected = f"{what} as in the other rows"
        else:
            where, message = f"line {lines[row]}, column {table.fields[first]}", "cell holds no number"
            found, expected = _shown(cell_text(table, lines[row], first)), "a number"
        advice = "Read the patch again, or take its row out of the file"
        faults.add(Problem(severity, where, message, found, expected, advice))
    faults.count = int(lacking.sum() + single.sum())
    faults.finish()
    return np.asarray(~bad.any(axis=1), dtype=np.bool_)
