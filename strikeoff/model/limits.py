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
    """

    per_ink: FloatArray
    weights: FloatArray
    total: float
    apart: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        if not (np.isfinite(self.total) and self.total > 0):
            raise UsageError("total ink limit must be above 0", found=f"{self.total * 100:g} %")
        for name in ("per_ink", "weights"):
            array = np.array(getattr(self, name), dtype=np.float64)
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    def sums(self, inks: FloatArray) -> FloatArray:
        """Return the weighted total, shape (...), of inks, shape (..., n_inks)."""
        return np.asarray(inks @ self.weights)

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
                    if self.weights[ink] * self.per_ink[ink] > left:
                        filled = recipe.copy()
                        filled[ink] = left / self.weights[ink]
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
