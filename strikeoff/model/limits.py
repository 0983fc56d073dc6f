"""What the cloth can hold: limits of each ink and of all together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError

FloatArray = NDArray[np.float64]

# Less of an ink than this tells little of what it does in an overprint.
_SEEN = 0.1
FULL = 65535
_PULLS = 3


@dataclass(frozen=True)
class InkLimits:
    """Limits in calibrated ink.

    Attributes
    ----------
    per_ink : ndarray, shape (n_inks,)
        Most of each ink, 0-1. [-]
    weights : ndarray, shape (n_inks,)
        Weight of each ink in the total. [-]
    total : float
        Most of the weighted sum, 0-n_inks (3.0 is 300 %). [-]
    apart : tuple of (int, int)
        Pairs of inks that recipes for colours do not mix, since no reading tells what they make.
    curves : ndarray, shape (n_inks, n_nodes), optional
        What each ink counts in the total, by its amount in even steps from none to full tone: rising convex
        curves from 0, nowhere above the ink times its weight. Without them an ink counts by its weight.
    """

    per_ink: FloatArray
    weights: FloatArray
    total: float
    apart: tuple[tuple[int, int], ...] = ()
    curves: FloatArray | None = None

    def __post_init__(self) -> None:
        if not (np.isfinite(self.total) and self.total > 0):
            raise UsageError("total ink limit must be above 0", found=f"{self.total * 100:g} %")
        for name in ("per_ink", "weights", *(() if self.curves is None else ("curves",))):
            array = np.array(getattr(self, name), dtype=np.float64)
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    def sums(self, inks: FloatArray) -> FloatArray:
        """Return what inks, shape (..., n_inks), count in the total, shape (...)."""
        if self.curves is None:
            return np.asarray(inks @ self.weights)
        return np.asarray(self._counted(inks)[0].sum(axis=-1))

    def over(self, codes: NDArray[np.integer]) -> NDArray[np.bool_]:
        """Say which recipes as codes, shape (..., n_inks), 65535 being full tone, pass the total."""
        if self.curves is None:
            return np.asarray(codes @ self.weights > self.total * FULL)
        return np.asarray(self.sums(codes / FULL) > self.total)

    def counts(self) -> FloatArray | None:
        """Return what each code of each ink counts, shape (n_inks, 65536), or None without curves."""
        if self.curves is None:
            return None
        code, node = np.arange(FULL + 1) / FULL, np.linspace(0.0, 1.0, self.curves.shape[1])
        return np.array([np.interp(code, node, curve) for curve in self.curves])

    def holds_like(self, other: InkLimits) -> bool:
        """Say whether another total holds the same recipes."""
        mine, others = self.curves, other.curves
        if mine is not None and others is not None:
            same = np.array_equal(mine, others)
        else:
            same = mine is others and np.array_equal(self.weights, other.weights)
        return same and self.total == other.total

    def tangents(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the straight limits that touch the total's curves at recipes, shape (m, n_inks).

        Returns
        -------
        weights : ndarray, shape (m, n_inks)
            Weight of each ink. [-]
        totals : ndarray, shape (m,)
            Most of the weighted sum. Every legal recipe keeps them all. [-]
        """
        counted, rise = self._counted(inks)
        return rise, self.total - counted.sum(axis=-1) + (rise * inks).sum(axis=-1)

    def pulled_in(self, inks: FloatArray) -> FloatArray:
        """Return recipes, shape (m, n_inks), with those beyond the total brought back in proportion."""
        over = np.flatnonzero(self.sums(inks) > self.total)
        if not len(over):
            return inks
        rows, share = inks[over], np.ones((len(over), 1))
        for _ in range(_PULLS if self.curves is not None else 0):
            # Newton's steps on a convex curve come down from above and stay there.
            counted, rise = self._counted(rows * share)
            beyond = counted.sum(axis=1) - self.total
            share -= (beyond / np.maximum((rise * rows).sum(axis=1), 1e-12))[:, None]
        rows = rows * share
        out = inks.copy()
        out[over] = rows / np.maximum(self.sums(rows) / self.total, 1.0)[:, None]
        return out

    def alone(self) -> FloatArray:
        """Return the most of each ink without others, shape (n_inks,)."""
        if self.curves is None:
            return np.asarray(np.minimum(self.per_ink, self.total / np.maximum(self.weights, 1e-9)))
        return np.array([min(most, self._filling(k, self.total)) for k, most in enumerate(self.per_ink)])

    def _counted(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what each ink counts and how fast that rises, both of the shape of inks."""
        assert self.curves is not None
        cells = self.curves.shape[1] - 1
        cell = np.clip((inks * cells).astype(np.intp), 0, cells - 1)
        ink = np.arange(len(self.per_ink))
        low = self.curves[ink, cell]
        rise = (self.curves[ink, cell + 1] - low) * cells
        return low + rise * (inks - cell / cells), rise

    def _filling(self, ink: int, room: float) -> float:
        """Return the amount of an ink that fills the room; infinite where none does."""
        if self.curves is None:
            return float(room / self.weights[ink]) if self.weights[ink] > 0 else np.inf
        curve = self.curves[ink]
        above = np.flatnonzero(curve > room)
        if not len(above):
            return np.inf
        last = int(above[0])
        part = (room - curve[last - 1]) / (curve[last] - curve[last - 1])
        return float((last - 1 + part) / (len(curve) - 1))

    def legal(self, inks: FloatArray, slack: float = 1e-9) -> NDArray[np.bool_]:
        """Say which recipes, shape (..., n_inks), keep every limit."""
        inside = (inks >= -slack) & (inks <= self.per_ink + slack)
        return np.asarray(inside.all(axis=-1) & (self.sums(inks) <= self.total + slack))

    def without(self, inks: NDArray[np.bool_]) -> InkLimits:
        """Return the same limits with none of some inks, shape (n_inks,)."""
        return replace(self, per_ink=np.where(inks, 0.0, self.per_ink))

    def with_most(self, ink: int, most: float) -> InkLimits:
        """Return the same limits with at most so much of one ink, 0-1."""
        per_ink = self.per_ink.copy()
        per_ink[ink] = min(per_ink[ink], most)
        return replace(self, per_ink=per_ink)

    def parted(self, inks: FloatArray) -> FloatArray:
        """Return recipes, shape (m, n_inks), without the lesser ink of every pair that is kept apart."""
        out = inks.copy()
        for first, second in self.apart:
            less = np.where(out[:, first] < out[:, second], first, second)
            both = (out[:, first] > 0) & (out[:, second] > 0)
            out[both, less[both]] = 0.0
        return out

    def random(self, count: int, rng: np.random.Generator) -> FloatArray:
        """Return random legal recipes, shape (count, n_inks), some of them on the limits."""
        size = len(self.per_ink)
        inks = rng.random((count, size)) * self.per_ink
        inks[rng.random((count, size)) < 0.15] = 0.0
        full = rng.random((count, size)) < 0.10
        inks = np.where(full, self.per_ink, inks)
        if self.curves is not None:
            return self.pulled_in(inks)
        over = np.maximum(self.sums(inks) / self.total, 1.0)
        return np.asarray(inks / over[:, None])

    def corners(self) -> FloatArray:
        """Return the corners of legal recipes, shape (m, n_inks): full inks, and one that fills the total."""
        return np.array(list(self._corners()))

    def _corners(self) -> Iterator[FloatArray]:
        used = np.flatnonzero(self.per_ink > 0)
        for count in range(len(used) + 1):
            for full in combinations(used, count):
                recipe = np.where(np.isin(np.arange(len(self.per_ink)), full), self.per_ink, 0.0)
                left = self.total - float(self.sums(recipe))
                if left < 0.0:
                    continue
                yield recipe
                for ink in np.setdiff1d(used, full):
                    filling = self._filling(int(ink), left)
                    if filling < self.per_ink[ink]:
                        filled = recipe.copy()
                        filled[ink] = filling
                        yield filled


def pairs_never_printed(printed: FloatArray, used: NDArray[np.bool_]) -> tuple[tuple[int, int], ...]:
    """Return the pairs of used inks that no recipe, shape (n, n_inks), holds together.

    Examples
    --------
    >>> pairs_never_printed(np.array([[0.5, 0.5, 0.0], [0.0, 0.5, 0.5]]), np.ones(3, dtype=bool))
    ((0, 2),)
    """
    held = (printed >= _SEEN).astype(np.float64)
    together = held.T @ held > 0
    return tuple(
        (int(i), int(j))
        for i, j in combinations(np.flatnonzero(used & held.any(axis=0)), 2)
        if not together[i, j]
    )
