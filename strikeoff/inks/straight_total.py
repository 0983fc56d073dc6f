"""A straight limit in calibrated ink that holds a total in laid-down ink."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: An envelope of a channel's load: calibrated ink, rising from 0, and load at its corners.
Envelope = tuple[FloatArray, FloatArray]

_STEPS, _GAIN = 5, 1e-6
_TOGETHER = (2, 3)


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

    Full inks alone come first: no step is taken that keeps one of them out.

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
    best, score = (at_limit, 0.0), (-1.0, -1.0)
    for step in np.linspace(0.0, 1.0, _STEPS):
        weights = np.round(at_limit + step * (steepest - at_limit), 12)
        most = most_of_weighted_sum(weights, envelopes, total)
        through = (
            _share_let_through(weights * per_ink, most, (1,)),
            _share_let_through(weights * per_ink, most, _TOGETHER),
        )
        if through > (score[0], score[1] + _GAIN):
            best, score = (weights, most), through
    return best


def _share_let_through(full: FloatArray, most: float, together: tuple[int, ...]) -> float:
    """Return how much of the overprints of so many full inks a limit lets through, on average."""
    sums = [sum(some) for count in together for some in combinations(full.tolist(), count)]
    if not sums:
        return 1.0
    return round(float(np.minimum(1.0, most / np.maximum(sums, 1e-12)).mean()), 9)
