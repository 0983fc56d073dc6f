"""What noise, instrument and aims do to a statistic of colour differences."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import RangeError
from strikeoff.verification.statistics import FORMULAE, STATISTICS

FloatArray = NDArray[np.float64]

#: Radius of the ball that holds 90 % of a round normal distribution in three dimensions, in standard
#: deviations of one axis: the square root of the 0.90 quantile of chi-square with 3 degrees of freedom.
RADIUS_90 = 2.5003
_MOST_READINGS = 1000
# Bound on simulated differences of one statistic: time and memory.
_MOST_DRAWS = 4_000_000
_BATCH_DRAWS = 1_000_000


@dataclass(frozen=True)
class Scatter:
    """Standard uncertainties behind a set of patches.

    Attributes
    ----------
    reading_covariance : ndarray, shape (3, 3)
        Scatter of one reading in L*, a*, b*.
    counts : ndarray of int, shape (n,)
        Readings averaged in each patch.
    instrument_sd : float
        On each axis, the same error in all patches.
    aim_sd : ndarray, shape (n,)
        Of the aim on each axis, independent between patches.
    """

    reading_covariance: FloatArray
    counts: NDArray[np.intp]
    instrument_sd: float
    aim_sd: FloatArray


@dataclass(frozen=True)
class Spread:
    """Standard uncertainty of a statistic, and what noise adds to its value, with and without readings.

    ``fixed_sd`` and ``fixed_bias`` are what would remain after infinitely many readings.
    """

    sd: float
    bias: float
    fixed_sd: float
    fixed_bias: float


def readings_needed(sd: float, half_width: float) -> int:
    """Return how many readings hold a mean within a half width at 95 %: n = (1.96 s / E)^2.

    Parameters
    ----------
    sd : float
        Scatter of one reading, any unit.
    half_width : float
        Same unit, above 0.

    Returns
    -------
    int
        At least 1.

    Raises
    ------
    RangeError
        For a negative scatter or a half width that is not positive.

    References
    ----------
    Normal sampling theory; 1.96 is the 0.975 quantile. Common practice, no single source.

    Examples
    --------
    >>> readings_needed(0.3, 0.15), readings_needed(0.6, 0.2), readings_needed(0.15, 0.1)
    (16, 35, 9)
    """
    if not sd >= 0 or not half_width > 0 or not math.isfinite(sd):
        raise RangeError("scatter or half width is out of range", found=f"{sd}, {half_width}", expected="> 0")
    return max(1, math.ceil((1.96 * sd / half_width) ** 2 - 1e-9))


def spread_of(
    aims: FloatArray,
    measured: FloatArray,
    scatter: Scatter,
    formula: str,
    statistic: str,
    *,
    coverage_factor: float = 2.0,
    trials: int = 1000,
    seed: int = 1,
) -> Spread:
    """Return the uncertainty of a statistic over patches by simulation.

    Parameters
    ----------
    aims, measured : ndarray, shape (n, 3)
        L*, a*, b*; repeats averaged.
    scatter : Scatter
        What is uncertain.
    formula, statistic : str
        Keys of `FORMULAE` and `STATISTICS`.
    coverage_factor : float
        U over standard uncertainty.
    trials : int
        Simulated worlds; fewer for very many patches.
    seed : int
        Same seed, same figures.

    Returns
    -------
    Spread

    Notes
    -----
    The measured difference of a patch is longer than the true one, since noise adds to its square. So the
    worlds are drawn around differences that are shortened by the expected noise (never below 0), and the
    excess of the simulated statistic over the statistic of these is what noise adds.

    The worst of several patches scatters less than one patch does, yet goods are good only if each patch is:
    for the worst and the percentile U reaches at least as far as the same statistic of value + U patch by
    patch (intersection-union test; R. L. Berger, Technometrics 24 (1982), 295-300), so that pass keeps its
    error rate whichever patch the limit binds.
    """
    n = len(aims)
    trials = max(100, min(trials, _MOST_DRAWS // n))
    rng = np.random.default_rng(seed)
    reading_root = _root(scatter.reading_covariance)
    noise_variance = np.trace(scatter.reading_covariance) / scatter.counts
    fixed_variance = 3 * (scatter.aim_sd**2 + scatter.instrument_sd**2)

    gap = measured - aims
    square = np.maximum((gap * gap).sum(axis=1), 1e-12)
    share = np.sqrt(np.maximum(0.0, 1 - (noise_variance + fixed_variance) / square))
    centre = aims + gap * share[:, None]
    rest = float(STATISTICS[statistic](FORMULAE[formula](aims, centre)))

    both, fixed = _Tally(n, statistic), _Tally(n, statistic)
    batch = max(1, min(trials, _BATCH_DRAWS // n))
    for start in range(0, trials, batch):
        size = min(batch, trials - start)
        shift = rng.normal(size=(size, 1, 3)) * scatter.instrument_sd
        shift = shift + rng.normal(size=(size, n, 3)) * scatter.aim_sd[:, None]
        noise = rng.normal(size=(size, n, 3)) @ reading_root.T / np.sqrt(scatter.counts)[:, None]
        for sample, tally in ((centre + shift + noise, both), (centre + shift, fixed)):
            sample[..., 0] = np.maximum(sample[..., 0], 0.0)
            tally.add(FORMULAE[formula](np.broadcast_to(aims, sample.shape), sample))
    differences = FORMULAE[formula](aims, measured)
    return Spread(
        sd=both.sd(differences, coverage_factor),
        bias=max(0.0, both.mean() - rest),
        fixed_sd=fixed.sd(differences, coverage_factor),
        fixed_bias=max(0.0, fixed.mean() - rest),
    )


class _Tally:
    """Simulated values of a statistic, and the scatter of each patch's own difference."""

    def __init__(self, n: int, statistic: str) -> None:
        self.statistic = statistic
        self.values: list[FloatArray] = []
        self.sums, self.squares = np.zeros(n), np.zeros(n)

    def add(self, differences: FloatArray) -> None:
        self.values.append(STATISTICS[self.statistic](differences))
        self.sums += differences.sum(axis=0)
        self.squares += (differences**2).sum(axis=0)

    def mean(self) -> float:
        return float(np.concatenate(self.values).mean())

    def sd(self, differences: FloatArray, coverage_factor: float) -> float:
        values = np.concatenate(self.values)
        own = float(values.std())
        if self.statistic == "mean":
            return own
        mean = self.sums / values.size
        each = np.sqrt(np.maximum(0.0, self.squares / values.size - mean * mean))
        take = STATISTICS[self.statistic]
        reach = float(take(differences + coverage_factor * each)) - float(take(differences))
        return max(own, reach / coverage_factor)


