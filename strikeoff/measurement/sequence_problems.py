"""Faults of the reading order in words, with the lines of the file."""

from __future__ import annotations

from typing import Any

from strikeoff.base.problems import Problem
from strikeoff.measurement.plausible import patch_place
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.sequence import SequenceFault

_WORDS = {
    "swap": ("rows are exchanged with {other}", "Exchange them in the file, or read both again"),
    "reversed": ("strip is read backwards", "Turn the strip around in the file, or read it again"),
    "shift": ("readings belong to {other}: a patch was skipped or read twice", "Read the strip again"),
    "drift": ("readings drift in their order", "Calibrate, and read the first patches again to compare"),
}


def sequence_problems(readings: ReadingSet, faults: list[SequenceFault]) -> list[Problem]:
    """Return one warning a fault.

    Parameters
    ----------
    readings : ReadingSet
        The readings in which the faults were found.
    faults : list of SequenceFault
        See `strikeoff.measurement.sequence.find_sequence_faults`.

    Returns
    -------
    list of Problem
    """
    problems = []
    for fault in faults:
        message, advice = _WORDS[fault.kind]
        found = f"{fault.residual:.1f} CIELAB units off, {fault.residual_undone:.1f} if undone"
        if fault.kind == "drift":
            change = " ".join(f"{value:+.1f}" for value in fault.change)
            found = f"L* a* b* {change} from the first to the last row"
        problems.append(
            Problem(
                "warning",
                _run(readings, fault.rows),
                message.format(other=_run(readings, fault.other)),
                found=found,
                expected="readings in the order of the recipes",
                advice=advice,
            )
        )
    return problems


def sequence_records(readings: ReadingSet, faults: list[SequenceFault]) -> list[dict[str, Any]]:
    """Return the faults as values that JSON can hold."""
    return [
        {
            "kind": fault.kind,
            "patches": [readings.sample_ids[row] for row in fault.rows],
            "lines": [readings.lines[row] for row in fault.rows] if readings.lines else None,
            "belongs_to": [readings.sample_ids[row] for row in fault.other],
            "residual_de": round(fault.residual, 3),
            "residual_undone_de": round(fault.residual_undone, 3),
            "drift_lab": [round(value, 3) for value in fault.change] if fault.kind == "drift" else None,
        }
        for fault in faults
    ]


def _run(readings: ReadingSet, rows: tuple[int, int]) -> str:
    first, last = rows
    if first == last:
        return patch_place(readings, first)
    names = f"patches {readings.sample_ids[first]} to {readings.sample_ids[last]}"
    return f"lines {readings.lines[first]} to {readings.lines[last]}, {names}" if readings.lines else names
