"""Runs of patches that lack some of one ink: a head that starves, nozzles that died, a filter that clogs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.base.words import beside
from strikeoff.measurement.findings import Finding, Rank
from strikeoff.measurement.neighbours import neighbour_doubts, neighbour_losses, neighbour_predictions
from strikeoff.measurement.plausible import run_place
from strikeoff.measurement.records import ReadingSet

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# Limits of this module are common practice, no source; tests measure what they find and what they accuse.
_FEWEST = 40
_MOST_RUNS = 6
# Patches with the ink that make a run, and how much of it each has at least. [-]
_SHORTEST, _HAS = 4, 0.05
_LONGER = 1.2
# Most that one patch says, and scatter that readings have in any case. [standard deviations], [CIELAB units]
_CAP, _FLOOR = 3.0, 0.1
# Losses looked for, and the least that is told. [-]
_SHARES, _LEAST = (0.1, 0.3), 0.05
# Least evidence of a run, and more of it where no other patches are near its own: what their neighbours miss
# is then missed alike. Doubt of the predictions without the run over that with it at which all counts. [-]
_EVIDENCE, _MORE_ALONE, _ALONE = 5.0, 1.0, 1.05
# Least evidence over that of runs with too much ink, which no head makes. [-]
_OVER_CHANCE = 1.25
# Shuffles of the rows in which no run may say as much: with as many, chance does so once in 60 charts.
_SHUFFLES = 59
_ROUNDS = 3


@dataclass(frozen=True)
class InkRun:
    """Patches in a row that lack some of one ink.

    Attributes
    ----------
    ink : int
        Column of the ink.
    rows : tuple of int
        First and last row with that ink.
    patches : int
        Rows with the ink from the first to the last.
    loss : float
        Share of the ink that is missing, 0-1. [-]
    evidence : float
        Standard deviations that the patches together are away from no loss. [-]
    """

    ink: int
    rows: tuple[int, int]
    patches: int
    loss: float
    evidence: float


def find_ink_runs(
    coverages: FloatArray,
    lab: FloatArray,
    predicted: FloatArray | None = None,
    trusted: BoolArray | None = None,
) -> list[InkRun]:
    """Return the runs of rows that lack some of one ink.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Ink of each row, 0-1, in the order in which they were printed. [-]
    lab : ndarray, shape (n, 3)
        CIELAB as read.
    predicted : ndarray, shape (n, 3), optional
        What a condition predicts; each patch's neighbours in ink space by default.
    trusted : ndarray of bool, shape (n,), optional
        Rows whose readings belong to them; all by default.

    Returns
    -------
    list of InkRun
        In the order of the rows; empty below 40 rows. Runs that lack some of every ink are pale, no matter
        of one ink, and left out.

    Notes
    -----
    A matched filter: how far readings have gone the way that their colour takes as the ink thins out, no
    patch counting more than three standard deviations, over runs of all lengths. A run counts where it says
    more than chance does, and more than the same search for too much ink, which finds only what predictions
    miss, and more than any run of the same rows in shuffled orders (E. Pitman, Suppl. J. Roy. Stat. Soc. 4
    (1937), 119-130; from memory). Each run is left out of the predictions that follow, so that it does not
    accuse its neighbours.
    The ends are those of the largest sum of log-likelihood ratios (J. Kadane's algorithm in J. Bentley,
    Comm. ACM 27 (1984), 865-873).
    """
    usable = np.ones(len(lab), dtype=np.bool_) if trusted is None else trusted.copy()
    found: list[InkRun] = []
    while usable.sum() >= _FEWEST and len(found) < _MOST_RUNS:
        before = _sight(coverages, lab, predicted, usable)
        rough = _strongest(before, usable)
        if rough is None or rough.evidence < _EVIDENCE:
            break
        known = usable & ~_between(rough, len(lab))
        if known.sum() < _FEWEST:
            break
        sight = _sight(coverages, lab, predicted, known)
        run = _refined(sight, rough, usable)
        unparted, usable = usable, usable & ~_between(run, len(lab))
        chance = _strongest(sight.turned(), usable)
        wanted = _EVIDENCE + _MORE_ALONE * sight.alone(before, rough)
        if rough.evidence < max(wanted, 0.0 if chance is None else _OVER_CHANCE * chance.evidence):
            break
        if _shuffles_say(before, unparted, rough.evidence):
            break
        found.append(run)
    found = [run for run in found if run.ink < coverages.shape[1] and run.loss >= _LEAST]
    return sorted(found, key=lambda run: run.rows)


def ink_run_findings(readings: ReadingSet, runs: list[InkRun]) -> list[Finding]:
    """Return one warning a run; it explains what rests on rows of the run that have the ink.

    Parameters
    ----------
    readings : ReadingSet
        The readings in which the runs were found.
    runs : list of InkRun
        See `find_ink_runs`.

    Returns
    -------
    list of Finding
    """
    findings = []
    for run in runs:
        ink, (first, last) = readings.inks[run.ink], run.rows
        problem = Problem(
            "warning",
            run_place(readings, first, last),
            f"{run.patches} patches in a row with ink {ink} lack some of it",
            f"about {beside(100 * run.loss, 100 * _LEAST)} % of the ink is missing",
            f"less than {100 * _LEAST:.0f} %",
            f"Clean the head of {ink}, see that its ink runs freely, and print and read these patches again",
        )
        rows = first + np.flatnonzero(readings.coverages[first : last + 1, run.ink] >= _HAS)
        key = f"ink run {first} {ink}"
        findings.append(Finding(problem, Rank.RUN, key, explains=frozenset(rows.tolist())))
    return findings


@dataclass(frozen=True)
class _Sight:
    """Residuals, and the way that each patch takes as an ink thins out, in standard deviations.

    ``ways`` has a last ink more: all inks together.
    """

    off: FloatArray
    ways: FloatArray
    doubts: FloatArray

    def alone(self, before: _Sight, run: InkRun) -> float:
        """Return 0 where the run's patches have others near, to 1 where they had but each other before."""
        rows = slice(run.rows[0], run.rows[1] + 1)
        more = float(np.median(self.doubts[rows] / before.doubts[rows]))
        return float(np.clip((more - 1.0) / (_ALONE - 1.0), 0.0, 1.0))

    def turned(self) -> _Sight:
        """Return the same with too much ink for too little."""
        return _Sight(-self.off, self.ways, self.doubts)

    def along(self, ink: int) -> tuple[FloatArray, FloatArray]:
        """Return how far each patch has gone along the ink's way, held, and how long the way is."""
        size = np.sqrt((self.off**2).sum(axis=1))
        held = self.off * np.minimum(1.0, _CAP / np.maximum(size, 1e-9))[:, None]
        far = np.sqrt((self.ways[ink] ** 2).sum(axis=1))
        return (held * self.ways[ink]).sum(axis=1) / np.maximum(far, 1e-9), far