def more_readings(
    value: float, limit: float, spread: Spread, coverage_factor: float, readings: float
) -> int | None:
    """Return how many further readings of each patch would decide.

    Parameters
    ----------
    value, limit : float
        The statistic as measured, and its limit.
    spread : Spread
        Its uncertainty now.
    coverage_factor : float
        U over standard uncertainty.
    readings : float
        Readings of each patch now, at least 1.

    Returns
    -------
    int or None
        At least 1; None when U does not fall below the distance to the limit within 1,000 readings.

    Notes
    -----
    n = (k s / E)^2 with E the distance of the noise-free estimate from the limit, less what readings do not
    lessen (instrument, aims), and with what noise adds falling as 1/n.

    Examples
    --------
    >>> more_readings(0.85, 1.0, Spread(0.3, 0, 0, 0), 1.96, 1)
    15
    """
    estimate = value - spread.bias
    noise_variance = max(0.0, spread.sd**2 - spread.fixed_sd**2)
    noise_bias = max(0.0, spread.bias - spread.fixed_bias)
    distance = abs(limit - estimate)
    for total in range(math.floor(readings) + 1, _MOST_READINGS + 1):
        left = readings / total
        reach = coverage_factor * math.sqrt(spread.fixed_sd**2 + noise_variance * left)
        if estimate < limit:
            reach += spread.fixed_bias + noise_bias * left
        if reach < distance:
            return total - math.floor(readings)
    return None


def _root(covariance: FloatArray) -> FloatArray:
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)), dtype=np.float64)


def aim_sd_from_radius(radius_90: ArrayLike, n: int) -> FloatArray:
    """Return the standard uncertainty on each axis from the radius that holds 90 %.

    Raises
    ------
    RangeError
        For a negative or undefined radius, or as many radii as there are not patches.
    """
    radius = np.asarray(radius_90, dtype=np.float64)
    if radius.shape not in ((), (n,)) or not np.all(radius >= 0) or not np.all(np.isfinite(radius)):
        raise RangeError("uncertainty of the aims is out of range", found=radius.shape, expected="0 or more")
    return np.asarray(np.broadcast_to(radius / RADIUS_90, (n,)), dtype=np.float64)
