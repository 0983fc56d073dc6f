"""Recipes that fill the legal part of ink space, small amounts a little more closely than large ones.

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
MOST_TOGETHER = 5
# Distances are taken between amounts to this power, so that small amounts stand apart: colour changes fastest
# near the cloth, and points that are far from all others in plain amounts hold hardly any below a fifth. On
# simulated presses of four to eight inks pale mixtures came out 20-40 % better for it, darks 5-60 % worse,
# all together 0-20 % better.
_POWER = 0.7
# Of every seven points two hold two inks, two three, two four and one five, as far as there are so many:
# separations use few together, and points of many alone leave those of few to be guessed.
_SHARES = (2, 2, 2, 1)


def fill_space(
    count: int, limits: ChartLimits, *, start: FloatArray, seed: int = 0, beside: Sequence[int] = ()
) -> FloatArray:
    """Return recipes that stand far from each other and from those already there.

    Scrambled Sobol points are brought under the limits; then the point that is farthest from all
    chosen ones is taken, again and again, turn by turn among those of two, three, four and five inks. Small
    amounts count as farther apart than large ones.

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
    points = (candidates / scale) ** _POWER
    gap = np.full(len(points), np.inf)
    for row in (start / scale) ** _POWER:
        gap = np.minimum(gap, ((points - row) ** 2).sum(axis=1))
    together = (np.delete(candidates, list(beside), axis=1) > 0).sum(axis=1)
    alike = [np.flatnonzero(together == held) for held in np.unique(together[together > 1])]
    alike = alike or [np.arange(len(points))]
    share = np.array([len(rows) for rows in alike]) / sum(map(len, alike))
    taken = np.zeros(len(alike))
    chosen = np.empty(count, dtype=np.int64)
    for i in range(count):
        turn = int((share * (i + 1) - taken).argmax())
        taken[turn] += 1
        chosen[i] = alike[turn][gap[alike[turn]].argmax()]
        gap = np.minimum(gap, ((points - points[chosen[i]]) ** 2).sum(axis=1))
    return np.asarray(candidates[chosen])


def legal_points(count: int, limits: ChartLimits, *, seed: int = 0, beside: Sequence[int] = ()) -> FloatArray:
    """Return scrambled Sobol points under the limits, shape (count, n_inks), in whole per mille.

    Points hold two to five inks, fewest five; those above the total are drawn towards the bare cloth, half
    of them exactly on to the limit. Inks ``beside``, such as white beneath all others, are not counted: each
    is there in half of the points.

    Examples
    --------
    >>> from strikeoff.chart.patch_sets import plain_limits
    >>> points = legal_points(64, plain_limits(6, 2.5), seed=3)
    >>> points.shape, bool(points.sum(axis=1).max() <= 2.5)
    ((64, 6), True)
    """
    from scipy.stats import qmc

    inks = len(limits.per_ink)
    counted = np.setdiff1d(np.arange(inks), np.array(beside, dtype=np.int64))
    power = int(np.ceil(np.log2(max(count, 2))))
    draw = qmc.Sobol(2 * inks + 2, seed=np.random.default_rng(seed)).random_base2(power)[:count]
    amounts, presence, pull, many = draw[:, :inks], draw[:, inks:-2], draw[:, -2], draw[:, -1]
    shares = np.cumsum(_SHARES[: max(1, len(counted) - 1)])
    held = np.minimum(2 + np.searchsorted(shares, many * shares[-1], side="right"), len(counted))
    # The lowest few draws of a row say which inks are there.
    there = presence < 0.5
    there[:, counted] = presence[:, counted].argsort(axis=1).argsort(axis=1) < held[:, None]
    amounts = np.where(there, amounts, 0.0) * limits.per_ink
    depth = np.where(pull < 0.5, 1.0, np.abs(2.0 * pull - 1.0) ** (1.0 / np.maximum(held, 1)))
    over = limits.sums(amounts) > limits.total
    amounts[over] = limits.kept(amounts[over]) * depth[over, None]
    return limits.kept(amounts)
