"""Compiled sums over centres of a kernel whose smooth part is a product over inks."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from strikeoff.model.kernels import _decay

FloatArray = NDArray[np.float64]

_BLOCK = 256
_FAST = {"cache": True, "nogil": True, "fastmath": True, "error_model": "numpy"}


@njit(**_FAST)
def product_sums(
    x: FloatArray,
    centres: FloatArray,
    weights: FloatArray,
    shares: FloatArray,
    fine: FloatArray,
    slopes: bool,
    value: FloatArray,
    slope: FloatArray,
) -> None:
    """Sum the smooth and the fine part of the kernel over centres, with slopes on request.

    As `matern_sums`, with the share (d,) of each ink in its factor.
    """
    count, n = centres.shape
    outputs = weights.shape[0]
    product = np.empty(_BLOCK)
    shape = np.empty(_BLOCK)
    square = np.empty(_BLOCK)
    fall = np.empty(_BLOCK)
    factors = np.empty((count, _BLOCK))
    falls = np.empty((count, _BLOCK))
    narrow = np.sqrt(5.0) / fine[1]
    steep = fine[0] * 5.0 / (3.0 * fine[1] * fine[1])
    for i in range(x.shape[0]):
        for o in range(outputs):
            value[i, o] = 0.0
            for k in range(count):
                slope[i, o, k] = 0.0
        for start in range(0, n, _BLOCK):
            size = min(_BLOCK, n - start)
            for j in range(size):
                product[j] = 1.0
                square[j] = 0.0
                fall[j] = 0.0
            for k in range(count):
                at = x[i, k]
                share = shares[k]
                row = centres[k, start : start + size]
                for j in range(size):
                    gap = at - row[j]
                    q = np.sqrt(7.0) * abs(gap)
                    e = share * _decay(q)
                    factor = 1.0 - share + e * (1.0 + q * (1.0 + q * (0.4 + q / 15.0)))
                    factors[k, j] = factor
                    falls[k, j] = -7.0 / 15.0 * e * (3.0 + q * (3.0 + q)) * gap
                    product[j] *= factor
                    square[j] += gap * gap
            for j in range(size):
                shape[j] = product[j]
            if fine[0] > 0.0:
                for j in range(size):
                    q = narrow * np.sqrt(square[j])
                    e = _decay(q)
                    shape[j] += fine[0] * e * (1.0 + q * (1.0 + q / 3.0))
                    fall[j] = -steep * e * (1.0 + q)
            for o in range(outputs):
                own = weights[o, start : start + size]
                total = 0.0
                for j in range(size):
                    total += own[j] * shape[j]
                value[i, o] += total
            if slopes:
                for k in range(count):
                    at = x[i, k]
                    row = centres[k, start : start + size]
                    for j in range(size):
                        shape[j] = product[j] / factors[k, j] * falls[k, j] + fall[j] * (at - row[j])
                    for o in range(outputs):
                        own = weights[o, start : start + size]
                        total = 0.0
                        for j in range(size):
                            total += own[j] * shape[j]
                        slope[i, o, k] += total
