"""Limits that charts keep, from those of conditions and curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.chart.patch_sets import ChartLimits
from strikeoff.model.limits import InkLimits

FloatArray = NDArray[np.float64]

_HALVINGS = 24


@dataclass(frozen=True)
class CurvedLimits(ChartLimits):
    """Limits whose total counts inks by curves.

    Attributes
    ----------
    every : tuple of InkLimits
        All of them are kept; the sums told are the highest of any, in shares of its total
        times the least total.
    """

    every: tuple[InkLimits, ...] = ()

    def sums(self, recipes: FloatArray) -> FloatArray:
        """Return what recipes, shape (..., n_inks), count in the total, shape (...)."""
        whole = min(one.total for one in self.every)
        return np.asarray(whole * np.max([one.sums(recipes) / one.total for one in self.every], axis=0))

    def kept(self, recipes: FloatArray, spared: int | None = None) -> FloatArray:
        """Return recipes brought under the limits in proportion, rounded down to whole per mille."""
        rows = np.minimum(recipes, self.per_ink)
        fixed = np.zeros_like(rows)
        if spared is not None:
            fixed[:, spared] = rows[:, spared]
        rows = fixed + (rows - fixed) * self._share(fixed, rows - fixed)[:, None]
        rows *= self._share(np.zeros_like(rows), rows)[:, None]
        return np.asarray(np.floor(rows * 1000.0 + 1e-6) / 1000.0)

    def _share(self, fixed: FloatArray, rest: FloatArray) -> FloatArray:
        """Return the most of a rest, 0-1, that the total holds beside what is fixed, shape (n,)."""
        low, high = np.zeros(len(rest)), np.ones(len(rest))
        low[self.sums(fixed + rest) <= self.total] = 1.0
        for _ in range(_HALVINGS):
            share = 0.5 * (low + high)
            fits = self.sums(fixed + share[:, None] * rest) <= self.total
            low, high = np.where(fits, share, low), np.where(fits, high, share)
        return low


def chart_limits(*limits: InkLimits) -> ChartLimits:
    """Return what a chart must keep so that it keeps all of some limits.

    Parameters
    ----------
    *limits : InkLimits
        One or more, in calibrated ink.
    """
    first = limits[0]
    same = [one for one in limits[1:] if not one.holds_like(first)]
    if first.curves is None and not same:
        return ChartLimits(first.per_ink, first.weights, first.total)
    every = (first, *same)
    total = min(one.total for one in every)
    weights = total * np.max([one.weights / one.total for one in every], axis=0)
    per_ink = np.min([one.per_ink for one in every], axis=0)
    if all(one.curves is None for one in every):
        return ChartLimits(per_ink, weights, total)
    return CurvedLimits(per_ink, weights, total, every)
