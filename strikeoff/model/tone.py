"""Monotone tone curves: nominal ink to effective coverage."""

from __future__ import annotations

from math import comb

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

DEGREE = 4


def increments(parameters: FloatArray) -> FloatArray:
    """Return positive Bernstein increments that sum to one from free parameters.

    Parameters
    ----------
    parameters : ndarray, shape (DEGREE - 1,)
        Any real numbers; zeros give the straight line. [-]

    Returns
    -------
    ndarray, shape (DEGREE,)
        Increments, each above 0. [-]
    """
    logits = np.append(parameters, 0.0)
    weights = np.exp(logits - logits.max())
    return np.asarray(weights / weights.sum())


def bernstein(ink: FloatArray, steps: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Evaluate a monotone Bernstein curve and its slope.

    Parameters
    ----------
    ink : ndarray, shape (n,)
        Nominal ink, 0-1; a little outside is extrapolated. [-]
    steps : ndarray, shape (d,)
        Increments from :func:`increments`. [-]

    Returns
    -------
    value, slope : ndarray, shape (n,)
        Effective coverage and its derivative. [-]

    Examples
    --------
    >>> value, slope = bernstein(np.array([0.0, 0.5, 1.0]), np.full(4, 0.25))
    >>> value.round(3).tolist(), slope.round(3).tolist()
    ([0.0, 0.5, 1.0], [1.0, 1.0, 1.0])
    """
    degree = len(steps)
    ordinates = np.concatenate([[0.0], np.cumsum(steps)])
    value = np.zeros_like(ink)
    slope = np.zeros_like(ink)
    for i in range(degree + 1):
        value += ordinates[i] * comb(degree, i) * ink**i * (1.0 - ink) ** (degree - i)
    for i in range(degree):
        slope += degree * steps[i] * comb(degree - 1, i) * ink**i * (1.0 - ink) ** (degree - 1 - i)
    return value, slope


def risen(ink: FloatArray, degree: int) -> FloatArray:
    """Return how far each increment of a Bernstein curve has risen, shape (n, degree).

    A curve's value is this times its increments; where many curves are tried at the same inks, it is
    worth keeping.

    Examples
    --------
    >>> steps = np.array([0.1, 0.2, 0.3, 0.4])
    >>> value, slope = bernstein(np.array([0.3, 0.9]), steps)
    >>> bool(np.allclose(risen(np.array([0.3, 0.9]), 4) @ steps, value))
    True
    """
    parts = [comb(degree, i) * ink**i * (1.0 - ink) ** (degree - i) for i in range(1, degree + 1)]
    return np.asarray(np.cumsum(np.stack(parts, axis=1)[:, ::-1], axis=1)[:, ::-1])
