"""Compiled inner loop between composing and screening: curves, split and the ink guard."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True, nogil=True)
def lay_down(
    band: NDArray[np.uint16],
    source: NDArray[np.int64],
    tables: NDArray[np.uint16],
    loads: NDArray[np.int64],
    spared: NDArray[np.bool_],
    limit: int,
    slack: int,
    out: NDArray[np.uint16],
    touched: NDArray[np.int64],
) -> None:
    """Turn calibrated ink (rows, channels, width) into laid-down ink (rows, inks, width) under the total.

    ``tables`` (inks, 65536) holds the laid-down amount for each code of channel ``source``, or is (0, 0)
    where all inks are laid down as they are; ``loads`` weigh it. Pixels above ``limit`` lose ink that is
    not ``spared`` first, all in one proportion, then the spared; ``touched`` counts, by row, those that
    were more than ``slack`` above.
    """
    rows, _, width = band.shape
    inks = source.shape[0]
    rough = np.empty(width, np.float32)
    # Single precision is wrong by less than this part; nearer to the limit whole numbers decide.
    near = np.float32(limit * (1.0 - 1e-5))
    for r in range(rows):
        line, made = band[r], out[r]
        for j in range(inks):
            found, target = line[source[j]], made[j]
            if tables.shape[0] > 0:
                table = tables[j]
                for x in range(width):
                    target[x] = table[found[x]]
            else:
                for x in range(width):
                    target[x] = found[x]
        rough[:] = 0
        for j in range(inks):
            load, target = np.float32(loads[j]), made[j]
            for x in range(width):
                rough[x] += load * np.float32(target[x])
        most = np.float32(0)
        for x in range(width):
            most = max(most, rough[x])
        count = 0
        if most > near:
            for x in range(width):
                if rough[x] > near:
                    total = 0
                    for j in range(inks):
                        total += loads[j] * made[j, x]
                    if total > limit:
                        if total > limit + slack:
                            count += 1
                        _hold(made[:, x], loads, spared, limit)
        touched[r] = count


@njit(cache=True, nogil=True)
def _hold(pixel: NDArray[np.uint16], loads: NDArray[np.int64], spared: NDArray[np.bool_], limit: int) -> None:
    """Bring one pixel under the limit."""
    yielding = 0
    firm = 0
    for j in range(pixel.shape[0]):
        if spared[j]:
            firm += loads[j] * pixel[j]
        else:
            yielding += loads[j] * pixel[j]
    room = max(0, limit - firm)
    for j in range(pixel.shape[0]):
        if spared[j]:
            if firm > limit:
                pixel[j] = pixel[j] * limit // firm
        elif loads[j] > 0 and yielding > 0:
            pixel[j] = pixel[j] * room // yielding
