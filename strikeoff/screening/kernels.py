"""Compiled inner loops of thresholding: samples line by line and ink by ink, drops packed."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from strikeoff.raster.kernels_vector import pack_32, pack_levels_32

#: Pixels compared at a time; columns of limits are a multiple of it.
STEP = 32


@njit(cache=True, nogil=True)
def threshold_packed(
    samples: NDArray[np.uint16],
    limits: NDArray[np.uint16],
    mask_rows: NDArray[np.int64],
    out: NDArray[np.uint8],
) -> None:
    """Compare samples (rows, inks, width) with limits (inks, 1, h, w) and pack eight drops to a byte.

    ``mask_rows`` gives the row of the limits for each row; ``out`` is (inks, rows, ceil(width / 8)).
    """
    rows, inks, width = samples.shape
    wide = limits.shape[3]
    whole = width // STEP
    rest = width - whole * STEP
    tail = np.zeros(STEP, np.uint16)
    tail_out = np.empty(STEP // 8, np.uint8)
    for r in range(rows):
        for c in range(inks):
            line, row, limit = samples[r, c], out[c, r], limits[c, 0, mask_rows[r]]
            x = 0
            for i in range(whole):
                pack_32(line, i * STEP, limit, x, row, i * (STEP // 8))
                x += STEP
                if x == wide:
                    x = 0
            if rest:
                for i in range(rest):
                    tail[i] = line[whole * STEP + i]
                pack_32(tail, 0, limit, x, tail_out, 0)
                for i in range(row.shape[0] - whole * (STEP // 8)):
                    row[whole * (STEP // 8) + i] = tail_out[i]


@njit(cache=True, nogil=True)
def levels_packed(
    samples: NDArray[np.uint16],
    limits: NDArray[np.uint16],
    mask_rows: NDArray[np.int64],
    out: NDArray[np.uint8],
) -> None:
    """Count the limits (inks, 3, h, w) below each sample and pack four counts to a byte.

    As ``threshold_packed``; ``out`` is (inks, rows, ceil(width / 4)).
    """
    rows, inks, width = samples.shape
    high, wide = limits.shape[2:]
    whole = width // STEP
    rest = width - whole * STEP
    tail = np.zeros(STEP, np.uint16)
    tail_out = np.empty(STEP // 4, np.uint8)
    for r in range(rows):
        for c in range(inks):
            line, row, limit = samples[r, c], out[c, r], limits[c].reshape(3 * high * wide)
            start = mask_rows[r] * wide
            x = 0
            for i in range(whole):
                pack_levels_32(line, i * STEP, limit, start + x, high * wide, row, i * (STEP // 4))
                x += STEP
                if x == wide:
                    x = 0
            if rest:
                for i in range(rest):
                    tail[i] = line[whole * STEP + i]
                pack_levels_32(tail, 0, limit, start + x, high * wide, tail_out, 0)
                for i in range(row.shape[0] - whole * (STEP // 4)):
                    row[whole * (STEP // 4) + i] = tail_out[i]


@njit(cache=True, nogil=True)
def levels_bytes(
    samples: NDArray[np.uint16],
    limits: NDArray[np.uint16],
    mask_rows: NDArray[np.int64],
    out: NDArray[np.uint8],
) -> None:
    """Count the limits (inks, levels, h, w) below each sample; ``out`` is (rows, inks, width)."""
    rows, inks, width = samples.shape
    wide = limits.shape[3]
    for r in range(rows):
        for c in range(inks):
            for level in range(limits.shape[1]):
                limit = limits[c, level, mask_rows[r]]
                for start in range(0, width, wide):
                    line = samples[r, c, start : min(width, start + wide)]
                    row = out[r, c, start : min(width, start + wide)]
                    if level == 0:
                        for x in range(line.shape[0]):
                            row[x] = line[x] > limit[x]
                    else:
                        for x in range(line.shape[0]):
                            row[x] += line[x] > limit[x]
