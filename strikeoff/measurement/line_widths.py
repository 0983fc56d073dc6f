"""Widths of printed lines and gaps that a person measured beside the steps of a ramp."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.measurement.cxf import NONE
from strikeoff.measurement.fields import normal_name
from strikeoff.measurement.further_columns import raw_tables
from strikeoff.measurement.text import RawTable

FloatArray = NDArray[np.float64]

_COLUMNS = ("LINE_MM", "GAP_MM")
_MOST_MM = 50.0


@dataclass(frozen=True)
class LineWidths:
    """Measured widths of a line and a gap that are equally wide in the file, by patch name.

    Attributes
    ----------
    sample_ids : tuple of str
        Patches that have both.
    line_mm, gap_mm : ndarray, shape (n,)
        Widths. [mm]
    """

    sample_ids: tuple[str, ...]
    line_mm: FloatArray
    gap_mm: FloatArray

    @property
    def growth_mm(self) -> FloatArray:
        """How far each edge moved: a line gains what a gap loses, at two edges each. [mm]."""
        return np.asarray((self.line_mm - self.gap_mm) / 4.0)


def read_line_widths(path: str | Path) -> LineWidths | None:
    """Read the columns LINE_MM and GAP_MM of a file of readings.

    Parameters
    ----------
    path : str or Path
        Readings.

    Returns
    -------
    LineWidths or None
        None where the file has no such columns. Cells that are empty or ``-`` are left out.

    Raises
    ------
    InputError
        For one column without the other, or a width that is none.
    """
    for table in raw_tables(path):
        names = [normal_name(name) for name in table.fields]
        present = [name for name in _COLUMNS if name in names]
        if len(present) == 1:
            raise InputError(
                "a line width needs its gap",
                path=path,
                where=f"line {table.fields_line}",
                found=present[0],
                expected=" and ".join(_COLUMNS),
                advice="Add the other column, or leave both out",
            )
        if present:
            return _widths(table, names, str(path))
    return None


def _widths(table: RawTable, names: list[str], path: str) -> LineWidths:
    places = [names.index(name) for name in _COLUMNS]
    named = names.index("SAMPLE_ID") if "SAMPLE_ID" in names else None
    ids, found = [], []
    for number, (line, text) in enumerate(table.rows, 1):
        cells = table.cells(text)
        if len(cells) <= max(places) or any(cells[p].strip() in ("", "-", NONE) for p in places):
            continue
        try:
            pair = [float(cells[p]) for p in places]
        except ValueError:
            pair = [math.nan]
        if not all(0 <= value <= _MOST_MM for value in pair):
            raise InputError(
                "not a width",
                path=path,
                where=f"line {line}",
                found=text[:60],
                expected=f"0 to {_MOST_MM:g} mm in {' and '.join(_COLUMNS)}",
                advice="Correct the width, or leave both cells empty",
            )
        ids.append(cells[named] if named is not None else str(number))
        found.append(pair)
    widths = np.array(found, dtype=np.float64).reshape(-1, 2)
    return LineWidths(tuple(ids), widths[:, 0], widths[:, 1])
