"""How much of the overprints of full inks a total lets through: by this one way to hold it beats another."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Even shares of the most of each ink at which it is told what the ink counts, from none to all.
SHARES: FloatArray = np.linspace(0.0, 1.0, 33)

# Overprints of more inks say little more, and more than so many of one size take long.
_MOST_TOGETHER, _MOST_SETS = 4, 1000
# How much the ink whose overprints are let through least counts beside the mean: else one ink pays for all.
_LEAST = 0.75
_DIGITS = 6


def let_through(counts: FloatArray, most: float) -> tuple[float, float]:
    """Return how much of full inks, and of their overprints of two, three and four, a total lets through.

    Parameters
    ----------
    counts : ndarray, shape (n_channels, len(SHARES))
        What each ink counts at the even shares of its most; rising from 0. [-]
    most : float
        Most of the sum. [-]

    Returns
    -------
    alone, together : float
        Share of single full inks, and of overprints: those of two, of three and of four inks count alike, and
        of each size the mean over all a quarter, the mean over those of the ink that comes off worst three
        quarters. 1 where all print in full. [-]

    Examples
    --------
    >>> let_through(np.tile(SHARES, (2, 1)), 1.5)
    (1.0, 0.75)
    """
    found = []
    for sets in _sets(len(counts)):
        sums = sets @ counts
        over = sums > most * (1.0 + 1e-9)
        first = np.where(over.any(axis=1), over.argmax(axis=1), len(SHARES) - 1)
        row = np.arange(len(sums))
        high, low = sums[row, first], sums[row, np.maximum(first - 1, 0)]
        part = np.clip((most - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
        share = np.where(over.any(axis=1), SHARES[np.maximum(first - 1, 0)] + part * SHARES[1], 1.0)
        of_ink = share @ sets / sets.sum(axis=0)
        found.append((1.0 - _LEAST) * float(share.mean()) + _LEAST * float(of_ink.min()))
    together = float(np.mean(found[1:])) if found[1:] else 1.0
    return round(found[0], _DIGITS), round(together, _DIGITS)


@lru_cache(maxsize=16)
def _sets(count: int) -> tuple[FloatArray, ...]:
    """Return which inks are in each set of one ink, of two and so on, each of shape (n_sets, count)."""
    sizes = [k for k in range(1, min(_MOST_TOGETHER, count) + 1) if k < 3 or comb(count, k) <= _MOST_SETS]
    found = []
    for size in sizes:
        chosen = np.array(list(combinations(range(count), size)))
        rows = np.zeros((len(chosen), count))
        np.put_along_axis(rows, chosen, 1.0, axis=1)
        found.append(rows)
    return tuple(found)
