"""Differences between patches and their aims, and statistics over patches."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.colour.difference import delta_e_1976, delta_e_2000, delta_e_cmc

FloatArray = NDArray[np.float64]


def delta_ch(aim: ArrayLike, sample: ArrayLike) -> FloatArray:
    """Return the distance in the a*b* plane, by which composed greys are judged.

    Parameters
    ----------
    aim, sample : array_like, shape (..., 3)
        L*, a*, b*.

    Returns
    -------
    ndarray, shape (...)

    Notes
    -----
    sqrt(da*^2 + db*^2), as used with ISO 12647-7 (from memory).

    Examples
    --------
    >>> float(delta_ch([50, 0, 0], [60, 3, -4]))
    5.0
    """
    gap = np.asarray(sample, dtype=np.float64) - np.asarray(aim, dtype=np.float64)
    return np.asarray(np.hypot(gap[..., 1], gap[..., 2]), dtype=np.float64)


def delta_l(aim: ArrayLike, sample: ArrayLike) -> FloatArray:
    """Return the size of the difference in lightness."""
    gap = np.asarray(sample, dtype=np.float64) - np.asarray(aim, dtype=np.float64)
    return np.asarray(np.abs(gap[..., 0]), dtype=np.float64)


#: Name in a tolerance set to the function of aim and sample.
FORMULAE: dict[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
    "de2000": delta_e_2000,
    "cmc": delta_e_cmc,
    "de1976": delta_e_1976,
    "delta_ch": delta_ch,
    "delta_l": delta_l,
}

#: How each formula is written for people.
FORMULA_LABELS: dict[str, str] = {
    "de2000": "CIEDE2000",
    "cmc": "CMC(2:1)",
    "de1976": "ΔE*ab (1976)",
    "delta_ch": "ΔCh",
    "delta_l": "|ΔL*|",
}


def percentile_rank(n: int, share: float = 0.95) -> int:
    """Return which of n sorted values, counted from 1, is the percentile: ceil(share n).

    Examples
    --------
    >>> percentile_rank(72), percentile_rank(20), percentile_rank(1)
    (69, 19, 1)
    """
    # 0.95 x 20 is 19.000000000000004 on some paths; a hair must not cost a rank.
    return max(1, math.ceil(share * n - 1e-9))


def _percentile_95(values: FloatArray) -> FloatArray:
    rank = percentile_rank(values.shape[-1])
    return np.asarray(np.partition(values, rank - 1, axis=-1)[..., rank - 1], dtype=np.float64)


def _mean(values: FloatArray) -> FloatArray:
    return np.asarray(values.mean(axis=-1), dtype=np.float64)


def _max(values: FloatArray) -> FloatArray:
    return np.asarray(values.max(axis=-1), dtype=np.float64)


#: Statistics over the last axis.
STATISTICS: dict[str, Callable[[FloatArray], FloatArray]] = {
    "mean": _mean,
    "percentile-95": _percentile_95,
    "max": _max,
}
