"""Readings as columns of text, the same for every text format."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.inks.roles import names_of_columns
from strikeoff.measurement.fields import AVERAGED
from strikeoff.measurement.records import ReadingSet


def ink_name_problems(readings: ReadingSet) -> list[Problem]:
    """Return a warning where the file names its numbered inks, but not as many as it has or one twice.

    Such names are not used, and nothing is known of what the inks are.
    """
    named = readings.keywords.get("INK_NAMES", "").split()
    endings = names_of_columns(readings.ink_columns)
    if not named or readings.inks == tuple(named) or not any(ending.isdigit() for ending in endings):
        return []
    return [
        Problem(
            "warning",
            "header",
            "INK_NAMES does not fit the ink columns, so inks have numbers and no roles",
            found=f"{counted(len(named), 'name')} ({' '.join(named)[:80]})",
            expected=f"{counted(len(endings), 'name')}, each once",
            advice="Correct INK_NAMES: names in the order of the columns, blanks between names only",
        )
    ]


def output_columns(
    readings: ReadingSet, extra_columns: Mapping[str, ArrayLike], digits: int
) -> tuple[list[str], list[list[str]]]:
    """Return column names and rows of text: name, inks in percent, XYZ, Lab, spectra 0-1, extras.

    Raises
    ------
    InputError
        When an extra column has another length than the readings.
    """
    n = len(readings)
    names = ["SAMPLE_ID"]
    columns: list[list[str]] = [list(readings.sample_ids)]
    blocks = [
        (list(readings.ink_columns), readings.coverages * 100.0),
        (["XYZ_X", "XYZ_Y", "XYZ_Z"], readings.xyz),
        (["LAB_L", "LAB_A", "LAB_B"], readings.lab),
        ([f"SPECTRAL_NM{nm:g}" for nm in _wavelengths(readings)], readings.spectra),
    ]
    for labels, values in blocks:
        if values is not None:
            for position, label in enumerate(labels):
                names.append(label)
                columns.append([_number(value, digits) for value in values[:, position]])
    own = {} if readings.averaged is None else {AVERAGED: readings.averaged.astype(int)}
    for label, extra in (own | dict(extra_columns)).items():
        column = np.asarray(extra)
        if column.shape != (n,):
            raise InputError(f"column {label} does not fit", found=column.shape, expected=f"{n} values")
        names.append(label)
        columns.append([_text(value, digits) for value in column])
    return names, [list(row) for row in zip(*columns, strict=True)]


def _wavelengths(readings: ReadingSet) -> list[float]:
    return [] if readings.wavelengths_nm is None else readings.wavelengths_nm.tolist()


def _number(value: float, digits: int) -> str:
    text = f"{value:.{digits}g}"
    return "0" if text == "-0" else text


def _text(value: object, digits: int) -> str:
    if isinstance(value, (bool, np.bool_)):
        return "1" if value else "0"
    if isinstance(value, (float, np.floating)):
        return _number(float(value), digits)
    return " ".join(str(value).split())
