"""Undoing the filters of PNG rows."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True, nogil=True)
def unfilter(rows: NDArray[np.uint8], above: NDArray[np.uint8], step: int, out: NDArray[np.uint8]) -> int:
    """Undo the filters of some rows; return the first row whose filter is unknown, or -1.

    Parameters
    ----------
    rows : ndarray of uint8, shape (n, 1 + row_bytes)
        Filter number, then bytes.
    above : ndarray of uint8, shape (row_bytes,)
        The row before them, zeros before the first.
    step : int
        Bytes of a pixel.
    out : ndarray of uint8, shape (n, row_bytes)
        Filled.

    References
    ----------
    W3C, Portable Network Graphics (PNG) Specification (Third Edition), clause 9.
    """
    count, size = out.shape
    for y in range(count):
        kind = rows[y, 0]
        if kind > 4:
            return y
        for x in range(size):
            value = np.int64(rows[y, x + 1])
            left = np.int64(out[y, x - step]) if x >= step else np.int64(0)
            up = np.int64(out[y - 1, x]) if y > 0 else np.int64(above[x])
            if kind == 1:
                value += left
            elif kind == 2:
                value += up
            elif kind == 3:
                value += (left + up) >> 1
            elif kind == 4:
                corner = np.int64(0)
                if x >= step:
                    corner = np.int64(out[y - 1, x - step]) if y > 0 else np.int64(above[x - step])
                guess = left + up - corner
                to_left, to_up, to_corner = abs(guess - left), abs(guess - up), abs(guess - corner)
                if to_left <= to_up and to_left <= to_corner:
                    value += left
                elif to_up <= to_corner:
                    value += up
                else:
                    value += corner
            out[y, x] = np.uint8(value & 255)
    return -1
