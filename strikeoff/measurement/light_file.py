"""A measured light: two columns, wavelength and spectral power."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem
from strikeoff.colour.spectra import checked_wavelengths
from strikeoff.colour.weights import canonical_illuminant
from strikeoff.measurement.text import decode, numbered_lines, split_delimited, split_spaced
from strikeoff.measurement.values import read_number

FloatArray = NDArray[np.float64]

_MAX_BYTES = 1 << 20
_MAX_STEP_NM = 10.0


def light_name(path: str | Path) -> str:
    """Return what a measured light is called: after its file, and unlike any CIE illuminant.

    Examples
    --------
    >>> light_name("lights/shop.txt"), light_name("lights/d50.csv")
    ('shop', 'd50-measured')
    """
    name = Path(path).stem
    try:
        canonical_illuminant(name)
    except UsageError:
        return name
    return f"{name}-measured"


def read_light(path: str | Path) -> tuple[FloatArray, FloatArray]:
    """Read a measured light.

    Parameters
    ----------
    path : str or Path
        Text of two columns (comma, semicolon, tab or blanks between): wavelength in nm, power in any unit.
        Lines before the first row of numbers are a heading.

    Returns
    -------
    wavelengths_nm, power : ndarray, shape (n,)

    Raises
    ------
    InputError
        When a row is no pair of numbers, wavelengths do not rise or are more than 10 nm apart, power is
        negative, or the light does not reach over 400 to 700 nm.
    """
    try:
        return _parse(read_bytes(path, _MAX_BYTES))
    except InputError as error:
        error.path = error.path or str(path)
        raise


def _parse(data: bytes) -> tuple[FloatArray, FloatArray]:
    problems: list[Problem] = []
    rows: list[tuple[float, float]] = []
    for number, line in numbered_lines(decode(data, problems)):
        delimiter = next((mark for mark in "\t;," if mark in line), None)
        cells = split_spaced(line) if delimiter is None else split_delimited(line, delimiter)
        values = [read_number(cell) for cell in cells if cell]
        if len(values) == 2 and not np.isnan(values).any():
            rows.append((values[0], values[1]))
        elif rows:
            raise InputError(
                "row is no pair of numbers",
                where=f"line {number}",
                found=line.strip()[:40],
                expected="wavelength [nm] and power",
            )
    if len(rows) < 2:
        raise InputError("no light found", expected="rows of wavelength [nm] and power")
    table = np.array(rows)
    grid, power = checked_wavelengths(table[:, 0]), table[:, 1]
    if np.diff(grid).max() > _MAX_STEP_NM or grid[0] > 400 or grid[-1] < 700:
        raise InputError(
            "light is too coarse or too short",
            found=f"{grid[0]:g} to {grid[-1]:g} nm, steps up to {np.diff(grid).max():g} nm",
            expected=f"400 to 700 nm or more, steps up to {_MAX_STEP_NM:g} nm",
        )
    if power.min() < 0 or power.max() <= 0:
        raise InputError("light has negative or no power", found=f"{power.min():g}", expected="0 or more")
    return grid, power
