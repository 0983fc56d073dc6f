"""One text table to named quantities in their units."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.measurement.fields import Fields
from strikeoff.measurement.text import RawTable
from strikeoff.measurement.values import report_missing, table_values

FloatArray = NDArray[np.float64]

# A reflectance factor above this is a percentage; fluorescent cloth reaches 1.6 at most.
_PERCENT_ABOVE = 2.0


@dataclass(frozen=True)
class Quantities:
    """Rows of a table: ink in the file's scale, colours in ours; None where the table has none."""

    ids: list[str]
    named: bool
    lines: list[int]
    ink_columns: tuple[str, ...]
    inks: FloatArray
    spectra: FloatArray | None = None
    wavelengths_nm: FloatArray | None = None
    xyz: FloatArray | None = None
    lab: FloatArray | None = None

    def take(self, rows: NDArray[Any]) -> Quantities:
        """Return some rows, by index or mask."""
        index = np.flatnonzero(rows) if rows.dtype == bool else rows

        def pick(array: FloatArray | None) -> FloatArray | None:
            return None if array is None else array[index]

        return replace(
            self,
            ids=[self.ids[i] for i in index],
            lines=[self.lines[i] for i in index],
            inks=self.inks[index],
            spectra=pick(self.spectra),
            xyz=pick(self.xyz),
            lab=pick(self.lab),
        )

    def with_inks(self, other: Quantities) -> Quantities:
        """Return these colours with the names and inks of another table."""
        return replace(
            self,
            ids=other.ids,
            named=other.named,
            lines=other.lines,
            ink_columns=other.ink_columns,
            inks=other.inks,
        )


def extract(piece: tuple[RawTable, Fields], problems: list[Problem]) -> Quantities:
    """Return the quantities of a table; rows that lack a needed number are reported and left out.

    The best colour of the table (spectra, then XYZ, then Lab) is needed; faults in the others are
    warnings, and a quantity with faults is left out as a whole.

    Raises
    ------
    InputError
        When the wavelengths in the cells differ from row to row.
    """
    table, fields = piece
    groups: dict[str, list[int]] = {"inks": list(fields.inks.values())}
    if fields.spectral:
        groups["spectra"] = list(fields.spectral.values())
    elif fields.pairs:
        groups["wavelengths"] = [nm for nm, _ in fields.pairs]
        groups["spectra"] = [value for _, value in fields.pairs]
    if fields.xyz:
        groups["xyz"] = list(fields.xyz)
    if fields.lab:
        groups["lab"] = list(fields.lab)
    if fields.other_inks:
        names = ", ".join(fields.other_inks)
        where = f"line {table.fields_line}"
        problems.append(Problem("warning", where, f"further device columns are not used: {names}"))
    columns = [column for group in groups.values() for column in group]
    ids, lines, values = table_values(table, columns, fields.sample_id, problems)
    parts: dict[str, FloatArray] = {}
    start = 0
    for name, group in groups.items():
        parts[name] = values[:, start : start + len(group)]
        start += len(group)

    best = next((name for name in ("spectra", "xyz", "lab") if name in groups), None)
    needed = {"inks", "wavelengths", best}
    whole = np.ones(len(ids), dtype=bool)
    for name in list(parts):
        if name in needed:
            whole &= report_missing(table, lines, parts[name], groups[name], "error", problems)
    for name in [name for name in parts if name not in needed]:
        if np.isnan(parts[name][whole]).any():
            report_missing(table, lines, parts[name], groups[name], "warning", problems)
            problems.append(Problem("warning", "file", f"{name.upper()} columns have gaps and are left out"))
            del parts[name]

    found = Quantities(
        ids=ids,
        named=fields.sample_id is not None,
        lines=lines,
        ink_columns=tuple(fields.inks),
        inks=parts["inks"],
        spectra=parts.get("spectra"),
        xyz=parts.get("xyz"),
        lab=parts.get("lab"),
    ).take(whole)
    if fields.spectral:
        found = replace(found, wavelengths_nm=np.array(list(fields.spectral)))
    elif fields.pairs:
        found = _with_pairs(found, parts["wavelengths"][whole])
    return _in_our_units(found, fields.spectral_scale, problems)


def _with_pairs(found: Quantities, wavelengths: FloatArray) -> Quantities:
    if not len(wavelengths):
        return replace(found, wavelengths_nm=np.arange(float(wavelengths.shape[1])))
    order = np.argsort(wavelengths[0], kind="stable")
    differing = np.flatnonzero(np.abs(wavelengths - wavelengths[0]).max(axis=1) > 1e-6)
    if differing.size:
        raise InputError(
            "wavelengths differ from row to row",
            where=f"line {found.lines[int(differing[0])]}",
            expected=f"the wavelengths of line {found.lines[0]} in every row",
        )
    grid = wavelengths[0][order]
    if np.any(np.diff(grid) <= 0):
        raise InputError("a wavelength occurs twice", where=f"line {found.lines[0]}", expected="each once")
    if found.spectra is not None:
        found = replace(found, spectra=found.spectra[:, order])
    return replace(found, wavelengths_nm=grid)


def _in_our_units(found: Quantities, scale: str | None, problems: list[Problem]) -> Quantities:
    if found.spectra is not None and len(found.spectra):
        high = int((found.spectra.max(axis=1) > _PERCENT_ABOVE).sum())
        percent = scale == "PCT" or (scale is None and high >= max(1, round(0.05 * len(found.spectra))))
        if percent:
            found = replace(found, spectra=found.spectra / 100.0)
            problems.append(Problem("note", "file", "spectra are read as percent of the perfect diffuser"))
        faulty = np.flatnonzero(
            (found.spectra.max(axis=1) > _PERCENT_ABOVE) if found.spectra is not None else []
        )
        for row in faulty[:20]:
            problems.append(
                Problem(
                    "error",
                    f"line {found.lines[int(row)]}",
                    "reflectance is out of range",
                    found=f"{found.spectra[row].max():g}" if found.spectra is not None else None,
                    expected="0 to 1 as in the other rows",
                )
            )
        if faulty.size:
            keep = np.ones(len(found.ids), dtype=bool)
            keep[faulty] = False
            found = found.take(keep)
    if found.xyz is not None and len(found.xyz) > 1 and 0 < found.xyz[:, 1].max() <= 1.6:
        found = replace(found, xyz=found.xyz * 100.0)
        problems.append(Problem("warning", "file", "XYZ is read in the scale 0 to 1 and multiplied by 100"))
    return found
