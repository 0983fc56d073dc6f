"""A convex limit in calibrated ink that holds a total in laid-down ink.

Recipes are mixed after they are found: in links, profiles and resampled planes. So the recipes that are
allowed must be a convex set, or mixtures would break the limit. The sum of one convex curve an ink makes
such a set, and where each curve lies nowhere below what the ink lays down, it keeps the laid-down total.
Curves that sag are convex themselves, so they count as what they are. Those of light inks bulge, and over a
bulge only a straight line is convex: one that starts higher is flatter, so it takes less from overprints of
the full ink and more from those without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.inks.overprints import SHARES, let_through

FloatArray = NDArray[np.float64]

#: Nodes of a curve from no ink to full tone, evenly spaced.
CURVE_NODES = 65

_SLOPES, _STEPS = 129, 41
_EVERY = 64
# Curves are changed one by one by so many places of their family, while that lets this much more through.
_JUMPS, _GAIN = (32, 8, 2, 1), 1e-4
# Curves that bend less than this count as straight. [share of the heaviest ink]
_STRAIGHT = 1e-3
_AROUND = 2e-3


@dataclass(frozen=True)
class ConvexTotal:
    """Limits that hold the total: the sum of all curves at a recipe is at most ``total``.

    Attributes
    ----------
    curves : ndarray, shape (n_channels, CURVE_NODES)
        Rising convex curve of each channel over its ink, from 0. [-]
    weights : ndarray, shape (n_channels,)
        What each channel counts at its limit, for one full tone: no curve lies above this straight line.
    total : float
        Most of the sum. [-]
    """

    curves: FloatArray
    weights: FloatArray
    total: float


def convex_above(ink: FloatArray, load: FloatArray, slope: float) -> FloatArray:
    """Return a convex curve above a load that is nowhere steeper than a slope, at its nodes.

    Parameters
    ----------
    ink : ndarray, shape (n,)
        Rising from 0. [-]
    load : ndarray, shape (n,)
        At least 0. [-]
    slope : float
        At least 0; smaller ones start higher. [-]

    Examples
    --------
    >>> bulge = np.array([0.0, 0.8, 1.0])
    >>> convex_above(np.array([0.0, 0.5, 1.0]), bulge, 1.0).round(6).tolist()
    [0.3, 0.8, 1.3]
    >>> sag = np.array([0.0, 0.2, 1.0])
    >>> convex_above(np.array([0.0, 0.5, 1.0]), sag, 1.6).round(6).tolist()
    [0.0, 0.2, 1.0]
    """
    # Lowest curve above the load that rises no faster than the slope.
    bound = np.maximum.accumulate((load - slope * ink)[::-1])[::-1] + slope * ink
    out, rise = bound.copy(), 0.0
    for k in range(1, len(ink)):
        rise = max(rise, float((bound[k] - out[k - 1]) / (ink[k] - ink[k - 1])))
        out[k] = out[k - 1] + rise * (ink[k] - ink[k - 1])
    return out


def convex_total(
    per_ink: FloatArray,
    loads: Sequence[tuple[FloatArray, FloatArray]],
    total: float,
    straight: tuple[float, float] | None = None,
) -> ConvexTotal | None:
    """Return curves that hold a total, None where straight ones do as well or nothing is held.

    Of the lines over the bulges of all channels those are sought, one channel after the other, that let
    full inks through, then most of their overprints.

    Parameters
    ----------
    per_ink : ndarray, shape (n_channels,)
        Most of each ink, above 0. [-]
    loads : sequence of (ink, load)
        What each channel lays down over its ink from 0 to its limit, straight between.
    total : float
        Most of all loads together. [-]
    straight : (float, float), optional
        What `let_through` says of plain weights: curves that let no more through are no use.
    """
    if total >= sum(float(load.max()) for _, load in loads):
        return None
    node = np.linspace(0.0, 1.0, CURVE_NODES)
    families = [
        _family(node, float(most), at, load)
        for most, (at, load) in zip(per_ink, _thinned(loads), strict=True)
    ]
    best = _chosen(per_ink, families, total)
    if best is None or (straight is not None and best[1] <= straight):
        return None
    curves = best[0]
    start = curves[:, 0] + [
        max(_over(node, curve, *load), 0.0) for curve, load in zip(curves, loads, strict=True)
    ]
    full = np.array([np.interp(m, node, c) for m, c in zip(per_ink, curves, strict=True)]) - curves[:, 0]
    most, heaviest = total - float(start.sum()), float((full / per_ink).max())
    if most <= 0 or heaviest <= 0:
        return None
    counted, weights = (curves - curves[:, :1]) / heaviest, full / per_ink / heaviest
    bend = np.abs(counted - weights[:, None] * node) * (node <= per_ink[:, None])
    return None if bend.max() <= _STRAIGHT else ConvexTotal(counted, weights, most / heaviest)


def _chosen(
    per_ink: FloatArray, families: Sequence[tuple[FloatArray, FloatArray]], total: float
) -> tuple[FloatArray, tuple[float, float]] | None:
    """Return the curves of families that let most through, and how much; None where none holds the total."""
    node = np.linspace(0.0, 1.0, CURVE_NODES)
    starts = [family[:, 0] for family, _ in families]
    counts = [
        np.stack([np.interp(SHARES * most, node, curve) for curve in family]) - family[:, :1]
        for most, (family, _) in zip(per_ink, families, strict=True)
    ]

    def judged(places: Sequence[int]) -> tuple[float, float]:
        most = total - sum(float(start[k]) for start, k in zip(starts, places, strict=True))
        if most <= 0:
            return -1.0, -1.0
        return let_through(np.stack([count[k] for count, k in zip(counts, places, strict=True)]), most)

    best: list[int] = []
    score = (-1.0, -1.0)
    for step in np.linspace(0.0, 1.0, _STEPS):
        places = [_member(family, ends, step) for family, ends in families]
        found = judged(places)
        # Of equals the flattest: it leaves most beside full inks whose tints bulge.
        if found >= score:
            best, score = places, found
    if score[0] < 0:
        return None
    for jump in _JUMPS:
        moved = True
        while moved:
            moved = False
            for c in range(len(best)):
                for by in (jump, -jump):
                    places = best.copy()
                    places[c] = min(max(best[c] + by, 0), len(counts[c]) - 1)
                    found = judged(places)
                    if found > (score[0], score[1] + _GAIN):
                        best, score, moved = places, found, True
    return np.stack([family[k] for (family, _), k in zip(families, best, strict=True)]), score


def _family(node: FloatArray, most: float, at: FloatArray, load: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return convex curves above a load, shape (n, CURVE_NODES), steep first, and their ends at the limit."""
    ink = np.append(node[node < most - 1e-9], most)
    seen = np.interp(ink, at, load)
    steepest = float((np.diff(seen) / np.diff(ink)).max(initial=0.0))
    curves, ends = [], []
    for slope in np.linspace(steepest, 0.0, _SLOPES):
        curve = convex_above(ink, seen, slope)
        curve += max(_over(ink, curve, at, load), 0.0)
        last = (curve[-1] - curve[-2]) / (ink[-1] - ink[-2])
        beyond = curve[-1] + last * (node - most)
        curves.append(np.where(node < most - 1e-9, np.interp(node, ink, curve), beyond))
        ends.append(curve[-1])
    return np.array(curves), np.array(ends)


