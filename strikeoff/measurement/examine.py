"""Everything that readings say about themselves: faults of columns, order, heads and single patches."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.measurement.consistency import consistency_findings
from strikeoff.measurement.findings import Finding, Rank, problems_in_order, rows_explained
from strikeoff.measurement.ink_runs import InkRun, find_ink_runs, ink_run_findings
from strikeoff.measurement.outliers import DISTANCE
from strikeoff.measurement.pale_runs import pale_runs
from strikeoff.measurement.patch_checks import check_prediction
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.sequence import find_sequence_faults
from strikeoff.measurement.sequence_problems import sequence_findings
from strikeoff.measurement.sequence_runs import SequenceFault
from strikeoff.measurement.swapped_inks import swapped_columns

FloatArray = NDArray[np.float64]

# Ink that moves to another head and shows, and that does not show; share of rows that are nearly all. [-]
_MOVED, _SPARED, _NEARLY_ALL = 0.2, 0.02, 0.75


@dataclass(frozen=True)
class Examination:
    """What an examination found.

    Attributes
    ----------
    problems : tuple of Problem
        What means most first: a wrong set-up, columns, runs of rows, single patches, and last what those
        explain.
    sequence : tuple of SequenceFault
        Faults of the reading order, without a drift that runs of an ink explain.
    ink_runs : tuple of InkRun
        Runs that lack some of one ink.
    """

    problems: tuple[Problem, ...]
    sequence: tuple[SequenceFault, ...]
    ink_runs: tuple[InkRun, ...]


def examine(readings: ReadingSet, predicted: FloatArray | None = None) -> Examination:
    """Check readings against themselves, find what went wrong with runs of rows, and what that explains.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks and colour, in the order in which they were printed and read.
    predicted : ndarray, shape (n, 3), optional
        CIELAB that a condition predicts; each patch's neighbours in ink space by default.

    Returns
    -------
    Examination

    Notes
    -----
    What a run of rows explains is what rests on rows of it. A drift touches every row, so the checks are
    made once more with it taken out: it explains what is gone then. Heads are judged without the drift and
    without rows whose readings belong elsewhere; a drift that is not there without the rows of a head is
    the head's. Where inks are swapped throughout, a condition's prediction would tell of exchanged rows, one
    for each recipe and its mirror image; neighbours, which are swapped alike, are asked instead.
    """
    lab = readings_lab(readings)
    if predicted is not None and _in_wrong_heads(readings, lab, predicted):
        predicted = None
    faults = find_sequence_faults(readings.coverages, lab, predicted)
    drift = next((fault for fault in faults if fault.kind == "drift"), None)
    misread = [fault for fault in faults if fault is not drift]
    trusted = np.ones(len(lab), dtype=np.bool_)
    trusted[[row for fault in misread for row in fault.misread]] = False
    steady = lab if drift is None else lab - drift.trend(len(lab))
    thin = find_ink_runs(readings.coverages, steady, predicted, trusted)
    heads = rows_explained(ink_run_findings(readings, thin))
    apparent = drift is not None and bool(heads) and not _drifts(readings, lab, predicted, heads)
    if apparent:
        steady = lab
        thin = find_ink_runs(readings.coverages, steady, predicted, trusted)
    causes = sequence_findings(readings, misread) + ink_run_findings(readings, thin)
    causes += pale_runs(readings, steady, predicted)
    rows = rows_explained(causes)
    found = consistency_findings(readings, rows)
    if predicted is not None:
        named = frozenset(row for finding in found if finding.rank == Rank.PATCH for row in finding.rows)
        found += check_prediction(readings, steady, predicted, named)
    if drift is not None:
        (trend,) = sequence_findings(readings, [drift])
        if apparent:
            found.append(replace(trend, rank=Rank.GROUP, rows=heads))
        else:
            causes.append(replace(trend, cures=_cured(readings, steady, rows, found)))
    true = misread if drift is None or apparent else [*misread, drift]
    return Examination(tuple(problems_in_order(causes + found)), tuple(true), tuple(thin))


def _in_wrong_heads(readings: ReadingSet, lab: FloatArray, predicted: FloatArray) -> bool:
    """Return whether what does not fit the prediction is all that swapped inks change, and nothing else."""
    swapped = swapped_columns(readings, lab)
    if not swapped:
        return False
    mirrored = readings.coverages.copy()
    for _, column, like in swapped:
        mirrored[:, like] = readings.coverages[:, column]
    moved = np.abs(mirrored - readings.coverages).max(axis=1)
    misfits = np.sqrt(((lab - predicted) ** 2).sum(axis=1)) > DISTANCE
    touched, spared = misfits[moved > _MOVED], misfits[moved <= _SPARED]
    return bool(touched.mean() >= _NEARLY_ALL and (spared.size == 0 or spared.mean() <= 1.0 - _NEARLY_ALL))


def _drifts(
    readings: ReadingSet, lab: FloatArray, predicted: FloatArray | None, without: frozenset[int]
) -> bool:
    """Return whether readings drift without some rows."""
    rest = np.setdiff1d(np.arange(len(lab)), sorted(without))
    aims = None if predicted is None else predicted[rest]
    return any(f.kind == "drift" for f in find_sequence_faults(readings.coverages[rest], lab[rest], aims))


def _cured(
    readings: ReadingSet, steady: FloatArray, rows: frozenset[int], found: list[Finding]
) -> frozenset[str]:
    """Return the keys of findings on rows that are gone where colours are those without a drift."""
    still = replace(readings, spectra=None, wavelengths_nm=None, xyz=None, lab=steady)
    left = {finding.key for finding in consistency_findings(still, rows)}
    return frozenset(finding.key for finding in found if finding.rows and finding.key not in left)
