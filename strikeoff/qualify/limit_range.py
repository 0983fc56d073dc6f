"""How far the noise of readings leaves the limit of an ink open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.qualify.limits import LimitRule, find_limit
from strikeoff.qualify.ramps import Ramp
from strikeoff.qualify.smoothing import smooth_curve

FloatArray = NDArray[np.float64]

_PRINTS, _SEED = 60, 5
_TAILS = (5.0, 95.0)


def limit_range(
    ramp: Ramp, rule: LimitRule | None = None, growth: tuple[FloatArray, FloatArray] | None = None
) -> tuple[float, float]:
    """Return between which amounts nine of ten such ramps would have put the limit of an ink.

    Parameters
    ----------
    ramp : Ramp
        In laid-down ink; steps about its smooth course tell the noise.
    rule : LimitRule, optional
        When an ink has enough.
    growth : tuple of ndarray, optional
        As for `find_limit`; the noise of line widths is not counted.

    Returns
    -------
    low, high : float
        The 5th and the 95th percentile, and no narrower than that the limit of the ramp itself is within. [-]

    Notes
    -----
    Parametric bootstrap: noise is drawn anew about the smooth course (B. Efron, R. J. Tibshirani, An
    Introduction to the Bootstrap, 1993, chapter 6). Draws that `find_limit` would refuse are left out.
    """
    curves = [smooth_curve(ramp.amount, ramp.lab[:, axis], rising=False) for axis in range(3)]
    course = np.stack([curve(ramp.amount) for curve in curves], axis=-1)
    noise = np.array([curve.noise for curve in curves])
    rng = np.random.default_rng(_SEED)
    limits = []
    for _ in range(_PRINTS):
        again = replace(ramp, lab=course + noise * rng.standard_normal(course.shape))
        try:
            limits.append(find_limit(again, rule, growth).limit)
        except InputError:
            continue
    if not limits:
        return (0.0, float(ramp.amount[-1]))
    own = find_limit(ramp, rule, growth).limit
    low, high = np.percentile(limits, _TAILS)
    return min(float(low), own), max(float(high), own)
