"""Blue-noise threshold masks by void-and-cluster, the same on every machine.

References
----------
R. A. Ulichney, The void-and-cluster method for dither array generation, Proc. SPIE 1913 (1993), 332-343.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError

SIGMA_PX = 1.5
_KERNEL_BITS = 24
_FIRST_SHARE = 0.1
_FULL = 65535


def gaussian_window(sigma: float = SIGMA_PX) -> NDArray[np.int64]:
    """Return the energy around a dot in whole units of 2**-24, out to where it is below half a unit.

    Whole numbers add up to the same sum in any order, so that the mask does not depend on the machine.
    """
    reach = int(np.sqrt(2.0 * sigma * sigma * np.log(2.0 * (1 << _KERNEL_BITS)))) + 1
    offset = np.arange(-reach, reach + 1)
    square = (offset * offset)[:, None] + (offset * offset)[None, :]
    energy = np.exp(-square / (2.0 * sigma * sigma)) * (1 << _KERNEL_BITS)
    return np.asarray(np.rint(energy), dtype=np.int64)


def shuffled(count: int, seed: int) -> NDArray[np.int64]:
    """Return 0..count-1 in an order that depends on nothing but the seed.

    Cells are sorted by the splitmix64 hash of their number; library generators may change
    their streams between versions, and a mask must not.

    Examples
    --------
    >>> shuffled(5, 1).tolist() == shuffled(5, 1).tolist(), sorted(shuffled(5, 2).tolist())
    (True, [0, 1, 2, 3, 4])
    """
    state = np.arange(1, count + 1, dtype=np.uint64) + np.uint64(seed) * np.uint64(0x100000001)
    value = state * np.uint64(0x9E3779B97F4A7C15)
    value = (value ^ (value >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    value = (value ^ (value >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.argsort(value ^ (value >> np.uint64(31)), kind="stable").astype(np.int64)


def void_cluster_1993(rows: int, columns: int, seed: int) -> NDArray[np.int64]:
    """Return the rank, 0 to rows x columns - 1, of every cell of a blue-noise mask.

    Parameters
    ----------
    rows, columns : int
        Size of the mask, which tiles without a seam. At least 8. [px]
    seed : int
        0 to 2**31. Different seeds give masks that have nothing to do with each other.

    Returns
    -------
    ndarray, shape (rows, columns)
        Every rank once.
    """
    from strikeoff.screening.kernels import move_dots, place_dots

    if min(rows, columns) < 8:
        raise UsageError("mask is too small", found=f"{columns} x {rows}", expected="8 x 8 or more")
    cells = rows * columns
    # Energies are spread so that the tie-break, a different number in every cell, fits below one unit.
    order = shuffled(cells, seed)
    energy = np.empty((rows, columns), np.int64)
    energy.flat[order] = np.arange(cells)
    window = gaussian_window() * (1 << (cells - 1).bit_length())
    dots = max(1, int(cells * _FIRST_SHARE))
    place_dots(energy, window, order[:dots])
    while move_dots(energy, window, 1, -1)[0] != move_dots(energy, window, 1, 1)[0]:
        pass
    rank = np.empty(cells, np.int64)
    rank[move_dots(energy.copy(), window, dots, -1)] = np.arange(dots - 1, -1, -1)
    # Past one half the paper looks for the tightest cluster of empty cells. Energies of dots and of
    # empty cells add up to a constant, so that is the largest void again: one loop for both phases.
    rank[move_dots(energy, window, cells - dots, 1)] = np.arange(dots, cells)
    return rank.reshape(rows, columns)


def thresholds(rank: NDArray[np.int64]) -> NDArray[np.uint16]:
    """Return thresholds on the 16-bit ink scale: a drop falls where ink > threshold.

    Ink 0 gives no drop, 65535 all of them, and the share of drops follows the ink without bias.
    """
    return ((2 * rank + 1) * _FULL // (2 * rank.size)).astype(np.uint16)


def mask_rows(period_rows: int, size: int = 128) -> int:
    """Return the height of mask, near ``size``, that goes into a period of the roll without remainder.

    Then drops repeat as the planes do, and a long roll costs no more than one period. Between
    three quarters and one and a half of ``size``; where no such height exists, ``size`` itself.

    Examples
    --------
    >>> mask_rows(7874), mask_rows(16000), mask_rows(15998), mask_rows(0)
    (127, 128, 128, 128)
    """
    heights = [h for h in range(size * 3 // 4, size * 3 // 2 + 1) if period_rows and period_rows % h == 0]
    return min(heights, key=lambda h: abs(h - size), default=size)


@lru_cache(maxsize=4)
def ink_masks(n_inks: int, size: int = 128, rows: int | None = None) -> NDArray[np.uint16]:
    """Return one threshold mask per ink, from different seeds.

    Parameters
    ----------
    n_inks : int
        Number of inks, 1 or more.
    size : int
        Columns, and rows unless given; 128 gives 16,384 thresholds. [px]
    rows : int, optional
        Rows; see ``mask_rows``. [px]

    Returns
    -------
    ndarray, shape (n_inks, rows, size)
        Thresholds, uint16, read-only.
    """
    high = rows or size
    masks = np.stack([thresholds(void_cluster_1993(high, size, seed)) for seed in range(1, n_inks + 1)])
    masks.setflags(write=False)
    return masks
