"""Sets of patches: what a chart holds, before it has a place on the cloth."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError

FloatArray = NDArray[np.float64]

#: Most inks that a chart can be made for.
MOST_INKS = 12

_RAMP = (100, 98, 95, 90, 85, 80, 75, 70, 60, 50, 40, 30, 25, 20, 15, 10, 7, 5, 3, 2)
_NEAR_NEUTRALS = (
    (100, 85, 85),
    (80, 65, 65),
    (60, 45, 45),
    (40, 27, 27),
    (20, 12, 12),
    (10, 6, 6),
    (5, 3, 3),
)
#: K to the near-neutrals, first and last row of the list above, that are printed with it.
_NEUTRAL_ROWS = {0: (0, 7), 10: (3, 6), 20: (2, 6), 40: (1, 6), 60: (0, 6), 80: (0, 6), 100: (0, 6)}
_CMYK_GRIDS = (
    ((0,), (0, 10, 20, 30, 40, 55, 70, 85, 100)),
    ((20,), (0, 10, 20, 40, 70, 100)),
    ((40, 60), (0, 20, 40, 70, 100)),
    ((80,), (0, 40, 70, 100)),
    ((100,), (0, 40, 100)),
)


@dataclass(frozen=True)
class PatchSet:
    """Patches in a fixed order, each with a name that is unique in the chart.

    Attributes
    ----------
    inks : tuple of str
        Ink names in channel order.
    recipes : ndarray, shape (n, n_inks)
        Ink amounts, 0-1. [-]
    names : tuple of str
        One per patch, becomes SAMPLE_ID.
    """

    inks: tuple[str, ...]
    recipes: FloatArray
    names: tuple[str, ...]

    def __post_init__(self) -> None:
        check_inks(self.inks)
        recipes = np.array(self.recipes, dtype=np.float64)
        if recipes.shape != (len(self.names), len(self.inks)):
            raise UsageError("recipes do not fit names and inks", found=recipes.shape)
        if not ((recipes >= 0) & (recipes <= 1)).all():
            raise UsageError("ink amounts of a chart must lie between none and full")
        recipes.setflags(write=False)
        object.__setattr__(self, "recipes", recipes)

    def __len__(self) -> int:
        return len(self.names)


@dataclass(frozen=True)
class ChartLimits:
    """What a chart must keep, in its own ink space.

    Attributes
    ----------
    per_ink : ndarray, shape (n_inks,)
        Most of each ink, 0-1. [-]
    weights : ndarray, shape (n_inks,)
        Weight of each ink in the total, 0-1. [-]
    total : float
        Most of the weighted sum (3.0 is 300 %). [-]
    """

    per_ink: FloatArray
    weights: FloatArray
    total: float

    def sums(self, recipes: FloatArray) -> FloatArray:
        """Return the weighted totals, shape (...), of recipes, shape (..., n_inks)."""
        return np.asarray(recipes @ self.weights)

    def kept(self, recipes: FloatArray, spared: int | None = None) -> FloatArray:
        """Return recipes brought under the limits in proportion, rounded down to whole per mille.

        Parameters
        ----------
        recipes : ndarray, shape (n, n_inks)
            Ink amounts. [-]
        spared : int, optional
            Ink that keeps its amount as long as the others can give way.
        """
        rows = np.minimum(recipes, self.per_ink)
        fixed = np.zeros_like(rows)
        if spared is not None:
            fixed[:, spared] = rows[:, spared]
        rest = rows - fixed
        room = np.maximum(self.total - self.sums(fixed), 0.0)
        share = np.minimum(1.0, room / np.maximum(self.sums(rest), 1e-12))
        rows = fixed + rest * share[:, None]
        rows *= np.minimum(1.0, self.total / np.maximum(self.sums(rows), 1e-12))[:, None]
        return np.asarray(np.floor(rows * 1000.0 + 1e-6) / 1000.0)


def plain_limits(n_inks: int, total: float | None = None) -> ChartLimits:
    """Return limits of full inks under a plain total; all inks together by default.

    Raises
    ------
    UsageError
        When the total is not above 0 and at most all inks.

    Examples
    --------
    >>> plain_limits(2, 1.5).kept(np.array([[1.0, 1.0]])).tolist()
    [[0.75, 0.75]]
    """
    most = float(n_inks) if total is None else total
    if not 0 < most <= n_inks:
        raise UsageError(
            "total ink limit cannot be",
            found=f"{100 * most:g} %",
            expected=f"above 0, at most {100 * n_inks} %",
        )
    return ChartLimits(np.ones(n_inks), np.ones(n_inks), most)


def check_inks(inks: Sequence[str]) -> None:
    """Refuse ink lists that no chart can be made for.

    Raises
    ------
    UsageError
        None, more than twelve, a name twice, an empty name. Case counts: ``c`` is often light cyan.
    """
    if not 1 <= len(inks) <= MOST_INKS:
        raise UsageError("cannot make a chart for this many inks", found=len(inks), expected="1 to 12")
    names = [ink.strip() for ink in inks]
    if len(set(names)) != len(names) or not all(names):
        raise UsageError("every ink needs a name of its own", found=", ".join(inks))


def numbered(inks: Sequence[str], recipes: FloatArray) -> PatchSet:
    """Return a patch set whose names are running numbers."""
    return PatchSet(tuple(inks), recipes, tuple(str(i + 1) for i in range(len(recipes))))


def iso_12642_2() -> FloatArray:
    """Return the 1,617 CMYK recipes of the standard characterisation chart, in its own order.

    Returns
    -------
    ndarray, shape (1617, 4)
        C, M, Y, K, 0-1; row i is patch i + 1. [-]

    References
    ----------
    ISO 12642-2:2006 (initial target values). 1,588 recipes are distinct.

    Examples
    --------
    >>> chart = iso_12642_2()
    >>> len(chart), len(np.unique(chart, axis=0)), (100 * chart[1610]).round().tolist()
    (1617, 1588, [50.0, 40.0, 40.0, 0.0])
    """
    rows: list[tuple[int, ...]] = []
    for blacks, levels in _CMYK_GRIDS:
        rows += [(c, m, y, k) for k in blacks for y, c, m in product(levels, repeat=3)]
    for ink in range(4):
        rows += [tuple(level if i == ink else 0 for i in range(4)) for level in _RAMP]
    rows.append((0, 0, 0, 0))
    for k, (first, last) in _NEUTRAL_ROWS.items():
        rows += [(*neutral, k) for neutral in _NEAR_NEUTRALS[first:last]]
    pairs = ((1, 1, 0), (1, 0, 1), (0, 1, 1))
    singles = ((1, 0, 0), (0, 1, 0), (0, 0, 1))
    rows += [(*(100 * on for on in inks), 70) for inks in (*singles, *pairs)]
    rows += [(*(40 * on for on in inks), 70) for inks in pairs]
    for level in (3, 7):
        rows += [tuple(row) for row in _last_fastest((0, level)) if sum(row) > level]
    rows += [row for row in _last_fastest((0, 3, 40)) if 3 in row and 40 in row]
    rows += [(c, m, y, 10) for c, m, y in product((0, 10, 20, 40, 70), repeat=3)]
    rows.append((50, 40, 40, 0))
    rows += [(*(100 * on for on in inks), 10) for inks in (*singles, *reversed(pairs))]
    return np.array(rows, dtype=np.float64) / 100.0


def _last_fastest(levels: Iterable[int]) -> list[tuple[int, int, int, int]]:
    """Return every C, M, Y, K of some levels, C changing fastest."""
    return [(c, m, y, k) for k, y, m, c in product(tuple(levels), repeat=4)]
