"""One-dimensional curves: sampled tables and the parametric functions, forward and backward.

References
----------
ICC.1:2022 clauses 10.6 (curveType) and 10.18 (parametricCurveType).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strikeoff.icc.encoding import FloatArray

_INVERSE_SAMPLES = 65537


@dataclass(frozen=True)
class SampledCurve:
    """Even samples over 0-1 (two or more), linear in between; values 0-1."""

    table: FloatArray


@dataclass(frozen=True)
class ParametricCurve:
    """One of the five functions of parametricCurveType, with its parameters g, a, b, c, d, e, f."""

    function: int
    parameters: tuple[float, ...]


Curve = SampledCurve | ParametricCurve
IDENTITY = ParametricCurve(0, (1.0,))

#: Number of parameters of each function of parametricCurveType.
PARAMETER_COUNTS = (1, 3, 4, 5, 7)


def evaluate_curve(curve: Curve, x: FloatArray) -> FloatArray:
    """Return the curve at ``x``, any shape; ``x`` and result are limited to 0-1 as ICC.1 demands.

    Examples
    --------
    >>> evaluate_curve(SampledCurve(np.array([0, 0.2, 1.0])), np.array([0.25, 0.75])).round(6).tolist()
    [0.1, 0.6]
    >>> evaluate_curve(ParametricCurve(0, (2.0,)), np.array([0.5])).tolist()
    [0.25]
    """
    x = np.clip(x, 0.0, 1.0)
    if curve == IDENTITY:
        return x
    if isinstance(curve, SampledCurve):
        return np.interp(x, np.linspace(0, 1, len(curve.table)), curve.table)
    with np.errstate(over="ignore", divide="ignore"):
        return np.clip(_parametric(curve.function, curve.parameters, x), 0.0, 1.0)


def _parametric(function: int, parameters: tuple[float, ...], x: FloatArray) -> FloatArray:
    if function == 0:
        return np.asarray(x ** parameters[0])
    g, a, b, *more = parameters
    power = np.maximum(a * x + b, 0.0) ** g
    if function in (1, 2):
        shift = more[0] if function == 2 else 0.0
        return np.asarray(np.where(a * x + b >= 0, power, 0.0) + shift)
    c, d, *offsets = more
    e, f = offsets if function == 4 else (0.0, 0.0)
    return np.asarray(np.where(x >= d, power + e, c * x + f))


def invert_curve(curve: Curve, y: FloatArray) -> FloatArray:
    """Return ``x`` with ``curve(x) = y``, to about 1/65536; an end of 0-1 where ``y`` is out of reach.

    A rising curve that falls somewhere is first made to stand still there. Curves that fall on the whole
    are inverted from the other end.

    Examples
    --------
    >>> invert_curve(ParametricCurve(0, (2.0,)), np.array([0.25])).round(4).tolist()
    [0.5]
    """
    x = np.linspace(0, 1, _INVERSE_SAMPLES)
    values = evaluate_curve(curve, x)
    if values[-1] < values[0]:
        values, x = values[::-1], x[::-1]
    return np.interp(y, np.maximum.accumulate(values), x)
