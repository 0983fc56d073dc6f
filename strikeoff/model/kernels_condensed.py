"""Compiled loop of the condensed model. Its plain counterpart is the area-coverage model itself."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@njit(cache=True, nogil=True)
def neugebauer_roots(
    inks: FloatArray, curves: FloatArray, overprints: FloatArray, value: FloatArray, slope: FloatArray
) -> None:
    """Mix overprints by Demichel's weights, with slopes.

    ``inks`` is (m, d); ``curves`` (d, degree + 1) are polynomials of coverage in ink, lowest power
    first; ``overprints`` is (2 ** d, n_outputs), bit k of the row for ink k; ``value`` (m, n_outputs)
    and ``slope`` (m, n_outputs, d) are filled.
    """
    count = inks.shape[1]
    outputs = overprints.shape[1]
    powers = curves.shape[1]
    half = overprints.shape[0] // 2
    # Folding one ink after another, the highest bit first: the value, then the slopes of those folded.
    sums = np.empty((half, count + 1, outputs))
    coverage = np.empty(count)
    steepness = np.empty(count)
    for i in range(inks.shape[0]):
        for k in range(count):
            total = 0.0
            rise = 0.0
            for p in range(powers - 1, -1, -1):
                rise = rise * inks[i, k] + total
                total = total * inks[i, k] + curves[k, p]
            coverage[k] = total
            steepness[k] = rise
        share = coverage[count - 1]
        for row in range(half):
            for o in range(outputs):
                gap = overprints[half + row, o] - overprints[row, o]
                sums[row, 0, o] = overprints[row, o] + share * gap
                sums[row, 1, o] = gap
        left = half
        for k in range(count - 2, -1, -1):
            left //= 2
            share = coverage[k]
            folded = count - 1 - k
            for row in range(left):
                for o in range(outputs):
                    gap = sums[left + row, 0, o] - sums[row, 0, o]
                    for part in range(folded + 1):
                        low = sums[row, part, o]
                        sums[row, part, o] = low + share * (sums[left + row, part, o] - low)
                    sums[row, folded + 1, o] = gap
        for o in range(outputs):
            value[i, o] = sums[0, 0, o]
            for k in range(count):
                slope[i, o, k] = sums[0, count - k, o] * steepness[k]
