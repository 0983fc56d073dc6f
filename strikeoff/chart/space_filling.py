"""Recipes that fill the legal part of ink space evenly.

References
----------
A. B. Owen, "Scrambling Sobol' and Niederreiter-Xing points", J. Complexity 14 (1998), 466-489;
farthest-point insertion: T. F. Gonzalez, Theor. Comput. Sci. 38 (1985), 293-306.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.chart.patch_sets import ChartLimits

FloatArray = NDArray[np.float64]

_TRIES = 24
_MOST_TRIES = 1 << 14
#: Most inks that points hold together, those beside not counted: separations seldom use many more.
ACTIVE = 4


def fill_space(
    count: int, limits: ChartLimits, *, start: FloatArray, seed: int = 0, beside: Sequence[int] = ()
) -> FloatArray:
    """Return recipes that stand far from each other and from those already there.

    Scrambled Sobol points are brought under the limits; then the point that is farthest from all
    chosen ones is taken, again and again.

    Parameters
    ----------
    count : int
        How many.
    limits : ChartLimits
        What the recipes keep.
    start : ndarray, shape (m, n_inks)
        Recipes that the chart already holds.
    seed : int
        Equal seeds give equal recipes.
    beside : sequence of int
        Channels that lie under or over the others; see `legal_points`.

    Returns
    -------
    ndarray, shape (count, n_inks)
        Within the limits.
    """
    if count < 1:
        return np.zeros((0, len(limits.per_ink)))
    candidates = legal_points(min(_MOST_TRIES, _TRIES * (count + 8)), limits, seed=seed, beside=beside)
    scale = np.where(limits.per_ink > 0, limits.per_ink, 1.0)
    points = candidates / scale
    gap = np.full(len(points), np.inf)
    for row in start / scale:
        gap = np.minimum(gap, ((points - row) ** 2).sum(axis=1))
    chosen = np.empty(count, dtype=np.int64)
    for i in range(count):
        chosen[i] = int(gap.argmax())
        gap = np.minimum(gap, ((points - points[chosen[i]]) ** 2).sum(axis=1))
    return np.asarray(candidates[chosen])


def legal_points(count: int, limits: ChartLimits, *, seed: int = 0, beside: Sequence[int] = ()) -> FloatArray:
    """Return scrambled Sobol points under the limits, shape (count, n_inks), in whole per mille.

    With more than four inks points leave all but four out; points above the total are drawn towards
    the bare cloth, half of them exactly on to the limit. Inks ``beside``, such as white beneath all others,
    are not among the four: each is there in half of the points.

    Examples
    --------
    >>> from strikeoff.chart.patch_sets import plain_limits
    >>> points = legal_points(64, plain_limits(6, 2.5), seed=3)
    >>> points.shape, bool(points.sum(axis=1).max() <= 2.5)
    ((64, 6), True)
    """
    from scipy.stats import qmc

    inks = len(limits.per_ink)
    power = int(np.ceil(np.log2(max(count, 2))))
    draw = qmc.Sobol(2 * inks + 1, seed=np.random.default_rng(seed)).random_base2(power)[:count]
    amounts, presence, pull = draw[:, :inks], draw[:, inks:-1], draw[:, -1:]
    if inks > ACTIVE:
        # The lowest few draws of a row say which inks are there.
        counted = np.setdiff1d(np.arange(inks), np.array(beside, dtype=np.int64))
        there = presence < 0.5
        there[:, counted] = presence[:, counted].argsort(axis=1).argsort(axis=1) < ACTIVE
        amounts = np.where(there, amounts, 0.0)
    amounts = amounts * limits.per_ink
    depth = np.where(pull < 0.5, 1.0, np.abs(2.0 * pull - 1.0) ** (1.0 / min(inks, ACTIVE)))
    over = limits.sums(amounts) > limits.total
    amounts[over] = limits.kept(amounts[over]) * depth[over]
    return limits.kept(amounts)
