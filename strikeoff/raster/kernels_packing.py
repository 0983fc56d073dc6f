"""Compiled inner loop of run-length packing."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

_MOST = 128


@njit(cache=True, nogil=True)
def pack_runs(line: NDArray[np.uint8], out: NDArray[np.uint8]) -> int:
    """Pack pixels (pixels, bytes) as runs of equal and of different ones; return the bytes written.

    A byte n up to 127 says that the next pixel stands n + 1 times; one above 128, that 257 - n pixels
    follow. ``out`` needs room for every pixel and a byte more for each.
    """
    pixels, size = line.shape
    written = 0
    x = 0
    while x < pixels:
        end = x + 1
        while end < pixels and end - x < _MOST and _same(line, x, end):
            end += 1
        if end - x > 1 or end == pixels:
            out[written] = end - x - 1
            count = 1
        else:
            while end < pixels and end - x < _MOST and not (end + 1 < pixels and _same(line, end, end + 1)):
                end += 1
            count = end - x
            out[written] = 257 - count if count > 1 else 0
        written += 1
        for i in range(x, x + count):
            for b in range(size):
                out[written + b] = line[i, b]
            written += size
        x = end
    return written


@njit(cache=True, nogil=True)
def _same(line: NDArray[np.uint8], a: int, b: int) -> bool:
    different = 0
    for i in range(line.shape[1]):
        different |= line[a, i] ^ line[b, i]
    return different == 0
