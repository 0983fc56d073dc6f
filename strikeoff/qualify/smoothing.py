"""Smooth curves through noisy steps, rising where they must."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

_DEGREE = 3
_MOST_PIECES = 12
# Parameters count for more, for the plain score now and then follows the noise.
_CAUTION = 1.4
_PENALTIES = 10.0 ** np.arange(-8.0, 2.1, 0.5)
# Start and bounds of shape, power and height of the growth of an ink; soft beyond a hundredth.
_GROWTH = ((2.0, 1.0, 1.0), ((-3.0, 0.4, 0.5), (12.0, 3.0, 2.0)), 0.01)


@dataclass(frozen=True)
class SmoothCurve:
    """A cubic spline.

    Attributes
    ----------
    knots, heights : ndarray
        Knots and coefficients; coefficients that rise make a curve that rises.
    noise : float
        Standard deviation of the steps around it.
    """

    knots: FloatArray
    heights: FloatArray
    noise: float

    @cached_property
    def _spline(self) -> Any:
        from scipy.interpolate import BSpline

        return BSpline(self.knots, self.heights, _DEGREE)

    def __call__(self, x: ArrayLike) -> FloatArray:
        """Return the curve's height at some places inside its range."""
        inside = np.clip(np.asarray(x, dtype=np.float64), self.knots[0], self.knots[-1])
        return np.asarray(self._spline(inside))


def smooth_curve(x: ArrayLike, y: ArrayLike, *, rising: bool, start: float | None = None) -> SmoothCurve:
    """Fit a smooth curve; how smooth is found from the steps themselves.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Steps, ``x`` rising, at least 4.
    rising : bool
        Whether the curve must never fall.
    start : float, optional
        Height at the first step, which the curve then meets exactly.

    Returns
    -------
    SmoothCurve

    Notes
    -----
    A penalised cubic B-spline (P. Eilers, B. Marx, Statist. Sci. 11 (1996), 89-121) with
    the penalty of least generalised cross-validation (P. Craven, G. Wahba, Numer. Math. 31 (1979),
    377-403), parameters counted 1.4 times (C. Gu, Smoothing Spline ANOVA Models, 2002, 3.2.3).
    Written as a sum of steps between coefficients, it rises where no step is negative:
    non-negative least squares.
    """
    from scipy.optimize import lsq_linear

    place, height = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    origin = float(height[0]) if start is None else start
    scale = max(float(np.ptp(height)), 1e-12)
    target = (height - origin) / scale
    knots, steps, smoothings = _smoothings(tuple(place.tolist()), start is None)
    best: tuple[float, FloatArray, float] | None = None
    for smoothing in smoothings:
        miss = float(((steps @ (smoothing.solving @ target) - target) ** 2).sum())
        score = miss / (len(target) - _CAUTION * smoothing.used) ** 2
        if best is None or score < best[0]:
            best = (score, smoothing.rows, np.sqrt(miss / (len(target) - smoothing.used)))
    assert best is not None
    _, rows, noise = best
    low = np.full(rows.shape[1], 0.0 if rising else -np.inf)
    if start is None:
        low[0] = -np.inf
    wanted = np.concatenate([target, np.zeros(len(rows) - len(target))])
    weight = lsq_linear(rows, wanted, (low, np.full(len(low), np.inf))).x
    jumps = np.maximum(weight, low)
    if start is not None:
        jumps = np.concatenate([[0.0], jumps])
    return SmoothCurve(knots, origin + scale * np.cumsum(jumps), scale * float(noise))


@dataclass(frozen=True)
class _Smoothing:
    """One penalty: the rows to be met, the steps' coefficients from heights, and parameters used."""

    rows: FloatArray
    solving: FloatArray
    used: float


# Curves through other heights at the same places, as of each axis of Lab and of drawn noise, share it.
@lru_cache(maxsize=32)
def _smoothings(
    place: tuple[float, ...], free_start: bool
) -> tuple[FloatArray, FloatArray, tuple[_Smoothing, ...]]:
    """Return knots, steps at the places and the penalties that leave something to judge by."""
    from scipy.interpolate import BSpline

    pieces = max(1, min(_MOST_PIECES, len(place) - _DEGREE))
    inner = np.quantile(place, np.linspace(0.0, 1.0, pieces + 1))
    knots = np.concatenate([[place[0]] * _DEGREE, inner, [place[-1]] * _DEGREE])
    basis = BSpline.design_matrix(np.array(place), knots, _DEGREE).toarray()
    count = basis.shape[1]
    # Coefficients as sums of steps from the origin; the first step moves the start where it is free.
    steps = basis @ np.tril(np.ones((count, count)))
    if not free_start:
        steps = steps[:, 1:]
    # Third differences of coefficients at their own places: steps per distance, bent.
    centres = np.array([knots[k + 1 : k + 1 + _DEGREE].mean() for k in range(count)])
    slope = np.diag(1.0 / np.diff(centres))
    bend = np.diff(slope, n=2, axis=0) if count > 3 else np.zeros((0, count - 1))
    bend = bend * (np.diff(centres).mean())
    if free_start:
        bend = np.hstack([np.zeros((len(bend), 1)), bend])
    smoothings = []
    for penalty in _PENALTIES:
        rows = np.vstack([steps, np.sqrt(penalty) * bend])
        solving = np.linalg.pinv(rows)[:, : len(place)]
        used = float(np.trace(steps @ solving))
        if _CAUTION * used <= len(place) - 0.5:
            smoothings.append(_Smoothing(rows, solving, used))
    for shared in (knots, steps):
        shared.setflags(write=False)
    return knots, steps, tuple(smoothings)


def growth_scale(amount: ArrayLike, tone: ArrayLike) -> Callable[[ArrayLike], FloatArray]:
    """Return a scale of ink on which the tone of a ramp runs almost straight.

    Parameters
    ----------
    amount : array_like, shape (n,)
        Ink, rising from 0. [-]
    tone : array_like, shape (n,)
        Its tone, 0 for the cloth and about 1 for the last step. [-]

    Returns
    -------
    callable
        Ink to (1 - exp(-k x^p)) / (1 - exp(-k)), x being ink over that of the last step: rising.

    Notes
    -----
    A smooth curve over this scale has little left to follow, and does not round off the steep start of
    a strong ink. The form is that of a surface filled by drops that fall at random (common practice);
    k and p are fitted with a robust loss.
    """
    from scipy.optimize import least_squares

    x, y = np.asarray(amount, dtype=np.float64), np.asarray(tone, dtype=np.float64)
    most = float(x[-1])
    start, bounds, soft = _GROWTH

    def grown(shape: FloatArray, place: ArrayLike) -> FloatArray:
        k = shape[0] if abs(shape[0]) > 1e-6 else 1e-6
        part = np.clip(np.asarray(place, dtype=np.float64) / most, 0.0, 1.0)
        return np.asarray(np.expm1(-k * part ** shape[1]) / np.expm1(-k))

    found = least_squares(
        lambda free: free[2] * grown(free, x) - y, start, bounds=bounds, loss="soft_l1", f_scale=soft
    )
    return lambda place: grown(found.x, place)
