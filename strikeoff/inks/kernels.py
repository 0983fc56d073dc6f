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

    ``tables`` (inks, 65536) holds the laid-down amount for each code of channel ``source``; ``loads``
    weigh it. Pixels above ``limit`` lose ink that is not ``spared`` first, all in one proportion, then
    the spared; ``touched`` counts, by row, those that were more than ``slack`` above.
    """
    rows, width, _ = band.shape
    inks = source.shape[0]
    for r in range(rows):
        touched[r] = 0
        for x in range(width):
            yielding = 0
            firm = 0
            for j in range(inks):
                amount = tables[j, band[r, x, source[j]]]
                out[r, x, j] = amount
                if spared[j]:
                    firm += loads[j] * amount
                else:
                    yielding += loads[j] * amount
            if yielding + firm <= limit:
                continue
            if yielding + firm > limit + slack:
                touched[r] += 1
            room = max(0, limit - firm)
            for j in range(inks):
                if spared[j]:
                    if firm > limit:
                        out[r, x, j] = out[r, x, j] * limit // firm
                elif loads[j] > 0 and yielding > 0:
                    out[r, x, j] = out[r, x, j] * room // yielding
