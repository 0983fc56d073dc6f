"""Compiled inner loops of the periodic resampling.

Single-precision sums in a fixed order, without fused operations: the same bytes on every machine, far
within one 16-bit code of the definition.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from strikeoff.raster.kernels_vector import cubic_8x8

#: Channels weighed together, and pixels stored together.
LANES = 8
# Pixels of a row worked on before the next row: their lines stay in the cache.
# Not a power of two: lanes would all fall into the same place of the cache.
_BLOCK = 1000
# Pixels held in all lines together, where many are weighed into one.
_HELD = 1 << 17


@njit(cache=True, nogil=True)
def _hold(line: NDArray[np.uint16], heavy: NDArray[np.int32], total_cap: int) -> None:
    """Scale pixels of a row (channels, width) down in one proportion where their sum is over the cap."""
    channels, width = line.shape
    heavy[:] = 0
    for c in range(channels):
        for x in range(width):
            heavy[x] += np.int32(line[c, x])
    most = np.int32(0)
    for x in range(width):
        most = max(most, heavy[x])
    if most > total_cap:
        for x in range(width):
            if heavy[x] > total_cap:
                for c in range(channels):
                    line[c, x] = np.int64(line[c, x]) * total_cap // np.int64(heavy[x])


@njit(cache=True, nogil=True)
def _across(
    line: NDArray[np.uint16],
    first: int,
    column_index: NDArray[np.int64],
    start: NDArray[np.int64],
    weights: NDArray[np.float32],
    between: NDArray[np.float32],
    out: NDArray[np.float32],
) -> None:
    """Weigh places of a source line (width * channels) into pixels, lane by lane in ``out`` (LANES, pixels).

    ``first`` is the first channel; ``start`` counts from the first of ``column_index``. Lanes beyond the
    channels carry what stands beside.
    """
    channels, count = column_index[0], column_index.shape[0] - 1
    for p in range(count):
        x = column_index[p + 1] * channels + first
        if x + LANES <= line.shape[0]:
            for c in range(LANES):
                between[p, c] = line[x + c]
        else:
            for c in range(line.shape[0] - x):
                between[p, c] = line[x + c]
    pixels = start.shape[0]
    if weights.shape[1] == 4:
        flat, flat_weights, target = between.reshape(-1), weights.reshape(-1), out.reshape(-1)
        for x in range(0, pixels, LANES):
            cubic_8x8(flat, start, flat_weights, x, target, out.shape[1], x)
        return
    total = np.empty(LANES, np.float32)
    for x in range(pixels):
        total[:] = 0
        for k in range(weights.shape[1]):
            weight = weights[x, k]
            place = between[start[x] + k]
            for m in range(LANES):
                total[m] += weight * place[m]
        for m in range(LANES):
            out[m, x] = total[m]


@njit(cache=True, nogil=True)
def _down(
    lines: NDArray[np.float32],
    ring: int,
    lane: int,
    weights: NDArray[np.float32],
    cap: np.float32,
    total: NDArray[np.float32],
    out: NDArray[np.uint16],
) -> None:
    """Weigh one lane of lines (places, LANES, pixels), the first of them at ``ring``, into a row."""
    places = lines.shape[0]
    zero, half = np.float32(0), np.float32(0.5)
    if weights.shape[0] == 4:
        w0, w1, w2, w3 = weights[0], weights[1], weights[2], weights[3]
        a, b = lines[ring, lane], lines[(ring + 1) % places, lane]
        c, d = lines[(ring + 2) % places, lane], lines[(ring + 3) % places, lane]
        for x in range(out.shape[0]):
            value = w0 * a[x] + w1 * b[x] + w2 * c[x] + w3 * d[x]
            out[x] = np.uint16(min(max(value, zero), cap) + half)
        return
    total[:] = 0
    for k in range(weights.shape[0]):
        weight = weights[k]
        line = lines[(ring + k) % places, lane]
        for x in range(out.shape[0]):
            total[x] += weight * line[x]
    for x in range(out.shape[0]):
        out[x] = np.uint16(min(max(total[x], zero), cap) + half)


@njit(cache=True, nogil=True)
def resample_rows(
    source: NDArray[np.uint16],
    row_start: NDArray[np.int64],
    row_weights: NDArray[np.float32],
    column_index: NDArray[np.int64],
    column_start: NDArray[np.int64],
    column_weights: NDArray[np.float32],
    caps: NDArray[np.float32],
    total_cap: int,
    out: NDArray[np.uint16],
) -> Any:
    """Filter source rows along, then the lines made down the columns; ``out`` is (rows, channels, width).

    ``source`` (rows, width, channels) holds the rows from the first that ``row_start`` counts from;
    ``column_index`` gives the source column of each place that ``column_start`` counts in. The latter and
    its weights go on to a multiple of LANES pixels, ``caps`` to a multiple of LANES channels. Results
    are held between 0 and ``caps``, their sum below ``total_cap``.
    """
    rows, channels, width = out.shape
    taps, reach = row_weights.shape[1], column_weights.shape[1]
    flat = source.reshape(source.shape[0], source.shape[1] * channels)
    pixels = column_start.shape[0]
    block = max(LANES, min(_BLOCK, _HELD // taps // LANES * LANES))
    lines = np.empty((taps, LANES, min(block, pixels)), np.float32)
    total = np.empty(lines.shape[2], np.float32)
    between = np.zeros((column_index.shape[0], LANES), np.float32)
    for left in range(0, width, block):
        right = min(left + block, pixels)
        seen = min(right, width) - left
        low, high = column_start[left], column_start[right - 1] + reach
        # Starts rise with the pixels: a block touches a run of places.
        starts = column_start[left:right] - low
        index = np.empty(high - low + 1, np.int64)
        index[0] = channels
        index[1:] = column_index[low:high]
        for first in range(0, channels, LANES):
            made = row_start[0]
            for y in range(rows):
                top = row_start[y]
                while made < top + taps:
                    _across(
                        flat[made], first, index, starts, column_weights[left:right], between,
                        lines[made % taps],
                    )  # fmt: skip
                    made += 1
                for c in range(min(LANES, channels - first)):
                    target = out[y, first + c, left : left + seen]
                    _down(lines, top % taps, c, row_weights[y], caps[first + c], total[:seen], target)
    if caps[:channels].sum() > total_cap:
        heavy = np.empty(width, np.int32)
        for y in range(rows):
            _hold(out[y], heavy, total_cap)
