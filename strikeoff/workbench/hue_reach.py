"""The largest chroma that a condition reaches at a hue: one figure for all that state it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from strikeoff.condition.record import Condition

FloatArray = NDArray[np.float64]

# Levels of the two inks that vary on a face, and most full ones beside them: more make darks only.
_STEPS, _MOST_FULL = 13, 2
# With more inks than this the faces are many: fewer levels, one full ink beside the two, and white where it
# lies beneath.
_FEW_INKS, _FEW_STEPS = 8, 9
# Triangles that are looked at more closely for each hue, and into how many parts along a side.
_CLOSER, _PARTS = 8, 8
# What lies so near to the half plane of a hue is in it, as the solid is whose own hue is asked for. [Lab]
_IN_PLANE = 1e-6


@dataclass(frozen=True)
class HueReach:
    """The most colourful colour of one hue.

    Attributes
    ----------
    hue : float
        Hue angle. [degrees]
    chroma, lightness : float
        Its C* and L* in absolute CIELAB under D50; chroma is 0 where no colour has the hue, as on cloth of
        deep colour.
    """

    hue: float
    chroma: float
    lightness: float


def hue_reach(condition: Condition, hues: Sequence[float]) -> tuple[HueReach, ...]:
    """Return the largest chroma of each hue angle that recipes under the limits make.

    Parameters
    ----------
    condition : Condition
        Where it will be printed.
    hues : sequence of float
        Hue angles. [degrees]

    Notes
    -----
    Mixes of two inks in part, others none or full, are brought back under the limits in proportion. The half
    plane of a hue is cut with the triangles of their colours, and with smaller ones where that is farthest
    out.
    """
    triangles, lab = face_colours(condition)
    share = _parts()
    found = []
    for hue in hues:
        reach, _ = _cut(lab, hue)
        best = np.argsort(-reach)[:_CLOSER]
        best = best[reach[best] > 0]
        if not len(best):
            found.append(HueReach(float(hue), 0.0, 0.0))
            continue
        closer = np.einsum("pcs,tsk->tpck", share, triangles[best]).reshape(-1, condition.n_inks)
        reach, light = _cut(_lab(condition, closer).reshape(-1, 3, 3), hue)
        most = int(reach.argmax())
        found.append(HueReach(float(hue), float(reach[most]), float(light[most])))
    return tuple(found)


def face_colours(condition: Condition) -> tuple[FloatArray, FloatArray]:
    """Return triangles of recipes within the limits and of their colours.

    Returns
    -------
    recipes : ndarray, shape (t, 3, n_inks)
        On faces where two inks vary, others none or full. [-]
    lab : ndarray, shape (t, 3, 3)
        Absolute CIELAB under D50.
    """
    triangles = _triangles(condition)
    nodes, at = np.unique(triangles.reshape(-1, condition.n_inks), axis=0, return_inverse=True)
    return triangles, _lab(condition, nodes)[at.reshape(triangles.shape[:2])]


def _lab(condition: Condition, inks: FloatArray) -> FloatArray:
    return condition.connection.to_absolute(condition.inverse.quick.lab(inks))


def _triangles(condition: Condition) -> FloatArray:
    """Return triangles of recipes, shape (t, 3, n_inks), on faces where two inks vary, within the limits."""
    limits = condition.inverse.limits
    used = np.flatnonzero(limits.per_ink > 0)
    count = min(2, len(used))
    few = len(used) <= _FEW_INKS
    steps, most = (_STEPS, _MOST_FULL) if few else (_FEW_STEPS, 1)
    levels = np.linspace(0.0, 1.0, steps)
    u, v = (grid.ravel() for grid in np.meshgrid(levels, levels, indexing="ij"))
    at = np.arange(len(u)).reshape(steps, steps)
    a, b, c, d = at[:-1, :-1].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel(), at[:-1, 1:].ravel()
    corners = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    under = () if condition.white_recipe is None else tuple(np.flatnonzero(condition.white_recipe > 0))
    found = []
    for pair in combinations(used, count):
        others = [ink for ink in used if ink not in pair]
        groups = {group for size in range(most + 1) for group in combinations(others, size)}
        groups |= {tuple(sorted({*group, *under} - set(pair))) for group in groups if len(group) < most}
        for full in sorted(groups):
            inks = np.zeros((len(u), condition.n_inks))
            inks[:, list(full)] = 1.0
            inks[:, pair[0]] = u
            if count == 2:
                inks[:, pair[1]] = v
            inks = limits.pulled_in(inks * limits.per_ink)
            legal = limits.legal(inks, 1e-6) & (limits.parted(inks) == inks).all(axis=1)
            found.append(inks[corners[legal[corners].all(axis=1)]])
    return np.concatenate(found)


def _parts() -> FloatArray:
    """Return the corners of small triangles within one, shape (m, 3, 3), as shares of its corners."""
    size = _PARTS
    found = []
    for i in range(size):
        for j in range(size - i):
            found.append([(i, j), (i + 1, j), (i, j + 1)])
            if i + j < size - 1:
                found.append([(i + 1, j), (i + 1, j + 1), (i, j + 1)])
    first = np.array(found, dtype=np.float64) / size
    return np.concatenate([first, 1.0 - first.sum(axis=2, keepdims=True)], axis=2)


def _cut(lab: FloatArray, hue: float) -> tuple[FloatArray, FloatArray]:
    """Return largest chroma and its lightness, shape (t,), where the half plane of a hue cuts triangles."""
    angle = np.radians(hue)
    along, aside = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    reach, light = np.zeros(len(lab)), np.zeros(len(lab))
    for i, j in ((0, 1), (1, 2), (2, 0)):
        p, q = lab[:, i], lab[:, j]
        off, end = p[:, 1:] @ aside, q[:, 1:] @ aside
        cuts = (off > 0) != (end > 0)
        share = np.where(cuts, off / np.where(cuts, off - end, 1.0), 0.0)
        point = p + share[:, None] * (q - p)
        for colour, counts in ((point, cuts), (p, np.abs(off) < _IN_PLANE)):
            chroma = np.where(counts, colour[:, 1:] @ along, 0.0)
            light = np.where(chroma > reach, colour[:, 0], light)
            reach = np.maximum(reach, chroma)
    return reach, light
