"""A straight limit in calibrated ink that holds a total in laid-down ink."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.inks.overprints import SHARES, let_through

FloatArray = NDArray[np.float64]

#: An envelope of a channel's load: calibrated ink, rising from 0, and load at its corners.
Envelope = tuple[FloatArray, FloatArray]

_STEPS, _GAIN = 5, 1e-4
# Weights are changed one by one by these factors, for as long as more is let through.
_FACTORS = (1.5, 1.2, 1.08, 1.03)


def concave_envelope(x: FloatArray, y: FloatArray) -> list[int]:
    """Return the corners of the least concave curve above points, ``x`` rising."""
    corners: list[int] = []
    for k in range(len(x)):
        while len(corners) > 1:
            p, q = corners[-2], corners[-1]
            if (y[q] - y[p]) * (x[k] - x[p]) > (y[k] - y[p]) * (x[q] - x[p]):
                break
            corners.pop()
        corners.append(k)
    return corners


def most_of_weighted_sum(weights: FloatArray, envelopes: Sequence[Envelope], total: float) -> float:
    """Return the most of a weighted sum of inks under which the loads add up to ``total`` at most.

    Parameters
    ----------
    weights : ndarray, shape (n_channels,)
        Weight of each channel in the sum. [-]
    envelopes : sequence of (ink, load)
        Concave envelope of each channel's load.
    total : float
        Most of all loads together. [-]

    Examples
    --------
    >>> straight = (np.array([0.0, 1.0]), np.array([0.0, 1.0]))
    >>> most_of_weighted_sum(np.ones(3), [straight] * 3, 2.0)
    2.0
    """
    pieces = [
        (load[k + 1] - load[k], (at[k + 1] - at[k]) * weight)
        for weight, (at, load) in zip(weights, envelopes, strict=True)
        for k in range(len(at) - 1)
    ]
    gained, spent = np.array([piece for piece in pieces if min(piece) > 0]).T
    order = np.argsort(-gained / spent, kind="stable")
    reached = np.concatenate([[0.0], np.cumsum(gained[order])])
    taken = np.concatenate([[0.0], np.cumsum(spent[order])])
    if total >= reached[-1]:
        return float(weights @ [at[-1] for at, _ in envelopes])
    return float(np.interp(total, reached, taken))


def best_weights(
    per_ink: FloatArray, envelopes: Sequence[Envelope], total: float
) -> tuple[FloatArray, float]:
    """Return weights, shape (n_channels,), and the most of their sum, that let most overprints through.

    Full inks alone come first: no step is taken that keeps one of them out. From weights between the load
    at the limit and the steepest chord on, one weight after the other is changed.

    Parameters
    ----------
    per_ink : ndarray, shape (n_channels,)
        Most of each ink. [-]
    envelopes : sequence of (ink, load)
        Concave envelope of each channel's load.
    total : float
        Most of all loads together. [-]
    """
    at_limit = np.array([load.max() for _, load in envelopes]) / per_ink
    chords = [np.divide(load[1:], at[1:]).max(initial=0.0) for at, load in envelopes]
    steepest = np.maximum(at_limit, chords)
    if at_limit.max() <= 0:
        return at_limit, 0.0
    best, most, score = at_limit, 0.0, (-1.0, -1.0)
    for step in np.linspace(0.0, 1.0, _STEPS):
        weights = np.round(at_limit + step * (steepest - at_limit), 12)
        found, through = _judged(weights, per_ink, envelopes, total)
        if through > (score[0], score[1] + _GAIN):
            best, most, score = weights, found, through
    for factor in _FACTORS:
        moved = True
        while moved:
            moved = False
            for c in range(len(best)):
                for times in (factor, 1.0 / factor):
                    weights = best.copy()
                    weights[c] *= times
                    found, through = _judged(weights, per_ink, envelopes, total)
                    if through > (score[0], score[1] + _GAIN):
                        best, most, score, moved = weights, found, through, True
    return best, most


def _judged(
    weights: FloatArray, per_ink: FloatArray, envelopes: Sequence[Envelope], total: float
) -> tuple[float, tuple[float, float]]:
    """Return the most of a weighted sum that holds the total, and what it lets through."""
    most = most_of_weighted_sum(weights, envelopes, total)
    return most, let_through((weights * per_ink)[:, None] * SHARES, most)
