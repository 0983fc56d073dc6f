"""Readings from any text file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem
from strikeoff.colour.cielab import spectra_to_lab, xyz_to_lab
from strikeoff.colour.weights import canonical_illuminant, canonical_observer, white_point
from strikeoff.measurement.csv_text import parse_delimited
from strikeoff.measurement.fields import Fields, classify
from strikeoff.measurement.iso28178 import is_iso28178, parse_iso28178
from strikeoff.measurement.quantities import Quantities, extract
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.setup_keywords import setup_from_keywords
from strikeoff.measurement.text import MAX_BYTES, RawTable, decode, numbered_lines

FloatArray = NDArray[np.float64]
InkScale = Literal["percent", "unit", "byte"]

_FULL = {"percent": 100.0, "unit": 1.0, "byte": 255.0}
# Rounding and regression noise beyond none and full that is not worth an error.
_SLACK = 0.005


def read_readings(
    path: str | Path,
    *,
    ink_scale: InkScale = "percent",
    need_inks: bool = True,
    need_colour: bool = True,
) -> tuple[ReadingSet, list[Problem]]:
    """Read a file of readings: ISO 28178 text, CSV, semicolon or tab separated.

    Parameters
    ----------
    path : str or Path
        The file, at most 64 MiB.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the file: 100, 1 or 255.
    need_inks, need_colour : bool
        Whether ink columns, and spectra or XYZ or Lab, must be there.

    Returns
    -------
    readings : ReadingSet
        Rows with an error are left out. XYZ and Lab are the file's own.
    problems : list of Problem
        Everything noticed; errors mean that rows are lacking or wrong.

    Raises
    ------
    StorageError
        When the file cannot be opened.
    InputError
        When no readings can be made of it.
    UsageError
        Unknown ink scale.
    """
    try:
        data = read_bytes(path, MAX_BYTES)
        return parse_readings(
            data, source=str(path), ink_scale=ink_scale, need_inks=need_inks, need_colour=need_colour
        )
    except InputError as error:
        error.path = error.path or str(path)
        raise


def parse_readings(
    data: bytes,
    *,
    source: str = "",
    ink_scale: InkScale = "percent",
    need_inks: bool = True,
    need_colour: bool = True,
) -> tuple[ReadingSet, list[Problem]]:
    """Read readings from bytes; see `read_readings`."""
    if ink_scale not in _FULL:
        raise UsageError("unknown ink scale", found=ink_scale, expected=", ".join(_FULL))
    problems: list[Problem] = []
    lines = numbered_lines(decode(data, problems))
    keywords, tables = (parse_iso28178 if is_iso28178(lines) else parse_delimited)(lines, problems)
    table = _choose(tables, need_inks, need_colour, problems)
    parts = [extract(piece, problems) for piece in table.pieces]
    joined = parts[0] if len(parts) == 1 else _join(parts[0], parts[1], problems)
    coverages, whole = _coverages(joined, ink_scale, problems)
    joined, coverages = joined.take(whole), coverages[whole]
    if not joined.ids:
        first = next((p for p in problems if p.severity == "error"), None)
        raise InputError(
            "no usable rows" + (f": {first.message}" if first else ""),
            where=first.where if first else None,
            found=first.found if first else "0 rows",
            expected=first.expected if first else "at least one row of readings",
            advice=first.advice if first else None,
        )
    _report_twin_ids(joined, problems)
    readings = ReadingSet(
        sample_ids=tuple(joined.ids),
        ink_columns=joined.ink_columns,
        coverages=coverages,
        spectra=joined.spectra,
        wavelengths_nm=joined.wavelengths_nm,
        xyz=joined.xyz,
        lab=joined.lab,
        setup=setup_from_keywords(keywords, problems),
        lines=tuple(joined.lines),
        keywords=keywords,
        source=source,
        digest=digest_bytes(data),
    )
    return readings, problems


@dataclass(frozen=True)
class _Choice:
    """One table that has all, or two that have it together."""

    pieces: tuple[tuple[RawTable, Fields], ...]


def _choose(tables: list[RawTable], need_inks: bool, need_colour: bool, problems: list[Problem]) -> _Choice:
    known = [(table, classify(table.fields, f"line {table.fields_line}")) for table in tables if table.rows]
    if not known:
        raise InputError("no rows of data", expected="rows between BEGIN_DATA and END_DATA")
    full = [(t, f) for t, f in known if (f.inks or not need_inks) and (f.has_colour or not need_colour)]
    # Where less is needed, a table that has more is still the better one.
    full.sort(key=lambda piece: not (piece[1].inks and piece[1].has_colour))
    if full:
        chosen = full[0]
        if len(known) > 1:
            where = f"line {chosen[0].fields_line}"
            message = f"{len(known)} tables found; only the one that starts here was read"
            problems.append(Problem("warning", where, message))
        return _Choice((chosen,))
    inks = next((piece for piece in known if piece[1].inks), None)
    colours = next((piece for piece in known if piece[1].has_colour), None)
    if inks is None or colours is None:
        lacking = "ink columns" if inks is None else "colour columns"
        expected = "CMYK_C ... or nCLR_1 ..." if inks is None else "spectra, XYZ_X ... or LAB_L ..."
        raise InputError(
            f"no {lacking} found",
            where=f"line {known[0][0].fields_line}",
            found=_some([name for table, _ in known for name in table.fields]),
            expected=expected,
            advice=f"Export the readings with their {lacking}",
        )
    return _Choice((inks, colours))


def _some(names: list[str]) -> str:
    return ", ".join(names[:24]) + (f" and {len(names) - 24} more" if len(names) > 24 else "")


def _join(inks: Quantities, colours: Quantities, problems: list[Problem]) -> Quantities:
    """Join a table of inks and a table of colours on the patch names, or row by row without names."""
    if inks.named and colours.named:
        place = {name: row for row, name in enumerate(colours.ids)}
        if len(place) < len(colours.ids) or len(set(inks.ids)) < len(inks.ids):
            raise InputError(
                "tables of inks and colours cannot be joined: a SAMPLE_ID occurs more than once",
                where=f"line {colours.lines[0]}",
                advice="Give every patch its own SAMPLE_ID",
            )
        rows = [(row, place[name]) for row, name in enumerate(inks.ids) if name in place]
        lost = len(inks.ids) + len(colours.ids) - 2 * len(rows)
    else:
        if len(inks.ids) != len(colours.ids):
            raise InputError(
                "tables of inks and colours differ in length and have no SAMPLE_ID",
                found=f"{len(inks.ids)} and {len(colours.ids)} rows",
                expected="the same number, or SAMPLE_ID in both",
            )
        rows = [(row, row) for row in range(len(inks.ids))]
        lost = 0
    problems.append(
        Problem(
            "warning" if lost else "note",
            f"line {inks.lines[0] if inks.lines else 0}",
            f"inks and colours stand in two tables; {len(rows)} patches joined"
            + (f", {lost} rows without partner left out" if lost else ""),
        )
    )
    left = inks.take(np.array([a for a, _ in rows], dtype=int))
    right = colours.take(np.array([b for _, b in rows], dtype=int))
    return right.with_inks(left)


def _coverages(
    joined: Quantities, ink_scale: InkScale, problems: list[Problem]
) -> tuple[FloatArray, NDArray[np.bool_]]:
    full = _FULL[ink_scale]
    coverages = joined.inks / full
    outside = (coverages < -_SLACK) | (coverages > 1 + _SLACK)
    for row, column in np.argwhere(outside)[:20]:
        problems.append(
            Problem(
                "error",
                f"line {joined.lines[row]}, column {joined.ink_columns[column]}",
                "ink value is out of range",
                found=f"{joined.inks[row, column]:g}",
                expected=f"0 to {full:g}",
                advice="Say with --ink-scale what full ink is: percent (100), unit (1) or byte (255)",
            )
        )
    if outside.sum() > 20:
        problems.append(
            Problem("error", "file", f"{int(outside.sum()) - 20} further ink values are out of range")
        )
    whole = np.asarray(~outside.any(axis=1), dtype=np.bool_)
    slight = whole & ((coverages < 0) | (coverages > 1)).any(axis=1)
    if slight.any():
        line = joined.lines[int(np.flatnonzero(slight)[0])]
        problems.append(
            Problem(
                "warning",
                f"line {line}",
                f"ink values just outside 0 to {full:g} in {int(slight.sum())} rows were set to the limit",
            )
        )
        coverages = np.where(slight[:, None], np.clip(coverages, 0.0, 1.0), coverages)
    if ink_scale == "percent" and coverages.size and len(coverages) > 1 and 0 < coverages.max() <= 0.01:
        problems.append(
            Problem(
                "warning",
                "file",
                "no ink value exceeds 1 percent",
                found=f"{joined.inks.max():g} at most",
                expected="percent, 0 to 100",
                advice="If full ink is 1 in this file, say --ink-scale unit",
            )
        )
    return coverages, whole


def _report_twin_ids(joined: Quantities, problems: list[Problem]) -> None:
    twins = len(joined.ids) - len(set(joined.ids))
    if joined.named and twins:
        problems.append(Problem("note", "file", f"{twins} rows repeat a SAMPLE_ID"))


def readings_lab(
    readings: ReadingSet, illuminant: str | None = None, observer: str | None = None
) -> FloatArray:
    """Return CIELAB of readings: from spectra if there are any, else from XYZ, else as the file has it.

    Parameters
    ----------
    readings : ReadingSet
        The readings.
    illuminant, observer : str, optional
        Wanted light and observer; the set-up's own by default.

    Returns
    -------
    ndarray, shape (n, 3)

    Raises
    ------
    UsageError
        When another light is asked for and there are no spectra.
    InputError
        When the readings hold no colour.
    """
    setup = readings.setup
    light = canonical_illuminant(illuminant) if illuminant else setup.illuminant
    angle = canonical_observer(observer) if observer else setup.observer
    if readings.spectra is not None and readings.wavelengths_nm is not None:
        return spectra_to_lab(readings.spectra, readings.wavelengths_nm, light, angle)
    if (light, angle) != (setup.illuminant, setup.observer):
        raise UsageError(
            "readings without spectra hold for one light only",
            found=f"{light}/{angle}",
            expected=f"{setup.illuminant}/{setup.observer}",
            advice="Measure with spectra to compute other lights",
        )
    if readings.xyz is not None:
        return xyz_to_lab(readings.xyz, white_point(light, angle))
    if readings.lab is not None:
        return readings.lab
    raise InputError("readings hold no colour", path=readings.source or None, expected="spectra, XYZ or Lab")
