"""Which of a file's tables are read, and how two that belong together are joined."""

from __future__ import annotations

import re
from itertools import groupby

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.measurement.fields import Fields, classify
from strikeoff.measurement.quantities import Quantities
from strikeoff.measurement.text import RawTable

_NAMES_SHOWN = 24
_LONGEST_SERIES = 4
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")


def choose_tables(
    tables: list[RawTable], *, need_inks: bool, need_colour: bool, problems: list[Problem]
) -> tuple[tuple[RawTable, Fields], ...]:
    """Return the one table that holds all that is needed, or a table of inks and a table of colours.

    Parameters
    ----------
    tables : list of RawTable
        In file order.
    need_inks, need_colour : bool
        What must be there.
    problems : list of Problem
        Added to.

    Returns
    -------
    tuple of (RawTable, Fields)
        One or two. Of several whole tables the one with the best colour (spectra, XYZ, Lab), then the first.

    Raises
    ------
    InputError
        When something needed is missing; the names found are listed.
    """
    known = [(table, classify(table.fields, f"line {table.fields_line}")) for table in tables if table.rows]
    if not known:
        raise InputError(
            "no rows of data",
            where=f"line {tables[0].fields_line}" if tables else None,
            expected="rows below the field names, after BEGIN_DATA in ISO 28178 text",
            advice="Export or copy the file again",
        )
    whole = [(t, f) for t, f in known if (f.inks or not need_inks) and (f.has_colour or not need_colour)]
    if whole:
        chosen = min(whole, key=lambda piece: _rank(piece[1]))
        where = f"line {chosen[0].fields_line}"
        if len(known) > 1:
            message = f"{len(known)} tables found; only the one that starts here was read"
            problems.append(Problem("warning", where, message))
        for fault in chosen[1].faults.values():
            problems.append(
                Problem(
                    "warning",
                    where,
                    f"{fault.message} and are left out",
                    fault.found,
                    fault.expected,
                    fault.advice,
                )
            )
        return (chosen,)
    inks = next((piece for piece in known if piece[1].inks), None)
    colours = min((piece for piece in known if piece[1].has_colour), key=lambda p: _rank(p[1]), default=None)
    if inks is None and need_inks:
        advice = (
            "Put them on the patches of their chart with 'readings assign', or export them with ink columns"
        )
        _raise_missing(known, ("inks",), "ink columns", "CMYK_C ... or nCLR_1 ...", advice)
    if colours is None and need_colour:
        advice = "Export the readings with their colours"
        _raise_missing(known, ("xyz", "lab"), "colour columns", "spectra, XYZ_X ... or LAB_L ...", advice)
    return tuple(piece for piece in (inks, colours) if piece is not None)


def _rank(fields: Fields) -> tuple[bool, int]:
    if fields.spectral or fields.pairs:
        colour = 0
    else:
        colour = 1 if fields.xyz else 2
    return not (fields.inks and fields.has_colour), colour


def _raise_missing(
    known: list[tuple[RawTable, Fields]], groups: tuple[str, ...], lacking: str, expected: str, advice: str
) -> None:
    for _, fields in known:
        for group in groups:
            if group in fields.faults:
                raise fields.faults[group]
    names = _without_series([name for table, _ in known for name in table.fields])
    more = f" and {len(names) - _NAMES_SHOWN} more" if len(names) > _NAMES_SHOWN else ""
    raise InputError(
        f"no {lacking} found",
        where=f"line {known[0][0].fields_line}",
        found=", ".join(names[:_NAMES_SHOWN]) + more,
        expected=expected,
        advice=advice,
    )


def _without_series(names: list[str]) -> list[str]:
    """Return names with series that differ by a number alone, such as wavelengths, drawn together."""
    shown: list[str] = []
    for stem, group in groupby(names, key=lambda name: _NUMBER.sub("", name)):
        series = list(group)
        if stem and len(series) > _LONGEST_SERIES:
            shown.append(f"{series[0]} to {series[-1]} ({len(series)} columns)")
        else:
            shown += series
    return shown


def join_tables(inks: Quantities, colours: Quantities, problems: list[Problem]) -> Quantities:
    """Join a table of inks and a table of colours on the patch names, or row by row without names.

    Parameters
    ----------
    inks, colours : Quantities
        What the two tables hold.
    problems : list of Problem
        Says how many patches were joined and how many rows have no partner.

    Returns
    -------
    Quantities
        In the order of the inks.

    Raises
    ------
    InputError
        When names occur twice, or there are none and the tables differ in length.
    """
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
                advice="Export both tables with SAMPLE_ID",
            )
        rows = [(row, row) for row in range(len(inks.ids))]
        lost = 0
    problems.append(
        Problem(
            "warning" if lost else "note",
            f"line {inks.lines[0]}" if inks.lines else "file",
            f"inks and colours stand in two tables; {counted(len(rows), 'patch')} joined"
            + (f", {counted(lost, 'row')} without partner left out" if lost else ""),
        )
    )
    left = inks.take(np.array([a for a, _ in rows], dtype=int))
    right = colours.take(np.array([b for _, b in rows], dtype=int))
    return right.with_inks(left)