def _sight(coverages: FloatArray, lab: FloatArray, predicted: FloatArray | None, known: BoolArray) -> _Sight:
    doubts = np.ones(len(lab))
    if predicted is None:
        predicted = neighbour_predictions(coverages, lab, known)
        doubts = neighbour_doubts(coverages, known)
    ways = neighbour_losses(coverages, lab, known) * (coverages.T[:, :, None] >= _HAS)
    ways = np.concatenate([ways, ways.sum(axis=0, keepdims=True)])
    spread = np.maximum(1.0, doubts / max(float(np.median(doubts)), 1e-6))[:, None]
    off = (lab - predicted) / spread
    off -= np.median(off[known], axis=0)
    scatter = 1.4826 * np.median(np.abs(off[known]), axis=0) + _FLOOR
    return _Sight(off / scatter, ways / spread / scatter, np.maximum(doubts, 1e-6))


def _strongest(sight: _Sight, usable: BoolArray) -> InkRun | None:
    """Return the run that says most, or None where no ink has patches enough."""
    best: InkRun | None = None
    for ink in range(len(sight.ways)):
        along, far = sight.along(ink)
        rows = np.flatnonzero(usable & (far > 0.0))
        for share in _SHARES:
            hoped = np.minimum(share * far[rows], _CAP)
            gain = np.concatenate([[0.0], np.cumsum(along[rows] * hoped)])
            power = np.concatenate([[0.0], np.cumsum(hoped**2)])
            length = _SHORTEST
            while length <= len(rows) // 2:
                evidence = (gain[length:] - gain[:-length]) / np.sqrt(power[length:] - power[:-length] + 1e-9)
                at = int(np.argmax(evidence))
                if best is None or evidence[at] > best.evidence:
                    ends = (int(rows[at]), int(rows[at + length - 1]))
                    best = InkRun(ink, ends, length, share, float(evidence[at]))
                length = max(length + 1, int(length * _LONGER))
    return best


def _shuffles_say(sight: _Sight, usable: BoolArray, evidence: float) -> bool:
    """Return whether the same rows in some other order hold a run that says as much."""
    rng = np.random.default_rng(len(usable))
    for _ in range(_SHUFFLES):
        order = rng.permutation(len(usable))
        shuffled = _Sight(sight.off[order], sight.ways[:, order], sight.doubts[order])
        strongest = _strongest(shuffled, usable[order])
        if strongest is not None and strongest.evidence >= evidence:
            return True
    return False


def _refined(sight: _Sight, run: InkRun, usable: BoolArray) -> InkRun:
    """Return a run with its loss, and with ends where the loss begins and stops."""
    along, far = sight.along(run.ink)
    rows = np.flatnonzero(usable & (far > 0.0))
    first, last = np.searchsorted(rows, run.rows)
    reach = last - first + 1
    low, high = max(first - reach, 0), min(last + reach + 1, len(rows))
    for _ in range(_ROUNDS):
        part = rows[first : last + 1]
        loss = _loss(sight, run.ink, part)
        hoped = np.minimum(loss * far[rows[low:high]], _CAP)
        sums = np.concatenate([[0.0], np.cumsum(along[rows[low:high]] * hoped - 0.5 * hoped**2)])
        lowest = np.minimum.accumulate(sums)
        end = int(np.argmax(sums[1:] - lowest[:-1]))
        start = int(np.argmin(sums[: end + 1]))
        if end - start + 1 < _SHORTEST:
            break
        first, last = low + start, low + end
    part = rows[first : last + 1]
    loss = _loss(sight, run.ink, part)
    hoped = np.minimum(loss * far[part], _CAP)
    evidence = float((along[part] * hoped).sum() / np.sqrt((hoped**2).sum() + 1e-9))
    return InkRun(run.ink, (int(part[0]), int(part[-1])), len(part), loss, evidence)


def _loss(sight: _Sight, ink: int, rows: NDArray[np.intp]) -> float:
    """Return the weighted median share of ink that is missing."""
    ways = sight.ways[ink][rows]
    power = (ways**2).sum(axis=1)
    shares = (sight.off[rows] * ways).sum(axis=1) / power
    order = np.argsort(shares)
    total = np.cumsum(power[order])
    return float(np.clip(shares[order][np.searchsorted(total, 0.5 * total[-1])], 0.0, 1.0))


def _between(run: InkRun, count: int) -> BoolArray:
    rows = np.zeros(count, dtype=np.bool_)
    rows[run.rows[0] : run.rows[1] + 1] = True
    return rows
