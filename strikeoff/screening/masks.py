"""Threshold masks of all inks of a roll: dots even within each ink, and of different inks apart.

Dots of all inks are set in turn. A place is bad by the energy of the ink's own dots, as in
void-and-cluster, and, in highlights, where another ink's dot already is. The energy falls off with
millimetres, not pixels. A mask joins itself on all sides; where its height does not go into the period of
a roll, the rows left over get thresholds of their own, made between fixed rows above and below, so that
drops repeat with the planes and the joins look like the rest.

References
----------
R. A. Ulichney, The void-and-cluster method for dither array generation, Proc. SPIE 1913 (1993), 332-343.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.screening.void_cluster import SIGMA_PX, gaussian_window, shuffled, thresholds

#: Rows and columns of a mask; 16,384 thresholds.
SIZE_PX = 128
_FIRST_SHARE = 0.1
# Another ink's dot: a narrow hill that keeps dots apart, and a faint wide one that spreads them together.
# By experiment: wider or higher ones roughen the single inks, lower ones let dots meet.
_APART, _APART_SIGMA_PX, _TOGETHER = 0.4, 0.6, 0.05
_ALONE_SHARE = 0.4
_STEPS = 10

Ranks = NDArray[np.int64]


@dataclass(frozen=True)
class InkMasks:
    """Thresholds of all inks, and the rows of the roll that they stand for.

    Attributes
    ----------
    thresholds : ndarray of uint16, shape (inks, rows, columns)
        A drop falls where ink > threshold. The first ``base_rows`` repeat through a period of the
        roll, the rest end it.
    base_rows : int
        Rows of the mask that joins itself.
    period : int
        Rows after which thresholds repeat.
    start : int
        Row of the roll at which a period starts.
    """

    thresholds: NDArray[np.uint16]
    base_rows: int
    period: int
    start: int = 0

    def rows(self, y0: int, y1: int) -> NDArray[np.int64]:
        """Return the row of ``thresholds`` for rows ``y0`` to ``y1`` (exclusive) of the roll.

        Examples
        --------
        >>> InkMasks(np.zeros((1, 5, 8), np.uint16), 3, 8, start=1).rows(0, 10).tolist()
        [4, 0, 1, 2, 0, 1, 2, 3, 4, 0]
        """
        place = (np.arange(y0, y1) - self.start) % self.period
        ending = self.thresholds.shape[1] - self.base_rows
        repeated = self.period - ending
        return np.where(place < repeated, place % self.base_rows, place - repeated + self.base_rows)


def plain_masks(values: NDArray[np.uint16]) -> InkMasks:
    """Return given thresholds, shape ``(inks, rows, columns)``, as masks that repeat by themselves."""
    return InkMasks(values, values.shape[1], values.shape[1])


def roll_masks(
    n_inks: int,
    period_rows: int = 0,
    start: int = 0,
    *,
    pitch_mm: tuple[float, float] = (1.0, 1.0),
    size: int = SIZE_PX,
) -> InkMasks:
    """Return masks whose drops repeat where the planes of a roll do.

    Parameters
    ----------
    n_inks : int
        Number of inks, 1 or more.
    period_rows : int
        Rows after which the planes repeat; 0 when nothing does.
    start : int
        Row at which the repeating part starts.
    pitch_mm : tuple of float
        Pixel pitch, across and along: only the ratio counts. [mm]
    size : int
        Rows and columns of the mask. [px]

    Raises
    ------
    UsageError
        When a size cannot be.
    """
    if n_inks < 1 or size < 16 or period_rows < 0:
        raise UsageError("masks need an ink and 16 pixels", found=f"{n_inks} inks, {size} px")
    ratio = round(pitch_mm[1] / pitch_mm[0], 4)
    base = joint_ranks(n_inks, size, size, ratio)
    if period_rows == 0:
        return _masks(base, size, size, start)
    # Very short periods are taken several at a time.
    period = period_rows * -(-max(size // 2, 16) // period_rows)
    if period % size == 0:
        return _masks(base, size, period, start)
    if period < size * 3 // 2:
        return _masks(joint_ranks(n_inks, period, size, ratio), period, period, start)
    ending = period % size
    ending += size if ending < size // 2 else 0
    return replace(_closed(n_inks, size, ending, ratio), period=period, start=start)


def _masks(rank: Ranks, base_rows: int, period: int, start: int) -> InkMasks:
    return InkMasks(_read_only(np.stack([thresholds(ink) for ink in rank])), base_rows, period, start)


@lru_cache(maxsize=2)
def _closed(n_inks: int, size: int, ending: int, ratio: float) -> InkMasks:
    base = joint_ranks(n_inks, size, size, ratio)
    rest = _ranks(n_inks, ending, size, ratio, base)
    values = [np.concatenate([thresholds(a), thresholds(b)]) for a, b in zip(base, rest, strict=True)]
    return InkMasks(_read_only(np.stack(values)), size, size + ending)


def _read_only(array: Any) -> Any:
    array.setflags(write=False)
    return array


@lru_cache(maxsize=4)
def joint_ranks(n_inks: int, rows: int, columns: int, ratio: float = 1.0) -> Ranks:
    """Return the rank, 0 to rows x columns - 1, of every cell of the masks of some inks.

    Parameters
    ----------
    n_inks : int
        Number of inks.
    rows, columns : int
        Size of the masks. [px]
    ratio : float
        Pitch along over pitch across. [-]

    Returns
    -------
    ndarray, shape (n_inks, rows, columns)
        Every rank once in every ink, read-only.
    """
    return _read_only(_ranks(n_inks, rows, columns, ratio, None))  # type: ignore[no-any-return]


def _windows(cells: int, ratio: float) -> tuple[Ranks, Ranks, Ranks]:
    """Return the energy around a dot: in its own ink, and the narrow and wide ones in all others."""
    unit = 1 << (cells - 1).bit_length()
    along, across = SIGMA_PX / np.sqrt(ratio), SIGMA_PX * np.sqrt(ratio)
    own = gaussian_window(along, across)
    narrow = _APART_SIGMA_PX / SIGMA_PX
    hill = _APART * gaussian_window(along * narrow, across * narrow)
    wide = _TOGETHER * own
    edge = [(a - b) // 2 for a, b in zip(own.shape, hill.shape, strict=True)]
    wide[edge[0] : -edge[0], edge[1] : -edge[1]] += hill
    return own * unit, _hill(hill) * unit, _hill(wide) * unit


def _hill(window: NDArray[Any]) -> Ranks:
    """Return a window in multiples of ``_STEPS``, without an edge that is below a thousandth of its top."""
    rows, columns = np.nonzero(window > 1e-3 * window.max())
    top, left = rows.min(), columns.min()
    kept = window[top : len(window) - top, left : window.shape[1] - left]
    return np.rint(kept / _STEPS).astype(np.int64) * _STEPS


def _ranks(n_inks: int, rows: int, columns: int, ratio: float, above: Ranks | None) -> Ranks:
    """Rank free cells, under the rows of a finished mask where one is given.

    The finished mask's dots are there at their own tones, unmoved; the last free row meets its first.
    """
    from strikeoff.screening.kernels_masks import place_dots, settle, walk

    top = 0 if above is None else above.shape[1]
    shape = (n_inks, top + rows, columns)
    cells, fixed = rows * columns, top * columns
    own, hill, wide = _windows(cells + fixed, ratio)
    order = np.stack([shuffled(cells + fixed, seed) for seed in range(1, n_inks + 1)])
    free = np.stack([line[line >= fixed] for line in order])
    known = np.zeros((n_inks, 0), np.int64)
    if above is not None:
        known = np.argsort(above.reshape(n_inks, fixed), axis=1)
    # Fixed dots that stand while ``count`` of the free cells are set.
    fixed_by = (np.arange(cells + 1) * fixed + cells // 2) // cells

    def fields_of(dots: Ranks, given: int, cross: Ranks) -> Ranks:
        """Return the energies of all inks; equal ones differ by a tie-break of its own in every cell."""
        fields = np.empty(shape, np.int64)
        for ink in range(n_inks):
            fields[ink].flat[order[ink]] = np.arange(cells + fixed)
        for ink in range(n_inks):
            place_dots(fields, own, cross, ink, np.concatenate([known[ink, :given], dots[ink]]))
        return fields

    first = max(1, int(cells * _FIRST_SHARE))
    fields = fields_of(free[:, :first], int(fixed_by[first]), wide)
    settle(fields, own, wide, top, cells)
    dots = np.stack([np.flatnonzero(field >> 59) for field in fields])
    dots = np.stack([line[line >= fixed] for line in dots])
    rank = np.empty((n_inks, cells + fixed), np.int64)
    leaving = -np.diff(fixed_by[: first + 1][::-1])
    taken = known[:, : int(fixed_by[first])][:, ::-1]
    chosen = walk(fields, own, wide, top, -1, leaving, np.ascontiguousarray(taken))
    np.put_along_axis(rank, chosen, np.arange(first - 1, -1, -1)[None], axis=1)
    # Past one half the paper looks for the tightest cluster of empty cells. Energies of dots and of
    # empty cells add up to a constant, so that is the largest void again: one loop for both phases.
    edges = np.linspace(first, max(first, int(cells * _ALONE_SHARE)), _STEPS).astype(int).tolist()
    for part, (low, high) in enumerate(zip(edges, [*edges[1:], cells], strict=True)):
        if low == high:
            continue
        left = _STEPS - 1 - part
        cross = hill // _STEPS * left if left else hill[:0, :0]
        fields = fields_of(dots, int(fixed_by[low]), cross)
        coming = np.diff(fixed_by[low : high + 1])
        given = np.ascontiguousarray(known[:, int(fixed_by[low]) : int(fixed_by[high])])
        chosen = walk(fields, own, cross, top, 1, coming, given)
        np.put_along_axis(rank, chosen, np.arange(low, high)[None], axis=1)
        dots = np.concatenate([dots, chosen], axis=1)
    return rank[:, fixed:].reshape(n_inks, rows, columns)
