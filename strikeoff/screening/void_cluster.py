"""Void-and-cluster: the rank of every cell of a blue-noise mask, the same on every machine.

References
----------
R. A. Ulichney, The void-and-cluster method for dither array generation, Proc. SPIE 1913 (1993), 332-343.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Spread of the energy around a dot, by Ulichney. [px]
SIGMA_PX = 1.5
KERNEL_BITS = 24
_FULL = 65535


def gaussian_window(along: float = SIGMA_PX, across: float | None = None) -> NDArray[np.int64]:
    """Return the energy around a dot in whole units of 2**-24, out to where it is below half a unit.

    Whole numbers add up to the same sum in any order, so that the mask does not depend on the machine.

    Parameters
    ----------
    along, across : float
        Standard deviation down the rows and along a row; ``across`` is ``along`` by default. [px]
    """
    sigmas = (along, along if across is None else across)
    reach = [int(np.sqrt(2.0 * s * s * np.log(2.0 * (1 << KERNEL_BITS)))) + 1 for s in sigmas]
    squares = [(np.arange(-r, r + 1) / s) ** 2 for r, s in zip(reach, sigmas, strict=True)]
    energy = np.exp(-(squares[0][:, None] + squares[1][None, :]) / 2.0) * (1 << KERNEL_BITS)
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


def thresholds(rank: NDArray[np.int64]) -> NDArray[np.uint16]:
    """Return thresholds on the 16-bit ink scale: a drop falls where ink > threshold.

    Ink 0 gives no drop, 65535 all of them, and the share of drops follows the ink without bias.
    """
    return ((2 * rank + 1) * _FULL // (2 * rank.size)).astype(np.uint16)
