"""Dimensional change with its spread: mean, between specimens, between lots, and what a new piece will do.

The change of a specimen is the mean of its pairs of marks. Specimens scatter about the mean of their lot,
lots about the mean of the fabric: one-way random effects. With M the variance of the lots' means, W the
pooled variance inside lots and h the mean of 1/(specimens of a lot), E M = between + h * within, so that a
new specimen of a new lot has the variance M (1 + 1/lots) + W (1 - h). Degrees of freedom by Satterthwaite.

References
----------
ISO 5077:2007. J. D. Thomas, R. A. Hultquist, Ann. Statist. 6 (1978), 582-587 (means of unequal groups
taken unweighted). F. E. Satterthwaite, Biometrics Bull. 2 (1946), 110-114.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.layout.finishing_readings import PRINTED, GridReadings

MOST_SPECIMENS = 10_000


@dataclass(frozen=True)
class ChangeSpread:
    """Dimensional change in one direction.

    Attributes
    ----------
    lots : tuple of tuple of float
        Change of every specimen, lot by lot. [%]
    mean_percent : float
        Mean of the lots' means. [%]
    lot_means_variance, within_variance : float or None
        M and W above; None where there are too few lots or specimens. [%²]
    share_within : float
        h above.
    """

    lots: tuple[tuple[float, ...], ...]
    mean_percent: float
    lot_means_variance: float | None
    within_variance: float | None
    share_within: float

    @property
    def specimens(self) -> int:
        """How many specimens there are."""
        return sum(map(len, self.lots))

    @property
    def specimen_sd_percent(self) -> float | None:
        """Spread between specimens of a lot, or None where no lot has two."""
        return None if self.within_variance is None else math.sqrt(self.within_variance)

    @property
    def lot_sd_percent(self) -> float | None:
        """Spread between lots, never below zero; None unless two lots, one of them with two specimens."""
        if self.lot_means_variance is None or self.within_variance is None:
            return None
        return math.sqrt(max(0.0, self.lot_means_variance - self.share_within * self.within_variance))

    @property
    def holds_for_new_lots(self) -> bool:
        """Whether the intervals hold for lots that were not measured."""
        return self.lot_means_variance is not None


def change_spread(changes: Sequence[Sequence[float]]) -> ChangeSpread:
    """Return mean and spread of the change of specimens, lot by lot.

    Parameters
    ----------
    changes : sequence of sequence of float
        Change of every specimen of every lot. [%]

    Raises
    ------
    InputError
        When a lot is empty, or a number is not finite.

    Examples
    --------
    >>> spread = change_spread([[-5.0, -5.4], [-6.0, -6.4]])
    >>> round(spread.mean_percent, 2), round(spread.specimen_sd_percent, 3), round(spread.lot_sd_percent, 3)
    (-5.7, 0.283, 0.678)
    """
    lots = tuple(tuple(map(float, lot)) for lot in changes)
    if not lots or not all(lots) or not all(math.isfinite(v) for lot in lots for v in lot):
        raise InputError("changes of specimens are needed, lot by lot", found=lots[:3])
    means = [float(np.mean(lot)) for lot in lots]
    freedom = sum(len(lot) - 1 for lot in lots)
    inside = sum((v - m) ** 2 for lot, m in zip(lots, means, strict=True) for v in lot)
    return ChangeSpread(
        lots,
        float(np.mean(means)),
        float(np.var(means, ddof=1)) if len(lots) > 1 else None,
        inside / freedom if freedom else None,
        float(np.mean([1 / len(lot) for lot in lots])),
    )


def grid_spread(readings: GridReadings, direction: str, *, iso: bool = False) -> ChangeSpread | None:
    """Return the spread of one direction, finished over file distance, or None where it was not read.

    Parameters
    ----------
    readings : GridReadings
        What was read.
    direction : {"warp", "weft"}
        Which way.
    iso : bool
        Finished over printed distance instead, as ISO 5077 counts: without the stretch of the feed.
        Needs the column ``printed_mm``.
    """
    start = readings.stages.index(PRINTED) if iso else 0
    lots: dict[str, dict[str, list[float]]] = {}
    for row in readings.readings:
        if row.direction == direction:
            change = 100 * (row.distances_mm[-1] / row.distances_mm[start] - 1)
            lots.setdefault(row.lot, {}).setdefault(row.specimen, []).append(change)
    if not lots:
        return None
    return change_spread([[float(np.mean(pairs)) for pairs in lot.values()] for lot in lots.values()])


def step_changes(readings: GridReadings, direction: str) -> dict[str, float]:
    """Return the change of each step, named after the column that it ends with. [%].

    Geometric means over all pairs of marks: their factors multiply to that of the whole exactly.
    """
    rows = [row.distances_mm for row in readings.readings if row.direction == direction]
    factors = np.exp(np.diff(np.log(np.asarray(rows, dtype=np.float64)), axis=1).mean(axis=0))
    return {
        name.removesuffix("_mm"): float(100 * (factor - 1))
        for name, factor in zip(readings.stages[1:], factors, strict=True)
    }


def predicted_variance(spread: ChangeSpread) -> tuple[float, float] | None:
    """Return variance [%²] and degrees of freedom for a new specimen; None from a single specimen.

    Of a new lot where two lots or more were measured, else of the same lot.
    """
    n, lots = spread.specimens, len(spread.lots)
    if spread.lot_means_variance is None:
        if spread.within_variance is None:
            return None
        return spread.within_variance * (1 + 1 / n), float(n - 1)
    between = spread.lot_means_variance * (1 + 1 / lots)
    inside = (spread.within_variance or 0.0) * (1 - spread.share_within)
    total = between + inside
    if total == 0:
        return 0.0, float(lots - 1)
    squares = between**2 / (lots - 1) + (inside**2 / (n - lots) if n > lots else 0.0)
    return total, total**2 / squares


def predicted_interval(spread: ChangeSpread, share: float = 0.9) -> tuple[float, float] | None:
    """Return where a new specimen's change will lie, by Student's t [%]; None from a single specimen.

    Parameters
    ----------
    spread : ChangeSpread
        What was measured.
    share : float
        Share of new specimens that the interval shall hold, 0-1.

    Examples
    --------
    Three specimens, sample sd 1: t(0.95; 2) sqrt(1 + 1/3) = 2.920 x 1.1547.

    >>> low, high = predicted_interval(change_spread([[-6.0, -5.0, -4.0]]))
    >>> round(low, 3), round(high, 3)
    (-8.372, -1.628)
    """
    from scipy.stats import t

    found = predicted_variance(spread)
    if found is None:
        return None
    half = float(t.ppf(0.5 + share / 2, found[1])) * math.sqrt(found[0])
    return spread.mean_percent - half, spread.mean_percent + half


def more_needed(sd_percent: float, have: int, within_percent: float, share: float = 0.9) -> int:
    """Return how many more specimens (or lots) it takes to know a mean well enough.

    Parameters
    ----------
    sd_percent : float
        Spread of one. [%]
    have : int
        How many there are.
    within_percent : float
        Half-width of Student's interval of the mean that is wanted. [%]
    share : float
        Confidence, 0-1.

    Returns
    -------
    int
        0 where there are enough; at most 10,000.

    Examples
    --------
    >>> more_needed(0.3, 3, 0.2), more_needed(0.05, 3, 0.2)
    (6, 0)
    """
    from scipy.stats import t

    if not (within_percent > 0 and sd_percent >= 0 and 0 < share < 1):
        raise InputError("aim for the mean cannot be", found=within_percent, expected="above 0 %")
    counts = np.arange(max(have, 2), MOST_SPECIMENS + 1)
    half = t.ppf(0.5 + share / 2, counts - 1) * sd_percent / np.sqrt(counts)
    enough = np.flatnonzero(half <= within_percent)
    needed = int(counts[enough[0]]) if len(enough) else MOST_SPECIMENS
    return max(0, needed - have)
