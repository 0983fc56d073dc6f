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
    """Turn calibrated ink (rows, width, channels) into laid-down ink (rows, width, inks) under the total.

    ``tables`` (inks, 65536) holds the laid-down amount for each code of channel ``source``, or is (0, 0)
    where all inks are laid down as they are; ``loads`` weigh it. Pixels above ``limit`` lose ink that is
    not ``spared`` first, all in one proportion, then the spared; ``touched`` counts, by row, those that
    were more than ``slack`` above.
    """
    rows, width, _ = band.shape
    inks = source.shape[0]
    totals = np.empty(width, np.int64)
    # One ink after the other: each inner loop is short enough for the compiler to do several at once.
    for r in range(rows):
        line, made = band[r], out[r]
        if tables.shape[0] > 0:
            for j in range(inks):
                table, channel = tables[j], source[j]
                for x in range(width):
                    made[x, j] = table[line[x, channel]]
        else:
            flat, target = line.reshape(width * inks), made.reshape(width * inks)
            for i in range(width * inks):
                target[i] = flat[i]
        totals[:] = 0
        for j in range(inks):
            load = loads[j]
            for x in range(width):
                totals[x] += load * made[x, j]
        count = 0
        for x in range(width):
            if totals[x] > limit:
                if totals[x] > limit + slack:
                    count += 1
                _hold(made[x], loads, spared, limit)
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
