"""One text table to named quantities in their units."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.measurement.band_order import band_order_problems
from strikeoff.measurement.fields import Fields
from strikeoff.measurement.text import RawTable
from strikeoff.measurement.values import Faults, report_missing, table_values
from strikeoff.measurement.wavelength_grid import grid_problems

FloatArray = NDArray[np.float64]

# A reflectance factor above this is a percentage; fluorescent cloth reaches 1.6 at most.
# Cloth to be printed on is lighter than this at some wavelength; common practice, no source.
_DARK = 0.15
# In the scale 0 to 1 black cloth may be as dark as this, but a chart that was divided by 100 twice is darker.
_DARKEST, _CHART_ROWS = 0.02, 8
_PERCENT_ABOVE = 2.0
_MOST_AVERAGED = 10_000
# In a percent file nearly every patch exceeds it, so fewer are faults in a unit file. [-]
_PERCENT_SHARE = 0.05
# Fewer than half that exceed it by so much are percent among rows in the scale 0 to 1. [-], [%]
_HALF, _PLAINLY_PERCENT = 0.5, 20.0
# A row of a percent file that reflects less at every wavelength is in the scale 0 to 1. [%]
_DARKEST_PERCENT = 1.0
# More such rows than this share are no dark patches. Common practice, no source. [-]
_OTHER_SHARE = 0.1
# What groups of columns hold, in words.
_WHAT = {
    "inks": "ink amounts",
    "spectra": "spectrum",
    "wavelengths": "wavelengths",
    "xyz": "XYZ",
    "lab": "Lab",
    "averaged": "number of readings",
}
# Largest Y of a file whose perfect diffuser has Y = 1.
_UNIT_XYZ_BELOW = 1.6


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
    averaged: FloatArray | None = None

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
            averaged=pick(self.averaged),
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

    def without_inks(self) -> Quantities:
        """Return the same rows without inks."""
        return replace(self, ink_columns=(), inks=np.zeros((len(self.ids), 0)))


def extract(
    table: RawTable, fields: Fields, *, need_inks: bool, need_colour: bool, problems: list[Problem]
) -> Quantities:
    """Return the quantities of a table; rows that lack a needed number are reported and left out.

    Where colour is needed it is the best of the table (spectra, then XYZ, then Lab); faults in quantities
    that are not needed are warnings, and such a quantity is left out as a whole.

    Raises
    ------
    InputError
        When the wavelengths in the cells differ from row to row.
    """
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
    if fields.averaged is not None:
        groups["averaged"] = [fields.averaged]
    if fields.other_inks:
        names = ", ".join(fields.other_inks)
        where = f"line {table.fields_line}"
        problems.append(Problem("warning", where, f"further device columns are not used: {names}"))
    if fields.unread_spectral:
        problems.append(
            Problem(
                "warning",
                f"line {table.fields_line}",
                "columns that look like a spectrum's tell no wavelength and are left out",
                found=", ".join(fields.unread_spectral[:5]),
                expected="names such as nm400 or SPECTRAL_NM400, from 200 to 2500 nm",
                advice="Name them after their wavelengths if they belong to the spectra",
            )
        )
    columns = [column for group in groups.values() for column in group]
    ids, lines, values = table_values(table, columns, fields.sample_id, problems)
    parts: dict[str, FloatArray] = {}
    start = 0
    for name, group in groups.items():
        parts[name] = values[:, start : start + len(group)]
        start += len(group)

    needed = {"inks"} if need_inks else set()
    best = next((name for name in ("spectra", "xyz", "lab") if name in groups), None)
    if need_colour and best:
        needed |= {best, "wavelengths"}
    whole = np.ones(len(ids), dtype=bool)
    for name in [name for name in parts if name in needed]:
        whole &= report_missing(table, ids, lines, parts[name], groups[name], _WHAT[name], "error", problems)
    for name in [name for name in parts if name not in needed]:
        if np.isnan(parts[name][whole]).any():
            report_missing(table, ids, lines, parts[name], groups[name], _WHAT[name], "warning", problems)
            what = "READINGS column has" if name == "averaged" else f"{name.upper()} columns have"
            said = "and is left out" if name == "averaged" else "and are left out"
            problems.append(Problem("warning", "file", f"{what} gaps {said}"))
            del parts[name]
    if "wavelengths" in groups and "wavelengths" not in parts:
        parts.pop("spectra", None)

    found = Quantities(
        ids=ids,
        named=fields.sample_id is not None,
        lines=lines,
        ink_columns=tuple(fields.inks) if "inks" in parts else (),
        inks=parts.get("inks", np.zeros((len(ids), 0))),
        spectra=parts.get("spectra"),
        xyz=parts.get("xyz"),
        lab=parts.get("lab"),
        averaged=_counts(parts, lines, whole, problems),
    ).take(whole)
    if found.spectra is not None and found.ids:
        if fields.spectral:
            found = replace(found, wavelengths_nm=np.array(list(fields.spectral)))
        else:
            found = _with_pairs(found, parts["wavelengths"][whole])
        problems += _wavelengths(found)
        found = _spectra_in_unit(found, fields.spectral_scale, problems)
        problems += _band_order(found, fields)
    return _xyz_in_percent(found, problems)


def _counts(
    parts: dict[str, FloatArray], lines: list[int], whole: NDArray[np.bool_], problems: list[Problem]
) -> FloatArray | None:
    """Return how many readings each row is the mean of; None where the file does not say so."""
    if "averaged" not in parts:
        return None
    counts = parts["averaged"][:, 0]
    bad = np.flatnonzero(whole & ~((counts >= 1) & (counts <= _MOST_AVERAGED) & (counts == np.rint(counts))))
    if not bad.size:
        return counts
    problems.append(
        Problem(
            "warning",
            f"line {lines[int(bad[0])]}, column READINGS",
            "number of readings cannot be, so the column is left out and each row counts as one reading",
            found=f"{counts[bad[0]]:g}",
            expected=f"whole numbers from 1 to {_MOST_AVERAGED:,}",
        )
    )
    return None


def _with_pairs(found: Quantities, wavelengths: FloatArray) -> Quantities:
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


def _spectra_in_unit(found: Quantities, scale: str | None, problems: list[Problem]) -> Quantities:
    """Return spectra as factors 0-1; one stray row neither decides the scale nor survives."""
    spectra = found.spectra
    if spectra is None:
        return found
    if scale == "PCT" or (scale is None and _is_percent(spectra.max(axis=1))):
        spectra = spectra / 100.0
        problems.append(Problem("note", "file", "spectra are read as percent of the perfect diffuser"))
        problems += _other_scale(found, spectra) + _too_dark(spectra, _DARK)
    elif len(spectra) >= _CHART_ROWS:
        problems += _too_dark(spectra, _DARKEST)
    stray = spectra.max(axis=1) > _PERCENT_ABOVE
    faults = Faults(problems)
    for row in np.flatnonzero(stray):
        faults.add(
            Problem(
                "error",
                f"line {found.lines[int(row)]}, patch {found.ids[int(row)]}",
                "reflectance is out of range",
                found=f"{spectra[row].max():g}",
                expected="0 to 1 as in the other rows",
                advice="Read the patch again, or bring all rows to one scale",
            )
        )
    faults.finish()
    return replace(found, spectra=spectra).take(~stray)


def _too_dark(spectra: FloatArray, least: float) -> list[Problem]:
    """Return a warning where even the lightest patch reflects less than anything that is printed on."""
    if not 0 < spectra.max() < least:
        return []
    return [
        Problem(
            "warning",
            "file",
            "even the lightest patch reflects next to nothing",
            f"reflectance {spectra.max():.3f} at most",
            f"bare cloth of {least:g} or more",
            "Check the scale of the spectra: 0 to 1, or percent",
        )
    ]


def _is_percent(highest: FloatArray) -> bool:
    """Return whether most rows are percent, by the highest value of each."""
    high = int((highest > _PERCENT_ABOVE).sum())
    if _PERCENT_ABOVE < highest.max() < _PLAINLY_PERCENT:
        return high >= max(1, round(_PERCENT_SHARE * len(highest)))
    return high >= max(1.0, _HALF * len(highest))


def _other_scale(found: Quantities, spectra: FloatArray) -> list[Problem]:
    """Return what is said where rows of a percent file are so dark that they will be in the scale 0 to 1.

    A warning of a few, which may be of the darkest of inks; an error of many, for no chart is so dark.
    """
    rows = np.flatnonzero(100.0 * spectra.max(axis=1) < _DARKEST_PERCENT)
    if rows.size == 0:
        return []
    first = int(rows[0])
    return [
        Problem(
            "error" if rows.size > _OTHER_SHARE * len(spectra) else "warning",
            f"line {found.lines[first]}, patch {found.ids[first]}",
            f"{counted(rows.size, 'row reflects', 'rows reflect')} next to nothing at every wavelength, "
            "the first here",
            found=f"{100.0 * spectra[first].max():.2g} % at most",
            expected="percent, as in the other rows",
            advice="Bring all rows to one scale: some may be 0 to 1",
        )
    ]


def _wavelengths(found: Quantities) -> list[Problem]:
    """Return what is said of wavelengths that are missing or misnamed."""
    return [] if found.wavelengths_nm is None else grid_problems(found.wavelengths_nm)


def _band_order(found: Quantities, fields: Fields) -> list[Problem]:
    """Return what is said of wavelengths whose columns are out of order or exchanged."""
    if found.spectra is None or found.wavelengths_nm is None:
        return []
    waves = found.wavelengths_nm.tolist()
    named = sorted(fields.spectral, key=fields.spectral.__getitem__) if fields.spectral else waves
    return band_order_problems(found.spectra, waves, named)


def _xyz_in_percent(found: Quantities, problems: list[Problem]) -> Quantities:
    if found.xyz is None or len(found.xyz) < 2 or not 0 < found.xyz[:, 1].max() <= _UNIT_XYZ_BELOW:
        return found
    problems.append(
        Problem(
            "warning",
            "file",
            "XYZ is read in the scale 0 to 1 and multiplied by 100",
            found=f"Y {found.xyz[:, 1].max():.3g} at most",
            expected="Y = 100 for the perfect diffuser",
            advice="Export XYZ in that scale if these are other units",
        )
    )
    return replace(found, xyz=found.xyz * 100.0)
