"""Readings to a file, the format chosen by its ending."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from numpy.typing import ArrayLike

from strikeoff.measurement.csv_text import write_csv
from strikeoff.measurement.cxf_write import write_cxf_file
from strikeoff.measurement.iso28178 import write_iso28178
from strikeoff.measurement.records import ReadingSet


def write_readings(
    path: str | Path,
    readings: ReadingSet,
    extra_columns: Mapping[str, ArrayLike] | None = None,
    header: Mapping[str, str] | None = None,
    digits: int = 10,
) -> None:
    """Write readings by the ending of the name.

    ``.csv`` is comma separated, ``.tsv`` tab separated, ``.cxf`` and ``.xml`` CxF3, anything else ISO 28178
    text.

    Parameters
    ----------
    path : str or Path
        Target; appears whole or not at all.
    readings : ReadingSet
        What to write.
    extra_columns : mapping of str to array_like, shape (n,)
        Further columns.
    header : mapping of str to str
        Further header keywords.
    digits : int
        Significant digits.

    Raises
    ------
    StorageError
        When the file cannot be written.
    """
    ending = Path(path).suffix.lower()
    if ending in (".csv", ".tsv"):
        write_csv(path, readings, extra_columns, header, digits, "," if ending == ".csv" else "\t")
    elif ending in (".cxf", ".xml"):
        write_cxf_file(path, readings, extra_columns, header, digits)
    else:
        write_iso28178(path, readings, extra_columns, header, digits)
