"""Limits in calibrated ink that hold the total in laid-down ink."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.inks.convex_total import ConvexTotal, convex_total, most_under
from strikeoff.inks.overprints import SHARES, let_through
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.straight_total import (
    Envelope,
    best_weights,
    concave_envelope,
    most_of_weighted_sum,
)
from strikeoff.inks.tables import FULL, NODES

FloatArray = NDArray[np.float64]


def straight_limits(spaces: InkSpaces) -> tuple[FloatArray, FloatArray, float]:
    """Return limits in calibrated ink that hold the total in laid-down ink, by weights of the inks.

    Parameters
    ----------
    spaces : InkSpaces
        With curves and the laid-down total.

    Returns
    -------
    per_ink, weights : ndarray, shape (n_channels,)
        Most of each ink; weight of each in the total. [-]
    total : float
        Most of the weighted sum. [-]

    Raises
    ------
    InputError
        Where no ink counts.

    Notes
    -----
    The load of a channel is never above its concave envelope, and the most that envelopes add up to
    under a weighted sum is had by taking their pieces in the order of load for weight; the total is
    where that reaches the laid-down total. It is exact for straight curves and for curves that sag,
    where a weight is the channel's load at its limit. With light inks tints weigh more than they
    would by that, and with inks that swell full tones less: those weights are sought that let full
    inks through and most of their overprints.
    """
    per_ink, envelopes = _envelopes(spaces)
    weights, total = best_weights(per_ink, envelopes, spaces.total)
    if weights.max() <= 0:
        raise InputError("the curves lay no ink down that counts")
    heaviest = float(weights.max())
    return per_ink, weights / heaviest, round(total / heaviest, 12)


def convex_limits(spaces: InkSpaces) -> tuple[FloatArray, ConvexTotal] | None:
    """Return the most of each ink and curves that hold the total in laid-down ink.

    None where straight limits do as well: for straight curves, and where the total holds nothing back.

    Parameters
    ----------
    spaces : InkSpaces
        With curves and the laid-down total.

    Returns
    -------
    per_ink : ndarray, shape (n_channels,)
        Most of each ink. [-]
    held : ConvexTotal
        What the inks count, and the most of the sum.
    """
    if spaces.is_straight:
        return None
    per_ink, loads = _channel_loads(spaces, FULL + 1)
    _, weights, most = straight_limits(spaces)
    found = convex_total(
        per_ink, loads, spaces.total, let_through((weights * per_ink)[:, None] * SHARES, most)
    )
    return None if found is None else (per_ink, found)


def most_under_weights(spaces: InkSpaces, weights: FloatArray) -> tuple[FloatArray, float]:
    """Return limits in calibrated ink that hold the total in laid-down ink, under given weights.

    Parameters
    ----------
    spaces : InkSpaces
        With curves and the laid-down total.
    weights : ndarray, shape (n_channels,)
        Weight of each channel in the total. [-]

    Returns
    -------
    per_ink : ndarray, shape (n_channels,)
        Most of each ink. [-]
    total : float
        Most of the weighted sum. [-]
    """
    per_ink, envelopes = _envelopes(spaces)
    return per_ink, most_of_weighted_sum(weights, envelopes, spaces.total)


def most_under_curves(spaces: InkSpaces, curves: FloatArray) -> tuple[FloatArray, float]:
    """Return limits in calibrated ink that hold the total in laid-down ink, under given convex curves.

    Parameters
    ----------
    spaces : InkSpaces
        With curves and the laid-down total.
    curves : ndarray, shape (n_channels, n_nodes)
        What each channel counts over its ink, in even steps. [-]

    Returns
    -------
    per_ink : ndarray, shape (n_channels,)
        Most of each ink. [-]
    total : float
        Most of the sum of the curves; 0 where they hold nothing. [-]
    """
    per_ink, loads = _channel_loads(spaces, FULL + 1)
    return per_ink, most_under(curves, loads, spaces.total)


def _envelopes(spaces: InkSpaces) -> tuple[FloatArray, list[Envelope]]:
    """Return the most of each channel and the concave envelope of its load."""
    per_ink, loads = _channel_loads(spaces)
    corners = [concave_envelope(at, load) for at, load in loads]
    return per_ink, [(at[k], load[k]) for k, (at, load) in zip(corners, loads, strict=True)]


def _channel_loads(spaces: InkSpaces, count: int = NODES) -> tuple[FloatArray, list[Envelope]]:
    """Return the most of each channel and what it lays down over its ink, at so many even steps."""
    limit = {ink.name: ink.limit * FULL for ink in spaces.inks}
    node = np.linspace(0.0, 1.0, NODES)
    per_ink, loads = np.ones(len(spaces.channels)), list[Envelope]()
    place, stride = np.linspace(0.0, 1.0, count), FULL // (count - 1)
    for c, name in enumerate(spaces.channels):
        over = np.flatnonzero(spaces.tone[c] > limit[name] + 0.5)
        if len(over):
            k = int(over[0])
            low, high = float(spaces.tone[c, k - 1]), float(spaces.tone[c, k])
            per_ink[c] = node[k - 1] + (limit[name] - low) / (high - low) * (node[k] - node[k - 1])
        at = np.append(place[place < per_ink[c]], per_ink[c])
        load = np.zeros(len(at))
        for j, source in enumerate(spaces.source):
            if source == c:
                laid = spaces.tables[j][::stride].astype(np.float64) / FULL
                load += spaces.loads[j] * np.interp(at, place, laid)
        loads.append((at, load))
    return per_ink, loads
