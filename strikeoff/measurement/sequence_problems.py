"""Faults of the reading order in words, with the lines of the file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.measurement.findings import Finding, Rank
from strikeoff.measurement.plausible import run_place
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.sequence_runs import SequenceFault

# Amounts of ink that count as the same. [-]
_SAME = 0.01
_WORDS = {
    "swap": ("rows are exchanged with {other}", "Exchange them in the file, or read both again"),
    "reversed": ("strip is read backwards", "Turn the strip around in the file, or read it again"),
    "shift": ("readings belong to {other}: a patch was skipped or read twice", "Read the strip again"),
    "drift": ("readings drift in their order", "Calibrate, and read the first patches again to compare"),
}


def sequence_findings(readings: ReadingSet, faults: list[SequenceFault]) -> list[Finding]:
    """Return one warning a fault; it explains what rests on rows whose readings belong elsewhere.

    Parameters
    ----------
    readings : ReadingSet
        The readings in which the faults were found.
    faults : list of SequenceFault
        See `strikeoff.measurement.sequence.find_sequence_faults`.

    Returns
    -------
    list of Finding
    """
    findings = []
    pairs = Counter(pair for fault in faults if (pair := _mirrored(readings, fault)))
    for fault in faults:
        message, advice = _WORDS[fault.kind]
        pair = _mirrored(readings, fault)
        if pair and pairs[pair] > 1:
            one, other = (readings.inks[column] for column in pair)
            advice += (
                f"; {pairs[pair]} pairs of rows exchange {one} for {other}: where the order is right, look "
                "whether these inks, or their light ones, are in each other's heads"
            )
        found = f"{fault.residual:.1f} CIELAB units off, {fault.residual_undone:.1f} if undone"
        if fault.kind == "drift":
            change = " ".join(f"{value:+.1f}" for value in fault.change)
            found = f"L* a* b* {change} from the first to the last row"
        problem = Problem(
            "warning",
            run_place(readings, *fault.rows),
            message.format(other=run_place(readings, *fault.other)),
            found=found,
            expected="readings in the order of the recipes",
            advice=advice,
        )
        key = fault.kind if fault.kind == "drift" else f"{fault.kind} {fault.rows[0]}"
        findings.append(Finding(problem, Rank.RUN, key, explains=fault.misread))
    return findings


def _mirrored(readings: ReadingSet, fault: SequenceFault) -> tuple[int, int] | None:
    """Return the two ink columns that the recipes of exchanged rows have exchanged, and nothing else."""
    if fault.kind != "swap" or fault.rows[0] != fault.rows[1]:
        return None
    first, second = readings.coverages[fault.rows[0]], readings.coverages[fault.other[0]]
    apart = np.flatnonzero(np.abs(first - second) > _SAME)
    if len(apart) != 2 or np.abs(first[apart] - second[apart[::-1]]).max() > _SAME:
        return None
    return int(apart[0]), int(apart[1])


def sequence_records(readings: ReadingSet, faults: Sequence[SequenceFault]) -> list[dict[str, Any]]:
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