def _over(ink: FloatArray, curve: FloatArray, at: FloatArray, load: FloatArray) -> float:
    """Return the most that a load lies over a curve, or the least that it lies under it as less than 0."""
    return float((load - np.interp(at, ink, curve)).max())


def _member(family: FloatArray, ends: FloatArray, step: float) -> int:
    """Return which curve counts least at full ink of those that start no higher than a share of the way.

    A higher start only pays while the full ink counts less for it; of equals the steepest sags most.
    """
    start, end = np.round(family[:, 0], 4), np.round(ends, 4)
    highest = float(start[end <= end.min()].min())
    lowest = float(start.min())
    allowed = np.flatnonzero(start <= lowest + step * (highest - lowest) + 1e-9)
    return int(allowed[int(np.argmin(end[allowed]))])


def most_under(curves: FloatArray, loads: Sequence[tuple[FloatArray, FloatArray]], total: float) -> float:
    """Return the most of the sum of curves under which loads add up to a total at most; 0 where none does.

    Parameters
    ----------
    curves : ndarray, shape (n_channels, n_nodes)
        Convex curves from 0 over the ink. [-]
    loads : sequence of (ink, load)
        What each channel lays down over its ink, straight between.
    total : float
        Most of all loads together. [-]

    Notes
    -----
    Whatever the scale of the curves, no sum of loads is above the scaled sum of curves and what each load is
    ever above its own. The scale that leaves most is sought; every one holds the total.
    """
    ends = [
        load[-1] / np.interp(at[-1], _nodes(curve), curve)
        for curve, (at, load) in zip(curves, loads, strict=True)
        if load[-1] > 0 and curve[-1] > 0
    ]
    if not ends:
        return 0.0
    scale = _best_scale(0.1 * min(ends), 10.0 * max(ends), curves, _thinned(loads), total)
    scale = _best_scale(scale * (1 - _AROUND), scale * (1 + _AROUND), curves, loads, total)
    return max(_most_at(scale, curves, loads, total), 0.0)


def _best_scale(
    low: float, high: float, curves: FloatArray, loads: Sequence[tuple[FloatArray, FloatArray]], total: float
) -> float:
    """Return the scale of curves between two that leaves the most, by thirds: what it leaves has one peak."""
    while high - low > 1e-9 * high:
        left, right = low + (high - low) / 3.0, high - (high - low) / 3.0
        worse = _most_at(left, curves, loads, total) < _most_at(right, curves, loads, total)
        low, high = (left, high) if worse else (low, right)
    return 0.5 * (low + high)


def _most_at(
    scale: float, curves: FloatArray, loads: Sequence[tuple[FloatArray, FloatArray]], total: float
) -> float:
    """Return the most of the sum of curves that holds the total when they are of a scale."""
    above = sum(_over(_nodes(curve), scale * curve, *load) for curve, load in zip(curves, loads, strict=True))
    return (total - above) / scale


def _nodes(curve: FloatArray) -> FloatArray:
    return np.linspace(0.0, 1.0, len(curve))


def _thinned(loads: Sequence[tuple[FloatArray, FloatArray]]) -> list[tuple[FloatArray, FloatArray]]:
    """Return loads at fewer places, ends included."""
    return [(np.append(at[:-1:_EVERY], at[-1]), np.append(load[:-1:_EVERY], load[-1])) for at, load in loads]
