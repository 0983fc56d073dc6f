"""Compiled loops over pairs of recipes: the covariance and what its hyperparameters do to it."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from strikeoff.model.kernels import _decay

FloatArray = NDArray[np.float64]

_FAST = {"cache": True, "nogil": True, "fastmath": True, "error_model": "numpy"}


@njit(**_FAST)
def fill_covariance(
    a: FloatArray,
    b: FloatArray,
    scales: FloatArray,
    shares: FloatArray,
    single: FloatArray,
    fine: FloatArray,
    linear: float,
    lower: bool,
    out: FloatArray,
) -> None:
    """Fill ``out`` (m, n) with the covariance of recipes ``a`` (d, m) and ``b`` (d, n).

    ``shares`` (d,) makes the smooth part a product over inks, and is empty otherwise; ``single`` and
    ``fine`` hold variance and scale (ratio) of these parts; ``lower`` fills only the lower triangle,
    diagonal included.
    """
    count, m = a.shape
    columns = b.shape[1]
    narrow = np.sqrt(5.0 / 7.0) / fine[1]
    steps = np.sqrt(5.0) / single[1]
    s = np.empty(columns)
    rest = np.empty(columns)
    product = np.empty(columns)
    by_ink = len(shares) > 0
    for i in range(m):
        n = i + 1 if lower else columns
        for j in range(n):
            s[j] = 0.0
            rest[j] = linear
            product[j] = 1.0
        for k in range(count):
            at = a[k, i]
            per_scale = 1.0 / scales[k]
            for j in range(n):
                gap = (at - b[k, j]) * per_scale
                s[j] += gap * gap
                rest[j] += linear * at * b[k, j]
            if by_ink:
                steep = np.sqrt(7.0) * per_scale
                share = shares[k]
                for j in range(n):
                    q = steep * abs(at - b[k, j])
                    shape = (1.0 + q * (1.0 + q * (0.4 + q / 15.0))) * _decay(q)
                    product[j] *= 1.0 - share + share * shape
            if single[0] > 0.0:
                for j in range(n):
                    t = steps * abs(at - b[k, j])
                    rest[j] += single[0] * (1.0 + t * (1.0 + t / 3.0)) * _decay(t)
        for j in range(n):
            q = np.sqrt(7.0 * s[j])
            s[j] = q
        if by_ink:
            for j in range(n):
                rest[j] += product[j]
        else:
            for j in range(n):
                q = s[j]
                rest[j] += (1.0 + q * (1.0 + q * (0.4 + q / 15.0))) * _decay(q)
        if fine[0] > 0.0:
            for j in range(n):
                q = narrow * s[j]
                rest[j] += fine[0] * (1.0 + q * (1.0 + q / 3.0)) * _decay(q)
        for j in range(n):
            out[i, j] = rest[j]


@njit(**_FAST)
def covariance_slopes(
    x: FloatArray,
    scales: FloatArray,
    shares: FloatArray,
    single: FloatArray,
    fine: FloatArray,
    sensitivity: FloatArray,
    out: FloatArray,
) -> None:
    """Sum ``sensitivity`` (n, n) times the covariance's slopes over the logarithms of its parameters.

    ``out`` (2 d + 4,) gets scales, ink variances (none without ``shares``), single variance and scale,
    fine variance and ratio; ``x`` is (d, n). ``sensitivity`` is symmetric, so that pairs are counted
    once: only its lower triangle is read.
    """
    count, n = x.shape
    narrow = np.sqrt(5.0 / 7.0) / fine[1]
    steps = np.sqrt(5.0) / single[1]
    s = np.empty(n)
    weight = np.empty(n)
    product = np.empty(n)
    factors = np.empty((count, n))
    shapes = np.empty((count, n))
    pulls = np.empty((count, n))
    by_ink = len(shares) > 0
    base = 2 * count
    out[:] = 0.0
    for i in range(n):
        for j in range(i + 1):
            s[j] = 0.0
            product[j] = 1.0
            weight[j] = 2.0 * sensitivity[i, j]
        weight[i] *= 0.5
        for k in range(count):
            at = x[k, i]
            per_scale = 1.0 / scales[k]
            alike = 0.0
            steep = 0.0
            for j in range(i + 1):
                gap = abs(at - x[k, j])
                s[j] += gap * gap * per_scale * per_scale
                t = steps * gap
                share = weight[j] * _decay(t)
                alike += share * (1.0 + t * (1.0 + t / 3.0))
                steep += share * t * t * (1.0 + t)
            out[base] += single[0] * alike
            out[base + 1] += single[0] * steep / 3.0
            if by_ink:
                share_k = shares[k]
                for j in range(i + 1):
                    q = np.sqrt(7.0) * per_scale * abs(at - x[k, j])
                    e = _decay(q)
                    shapes[k, j] = (1.0 + q * (1.0 + q * (0.4 + q / 15.0))) * e
                    pulls[k, j] = share_k * q * q / 15.0 * (3.0 + q * (3.0 + q)) * e
                    factors[k, j] = 1.0 - share_k + share_k * shapes[k, j]
                    product[j] *= factors[k, j]
        level = 0.0
        narrowing = 0.0
        for j in range(i + 1):
            q = np.sqrt(7.0 * s[j])
            r = narrow * q
            share = weight[j] * fine[0] * _decay(r)
            level += share * (1.0 + r * (1.0 + r / 3.0))
            narrowing += share * r * r * (1.0 + r)
            pull = 0.0 if by_ink else weight[j] * 7.0 / 15.0 * (3.0 + q * (3.0 + q)) * _decay(q)
            s[j] = pull + share * (1.0 + r) * 5.0 / (3.0 * fine[1] * fine[1])
        out[base + 2] += level
        out[base + 3] += narrowing / 3.0
        if by_ink:
            for k in range(count):
                drawn = 0.0
                shared = 0.0
                for j in range(i + 1):
                    others = weight[j] * product[j] / factors[k, j]
                    drawn += others * pulls[k, j]
                    shared += others * (shapes[k, j] - 1.0)
                out[k] += drawn
                out[count + k] += shares[k] * (1.0 - shares[k]) * shared
        for k in range(count):
            at = x[k, i]
            total = 0.0
            for j in range(i + 1):
                gap = at - x[k, j]
                total += s[j] * gap * gap
            out[k] += total / (scales[k] * scales[k])
