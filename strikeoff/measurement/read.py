"""Readings from any file: text or CxF."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem, Severity, raise_first_error
from strikeoff.base.words import counted
from strikeoff.colour.cielab import spectra_to_lab, xyz_to_lab
from strikeoff.colour.weights import canonical_illuminant, canonical_observer, white_point
from strikeoff.measurement.choose import choose_tables, join_tables
from strikeoff.measurement.columns import ink_name_problems
from strikeoff.measurement.csv_text import parse_delimited, report_cut
from strikeoff.measurement.cxf import parse_cxf
from strikeoff.measurement.cxf_scan import is_xml
from strikeoff.measurement.iso28178 import is_iso28178, parse_iso28178
from strikeoff.measurement.quantities import Quantities, extract
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.row_setups import one_setup
from strikeoff.measurement.setup_keywords import setup_from_keywords
from strikeoff.measurement.text import MAX_BYTES, decode, numbered_lines
from strikeoff.measurement.values import Faults
from strikeoff.measurement.wavelength_grid import grid_problems

FloatArray = NDArray[np.float64]
InkScale = Literal["percent", "unit", "byte"]

_FULL = {"percent": 100.0, "unit": 1.0, "byte": 255.0}
# Rounding and regression noise beyond none and full that is not worth an error.
_SLACK = 0.005
# More rows than these with inks out of range are one fault: the scale.
_FEW_ROWS = 3
# Readings whose inks are all below this are in another scale; common practice, no source. [-]
_TRACE = 0.01
_SCALE_ADVICE = "Say with --ink-scale what full ink is: percent (100), unit (1) or byte (255)"


def read_readings(
    path: str | Path,
    *,
    ink_scale: InkScale = "percent",
    need_inks: bool = True,
    need_colour: bool = True,
) -> tuple[ReadingSet, list[Problem]]:
    """Read a file of readings: ISO 28178 text, CxF3, CSV, semicolon or tab separated.

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
    text = decode(data, problems)
    if is_xml(text):
        keywords, tables = parse_cxf(text, problems)
    else:
        lines = numbered_lines(text)
        if is_iso28178(lines):
            keywords, tables = parse_iso28178(lines, problems)
        else:
            keywords, tables = parse_delimited(lines, problems)
            report_cut(text, tables[0], problems)
    keywords = one_setup(keywords, tables, problems)
    pieces = choose_tables(tables, need_inks=need_inks, need_colour=need_colour, problems=problems)
    parts = [
        extract(table, fields, need_inks=need_inks, need_colour=need_colour, problems=problems)
        for table, fields in pieces
    ]
    joined = parts[0] if len(parts) == 1 else join_tables(parts[0], parts[1], problems)
    joined, coverages = _coverages(joined, ink_scale, need_inks, problems)
    if coverages.shape[1]:
        severity: Severity = "error" if need_colour and need_inks else "warning"
        _report_traces(joined, coverages, ink_scale, severity, problems)
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
        averaged=joined.averaged,
        setup=setup_from_keywords(keywords, problems),
        lines=tuple(joined.lines),
        keywords=keywords,
        source=source,
        digest=digest_bytes(data),
    )
    return readings, problems + ink_name_problems(readings)


def _coverages(
    joined: Quantities, ink_scale: InkScale, need_inks: bool, problems: list[Problem]
) -> tuple[Quantities, FloatArray]:
    """Return the rows whose inks are in range, and their inks as 0-1."""
    full = _FULL[ink_scale]
    coverages = joined.inks / full
    outside = (coverages < -_SLACK) | (coverages > 1 + _SLACK)
    if outside.any() and not need_inks:
        problems.append(
            Problem(
                "warning",
                "file",
                f"ink columns are not 0 to {full:g} and are left out",
                found=f"{joined.inks.min():g} to {joined.inks.max():g}",
                expected=f"0 to {full:g}",
                advice=_SCALE_ADVICE,
            )
        )
        return joined.without_inks(), np.zeros((len(joined.ids), 0))
    faults, expected = Faults(problems), f"0 to {full:g}"
    cause = None
    if outside.any(axis=1).sum() > _FEW_ROWS:
        lead = Problem(
            "error",
            "file",
            f"ink values are out of range in {int(outside.any(axis=1).sum())} rows",
            found=f"{joined.inks.min():g} to {joined.inks.max():g}",
            expected=expected,
            advice=_SCALE_ADVICE,
        )
        problems.append(lead)
        cause = lead.title
    for row, column in np.argwhere(outside):
        faults.add(
            Problem(
                "error",
                f"line {joined.lines[row]}, column {joined.ink_columns[column]}",
                "ink value is out of range",
                found=f"{joined.inks[row, column]:g}",
                expected=expected,
                advice=_SCALE_ADVICE,
                cause=cause,
            )
        )
    faults.finish(cause)
    whole = np.asarray(~outside.any(axis=1), dtype=np.bool_)
    joined, coverages = joined.take(whole), coverages[whole]
    slight = ((coverages < 0) | (coverages > 1)).any(axis=1)
    if slight.any():
        line = joined.lines[int(np.flatnonzero(slight)[0])]
        message = (
            f"ink values just outside 0 to {full:g} in {counted(int(slight.sum()), 'row')} set to the limit"
        )
        problems.append(Problem("warning", f"line {line}", message))
        coverages = np.clip(coverages, 0.0, 1.0)
    return joined, coverages


def _report_traces(
    joined: Quantities,
    coverages: FloatArray,
    ink_scale: InkScale,
    severity: Severity,
    problems: list[Problem],
) -> None:
    """Add a problem where no row has more than a trace of ink: full ink is not what was said."""
    if coverages.size and len(coverages) > 1 and 0 < coverages.max() <= _TRACE:
        unit = "" if ink_scale == "unit" else ": if full ink is 1 in this file, say --ink-scale unit"
        problems.append(
            Problem(
                severity,
                "file",
                f"no ink value exceeds {100 * _TRACE:g} % of full ink",
                found=f"{joined.inks.max():g} at most",
                expected=f"0 to {_FULL[ink_scale]:g}",
                advice=f"Look at the scale of the ink columns{unit}",
            )
        )


def _report_twin_ids(joined: Quantities, problems: list[Problem]) -> None:
    if not joined.named:
        return
    first = {name: row for row, name in reversed(list(enumerate(joined.ids)))}
    twins = [row for row, name in enumerate(joined.ids) if first[name] != row]
    if twins:
        problems.append(
            Problem(
                "note",
                f"line {joined.lines[twins[0]]}, patch {joined.ids[twins[0]]}",
                f"{counted(len(twins), 'row repeats', 'rows repeat')} a SAMPLE_ID, the first here",
            )
        )


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
        try:
            return spectra_to_lab(readings.spectra, readings.wavelengths_nm, light, angle)
        except InputError as error:
            raise_first_error(grid_problems(readings.wavelengths_nm), readings.source or None)
            error.path = error.path or readings.source or None
            error.where = error.where or "spectra"
            error.advice = error.advice or "Export the spectra from 400 to 700 nm, or XYZ or Lab without them"
            raise
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
