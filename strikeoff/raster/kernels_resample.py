"""Compiled inner loops of the periodic resampling. Integers only: the same bytes on every machine."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

WEIGHT_BITS = 24
GUARD_BITS = 8
_FIRST_SHIFT = WEIGHT_BITS - GUARD_BITS
_LAST_SHIFT = WEIGHT_BITS + GUARD_BITS
_FIRST_HALF = 1 << (_FIRST_SHIFT - 1)
_LAST_HALF = 1 << (_LAST_SHIFT - 1)


@njit(cache=True, nogil=True)
def _filter_down(
    lines: NDArray[np.uint16],
    weights: NDArray[np.int32],
    column_index: NDArray[np.int64],
    channels: int,
    lane: int,
    total: NDArray[np.int64],
    between: NDArray[np.int32],
) -> None:
    """Weigh some source rows into one row, kept with GUARD_BITS below the unit, in lanes of ``between``."""
    total[:] = _FIRST_HALF
    for k in range(weights.shape[0]):
        weight = np.int64(weights[k])
        line = lines[k]
        for m in range(total.shape[0]):
            total[m] += weight * np.int64(line[m])
    for p in range(column_index.shape[0]):
        x = column_index[p] * channels
        for c in range(channels):
            between[p, lane + c] = total[x + c] >> _FIRST_SHIFT


@njit(cache=True, nogil=True)
def _filter_across(
    between: NDArray[np.int32],
    start: NDArray[np.int64],
    weights: NDArray[np.int32],
    total: NDArray[np.int64],
    caps: NDArray[np.int64],
    total_cap: int,
    out: NDArray[np.uint16],
) -> None:
    """Weigh places of ``between`` into pixels; a lane is one channel of one row of the block."""
    rows, width, channels = out.shape
    lanes = total.shape[0]
    for x in range(width):
        first = start[x]
        weight = np.int64(weights[x, 0])
        line = between[first]
        for m in range(lanes):
            total[m] = weight * line[m] + _LAST_HALF
        for k in range(1, weights.shape[1]):
            weight = np.int64(weights[x, k])
            line = between[first + k]
            for m in range(lanes):
                total[m] += weight * line[m]
        for r in range(rows):
            heavy = np.int64(0)
            for c in range(channels):
                value = min(max(total[r * channels + c] >> _LAST_SHIFT, 0), caps[c])
                heavy += value
                out[r, x, c] = value
            if heavy > total_cap:
                for c in range(channels):
                    out[r, x, c] = np.int64(out[r, x, c]) * total_cap // heavy


@njit(cache=True, nogil=True)
def resample_rows(
    source: NDArray[np.uint16],
    row_start: NDArray[np.int64],
    row_weights: NDArray[np.int32],
    column_index: NDArray[np.int64],
    column_start: NDArray[np.int64],
    column_weights: NDArray[np.int32],
    block: int,
    caps: NDArray[np.int64],
    total_cap: int,
    out: NDArray[np.uint16],
) -> Any:
    """Filter along columns, then along rows, ``block`` output rows at a time.

    ``source`` (rows, width, channels) holds the rows from the first that ``row_start`` counts from;
    ``column_index`` gives the source column of each place that ``column_start`` counts in.
    Results are held between 0 and ``caps`` (channels,), their sum below ``total_cap``.
    """
    rows, _, channels = out.shape
    taps = row_weights.shape[1]
    lines = source.reshape(source.shape[0], source.shape[1] * channels)
    line_total = np.empty(lines.shape[1], np.int64)
    between = np.empty((column_index.shape[0], block * channels), np.int32)
    total = np.empty(block * channels, np.int64)
    for y0 in range(0, rows, block):
        count = min(block, rows - y0)
        for r in range(count):
            y = y0 + r
            piece = lines[row_start[y] : row_start[y] + taps]
            _filter_down(piece, row_weights[y], column_index, channels, r * channels, line_total, between)
        target = out[y0 : y0 + count]
        lanes = total[: count * channels]
        _filter_across(between, column_start, column_weights, lanes, caps, total_cap, target)
