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


@njit(cache=True, nogil=True)
def _filter_down(
    lines: NDArray[np.uint16], weights: NDArray[np.float32], total: NDArray[np.float32]
) -> None:
    """Weigh some source rows into one."""
    if weights.shape[0] == 4:
        w0, w1, w2, w3 = weights[0], weights[1], weights[2], weights[3]
        a, b, c, d = lines[0], lines[1], lines[2], lines[3]
        for m in range(total.shape[0]):
            total[m] = (
                w0 * np.float32(a[m]) + w1 * np.float32(b[m]) + w2 * np.float32(c[m]) + w3 * np.float32(d[m])
            )
        return
    total[:] = 0
    for k in range(weights.shape[0]):
        weight = weights[k]
        line = lines[k]
        for m in range(total.shape[0]):
            total[m] += weight * np.float32(line[m])


@njit(cache=True, nogil=True)
def _filter_across(
    between: NDArray[np.float32],
    start: NDArray[np.int64],
    weights: NDArray[np.float32],
    caps: NDArray[np.float32],
    out: NDArray[np.uint16],
) -> None:
    """Weigh places (places, LANES) into pixels, stored lane by lane in ``out`` (LANES, pixels)."""
    pixels = start.shape[0]
    if weights.shape[1] == 4:
        flat, flat_weights, target = between.reshape(-1), weights.reshape(-1), out.reshape(-1)
        for x in range(0, pixels, LANES):
            cubic_8x8(flat, start, flat_weights, x, caps, target, pixels)
        return
    total = np.empty(LANES, np.float32)
    for x in range(pixels):
        total[:] = 0
        for k in range(weights.shape[1]):
            weight = weights[x, k]
            line = between[start[x] + k]
            for m in range(LANES):
                total[m] += weight * line[m]
        for m in range(LANES):
            out[m, x] = np.uint16(min(max(total[m], np.float32(0)), caps[m]) + np.float32(0.5))


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
    """Filter along columns, then along rows; ``out`` is (rows, channels, width).

    ``source`` (rows, width, channels) holds the rows from the first that ``row_start`` counts from;
    ``column_index`` gives the source column of each place that ``column_start`` counts in. The latter and
    its weights go on to a multiple of LANES pixels, ``caps`` to a multiple of LANES channels. Results
    are held between 0 and ``caps``, their sum below ``total_cap``.
    """
    rows, channels, width = out.shape
    taps = row_weights.shape[1]
    lines = source.reshape(source.shape[0], source.shape[1] * channels)
    # Lanes beyond the channels carry what stands beside; they go on past the last place.
    total = np.zeros(lines.shape[1] + LANES, np.float32)
    between = np.empty((column_index.shape[0], LANES), np.float32)
    made = np.empty((LANES, column_start.shape[0]), np.uint16)
    heavy = np.empty(width, np.int32)
    for y in range(rows):
        _filter_down(lines[row_start[y] : row_start[y] + taps], row_weights[y], total[: lines.shape[1]])
        for first in range(0, channels, LANES):
            count = min(LANES, channels - first)
            for p in range(column_index.shape[0]):
                x = column_index[p] * channels + first
                for c in range(LANES):
                    between[p, c] = total[x + c]
            _filter_across(between, column_start, column_weights, caps[first : first + LANES], made)
            for c in range(count):
                target, found = out[y, first + c], made[c]
                for x in range(width):
                    target[x] = found[x]
        _hold(out[y], heavy, total_cap)
