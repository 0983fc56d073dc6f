"""Colours whose look under other lights nobody can know, by what was read of them and of their prints."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.condition.record import Condition
from strikeoff.measurement.read import read_readings, readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.workbench.undecided import too_bright, undecided_prints, uv_problems

FloatArray = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Change of b* between readings with and without ultraviolet that tells of a whitener; common practice,
# no source.
_UV_CHANGE = 1.5


def undecided_colours(
    record: Condition,
    given: ReadingSet,
    inks: FloatArray,
    printed: FloatArray,
    uv_excluded: str | Path | None,
) -> tuple[Mask, list[Problem]]:
    """Return the rows whose look under other lights nobody can know, and why.

    Parameters
    ----------
    record : Condition
        Spectral condition.
    given : ReadingSet
        Recipes or colours, n rows.
    inks : ndarray, shape (n, n_inks)
        Recipes of their prints, calibrated. [-]
    printed : ndarray, shape (n, n_bands)
        Reflectance of the prints. [-]
    uv_excluded : str or Path, optional
        The same colours read without ultraviolet, row by row.

    Returns
    -------
    mask : ndarray of bool, shape (n,)
        Undecided rows.
    problems : list of Problem
        A warning for each cause; also where nobody said how the cloth was read.

    Raises
    ------
    InputError
        Readings without ultraviolet that are of other colours or of another mode.
    """
    # Readings without ultraviolet of swatches tell nothing of the cloth.
    compared = uv_excluded is not None and bool(given.ink_columns)
    unsure, problems = undecided_prints(record, inks, printed, compared=compared)
    if given.spectra is not None:
        bright = given.spectra.max(axis=1) > 1.0
        if bright.any():
            value = float(given.spectra.max())
            problems.append(too_bright("colours", "reflect more than they receive", value, int(bright.sum())))
        unsure |= bright
    if uv_excluded is not None:
        change = _uv_change(given, uv_excluded)
        glowing = change > _UV_CHANGE
        if glowing.any():
            problems.append(
                Problem(
                    "warning",
                    "colours",
                    f"{int(glowing.sum())} look different without ultraviolet: other lights are undecided",
                    found=f"b* changes by {change.max():.1f}",
                    expected=f"{_UV_CHANGE:g} or less",
                )
            )
        unsure |= glowing
    return unsure, problems + ([] if unsure.all() else uv_problems(record, compared))


def _uv_change(given: ReadingSet, path: str | Path) -> FloatArray:
    """Return how far b* of each colour changes without ultraviolet."""
    without, problems = read_readings(path, need_inks=False)
    raise_first_error(problems, path)
    for readings, name, fits in (
        (given, given.source, ("M0", "M1")),
        (without, str(path), ("M2",)),
    ):
        if readings.setup.mode not in (None, *fits):
            raise InputError(
                "colours are compared with and without ultraviolet, and these readings are of another mode",
                path=name,
                found=readings.setup.mode,
                expected=" or ".join(fits),
                advice="COLOURS are read with ultraviolet, the file of --uv-excluded without",
            )
    if without.sample_ids != given.sample_ids:
        raise InputError(
            "readings without ultraviolet are not of the same colours",
            path=path,
            found=f"{len(without)} rows",
            expected=f"{len(given)} rows with the same names",
        )
    return np.asarray(np.abs(readings_lab(without)[:, 2] - readings_lab(given)[:, 2]), dtype=np.float64)
