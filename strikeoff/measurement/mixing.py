"""Files of readings put together: only what was read in one set-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.measurement.records import ReadingSet, Setup

FloatArray = NDArray[np.float64]

#: Parts of a set-up that change every reading, with their names for people.
SETUP_PARTS = {"mode": "measuring mode", "backing": "backing", "side": "side", "geometry": "geometry"}
_GAP_NM = 1e-6
# Copies in other formats differ by rounding, another reading of a print by far more. [units of the values]
_COPIED = 1e-5


def combine_readings(sets: Sequence[ReadingSet]) -> tuple[ReadingSet, list[Problem]]:
    """Put readings of several files one after the other.

    Parameters
    ----------
    sets : sequence of ReadingSet
        At least one; same inks, same kind of colour, same set-up.

    Returns
    -------
    readings : ReadingSet
        All rows in order. Lines are those of the files they came from.
    problems : list of Problem
        Set-ups that one file states and another does not; instruments or apertures that differ.

    Raises
    ------
    InputError
        When inks, wavelengths, light, measuring mode, backing, side or geometry differ, or when two files
        hold the same readings.
    """
    if not sets:
        raise InputError(
            "no readings to put together", expected="one file or more", advice="Name the files to merge"
        )
    first = sets[0]
    problems: list[Problem] = []
    for other in sets[1:]:
        _refuse_other_columns(first, other)
        problems += compare_setups(first.setup, other.setup, first.source, other.source)
    for one, other in combinations(sets, 2):
        _refuse_the_same(one, other)
    known: dict[str, Any] = {
        part: next((getattr(s.setup, part) for s in sets if getattr(s.setup, part) is not None), None)
        for part in (*SETUP_PARTS, "instrument", "aperture_mm")
    }

    def stack(name: str) -> FloatArray | None:
        parts = [getattr(readings, name) for readings in sets]
        return None if any(part is None for part in parts) else np.concatenate(parts)

    combined = replace(
        first,
        sample_ids=tuple(name for readings in sets for name in readings.sample_ids),
        coverages=np.concatenate([readings.coverages for readings in sets]),
        spectra=stack("spectra"),
        wavelengths_nm=first.wavelengths_nm if stack("spectra") is not None else None,
        xyz=stack("xyz"),
        lab=stack("lab"),
        averaged=None
        if all(readings.averaged is None for readings in sets)
        else np.concatenate([readings.counts for readings in sets]),
        setup=replace(first.setup, **known),
        lines=tuple(line for readings in sets for line in readings.lines)
        if all(readings.lines for readings in sets)
        else (),
        source=", ".join(readings.source for readings in sets),
        digest=digest_bytes("".join(readings.digest for readings in sets).encode("ascii")),
    )
    return combined, problems


def _refuse_the_same(one: ReadingSet, other: ReadingSet) -> None:
    """Refuse a file given twice, or a copy of it: counted as repeats they would halve the noise."""
    values = [
        [s.coverages, *(part for part in (s.spectra, s.xyz, s.lab) if part is not None)] for s in (one, other)
    ]
    alike = len(one) == len(other) > 1 and len(values[0]) == len(values[1])
    if alike and all(np.allclose(a, b, atol=_COPIED) for a, b in zip(*values, strict=True)):
        raise InputError(
            "the same readings are given twice",
            path=other.source,
            found=f"the values of {one.source}, patch by patch",
            expected="another reading of the print",
            advice="Leave one of them out: repeats tell the noise only where the print was read again",
        )


def _refuse_other_columns(first: ReadingSet, other: ReadingSet) -> None:
    if first.ink_columns != other.ink_columns:
        raise InputError(
            "readings of different inks cannot be put together",
            path=other.source or None,
            found=" ".join(other.ink_columns) or "no inks",
            expected=" ".join(first.ink_columns) or "no inks",
            advice="Merge readings of one ink set at a time",
        )
    for key in ("INK_SPACE", "CURVES_DIGEST"):
        if first.keywords.get(key) != other.keywords.get(key):
            raise InputError(
                "readings of charts in different ink spaces cannot be put together",
                path=other.source or None,
                where=f"keyword {key}",
                found=other.keywords.get(key, "nothing"),
                expected=first.keywords.get(key, "nothing"),
                advice="Merge readings of charts that were printed through the same curves",
            )
    if _colour(first) != _colour(other):
        raise InputError(
            "readings of different kinds of colour cannot be put together",
            path=other.source or None,
            found=_colour(other),
            expected=f"{_colour(first)}, as in {first.source or 'the first file'}",
            advice="Export all files with the same colour columns",
        )
    if first.spectra is None or first.wavelengths_nm is None or other.wavelengths_nm is None:
        ours = (first.setup.illuminant, first.setup.observer)
        theirs = (other.setup.illuminant, other.setup.observer)
        if ours != theirs:
            raise InputError(
                "readings under different lights cannot be put together without spectra",
                path=other.source or None,
                found="/".join(theirs),
                expected=f"{'/'.join(ours)}, as in {first.source or 'the first file'}",
                advice="Export all files for one light, or with spectra",
            )
    elif (
        first.wavelengths_nm.shape != other.wavelengths_nm.shape
        or np.abs(first.wavelengths_nm - other.wavelengths_nm).max() > _GAP_NM
    ):
        raise InputError(
            "spectra of different wavelengths cannot be put together",
            path=other.source or None,
            found=_grid(other.wavelengths_nm),
            expected=_grid(first.wavelengths_nm),
            advice="Export all files with the same wavelengths",
        )


def _colour(readings: ReadingSet) -> str:
    if readings.spectra is not None:
        return "spectra"
    return "XYZ" if readings.xyz is not None else "Lab"


def _grid(wavelengths_nm: FloatArray) -> str:
    return f"{len(wavelengths_nm)} bands, {wavelengths_nm[0]:g} to {wavelengths_nm[-1]:g} nm"


def compare_setups(first: Setup, other: Setup, first_name: str, other_name: str) -> list[Problem]:
    """Refuse set-ups whose readings cannot be compared.

    Parameters
    ----------
    first, other : Setup
        How two sets of readings were taken.
    first_name, other_name : str
        Where they are stated: files, or a condition.

    Returns
    -------
    list of Problem
        Warnings: parts that only one of them states; instrument or aperture that differ.

    Raises
    ------
    InputError
        When measuring mode, backing, side or geometry differ.
    """
    problems = []
    for part, name in SETUP_PARTS.items():
        ours, theirs = getattr(first, part), getattr(other, part)
        if ours is None or theirs is None:
            if ours != theirs:
                silent = other_name if theirs is None else first_name
                problems.append(
                    Problem(
                        "warning",
                        silent or "file",
                        f"{name} is not stated; it is taken for that of the other readings",
                        found="nothing",
                        expected=str(ours or theirs),
                        advice="State it in the file if it is another",
                    )
                )
        elif ours.casefold() != theirs.casefold():
            raise InputError(
                f"readings of different set-ups cannot be mixed: {name}",
                path=other_name or None,
                found=theirs,
                expected=f"{ours}, as in {first_name or 'the first file'}",
                advice="Make a condition of each set-up, or read all patches again in one",
            )
    for part, name in (("instrument", "instrument"), ("aperture_mm", "aperture")):
        ours, theirs = getattr(first, part), getattr(other, part)
        if ours != theirs and None not in (ours, theirs):
            message = f"{name} differs between files"
            advice = "Read all files with one instrument and aperture"
            problems.append(Problem("warning", other_name or "file", message, str(theirs), str(ours), advice))
    return problems
