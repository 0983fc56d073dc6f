"""Gamut boundary and mapping, along lines of constant hue in Oklab.

Colours here are media-relative: the cloth, or white printed on dark cloth, is Lab 100, 0, 0 under D50.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.colour.oklab import cone_roots, oklab_to_xyz, xyz_to_oklab

FloatArray = NDArray[np.float64]

D50 = np.array([96.42, 100.0, 82.49])

#: Munsell hue that the space of mapping keeps worst, and how far its colours stray from one angle
#: (root mean square, in steps of the 40 Munsell hues), as bench/bench_hue.py measures it.
MAPPING_SPACE, WORST_HUE, WORST_HUE_STEPS = "Oklab", "2.5R", 0.67

_HUES = 60
_LEVELS = 33
_BISECTIONS = 9
_REACH = 0.42
_REACHED_DE = 0.4
_GREY, _COLOURED = 1e-4, 0.04
_BELOW_DARKEST = 0.4
# The greys that colours move towards, as shares of the way from the darkest neutral to white. Lines to a
# lighter one hardly cross the edge between yellow and white, so that neighbours are held far apart.
_DARKEST_ANCHOR, _LIGHTEST_ANCHOR = 0.04, 0.7
# Least cube root of a cone's response over a neutral's; prints stay above 0.71, sRGB above 0.73.
_LEAST_ROOT = 0.66


@dataclass(frozen=True)
class GamutBoundary:
    """Largest Oklab chroma by lightness and hue.

    Attributes
    ----------
    lightness : ndarray, shape (n_levels,)
        Oklab L from the darkest neutral to white. [-]
    chroma : ndarray, shape (n_levels, n_hues)
        Largest chroma at hues 0, 360/n, ... degrees. [-]
    """

    lightness: FloatArray
    chroma: FloatArray

    def largest(self, lightness: FloatArray, hue: FloatArray) -> FloatArray:
        """Return the largest chroma at lightness and hue [rad]; 0 outside the lightness range."""
        levels, hues = self.chroma.shape
        low, high = self.lightness[0], self.lightness[-1]
        u = np.clip((lightness - low) / (high - low) * (levels - 1), 0, levels - 1)
        v = np.mod(hue / (2 * np.pi), 1.0) * hues
        i = np.minimum(u.astype(int), levels - 2)
        j = v.astype(int) % hues
        fu, fv = u - i, v - np.floor(v)
        k = (j + 1) % hues
        c = self.chroma
        below = (1 - fv) * c[i, j] + fv * c[i, k]
        above = (1 - fv) * c[i + 1, j] + fv * c[i + 1, k]
        value = (1 - fu) * below + fu * above
        return np.asarray(np.where((lightness < low) | (lightness > high), 0.0, value))

    def cusp(self, hue: FloatArray) -> FloatArray:
        """Return the lightness of the most chromatic colour of each hue [rad]."""
        peak = self.lightness[self.chroma.argmax(axis=0)]
        hues = len(peak)
        v = np.mod(hue / (2 * np.pi), 1.0) * hues
        j = v.astype(int) % hues
        f = v - np.floor(v)
        return np.asarray((1 - f) * peak[j] + f * peak[(j + 1) % hues])


def find_boundary(
    error: Callable[[FloatArray], FloatArray], darkest: float, step: Callable[[float], None] = lambda f: None
) -> GamutBoundary:
    """Find the boundary by bisection on chroma.

    Parameters
    ----------
    error : callable
        Media-relative Lab, shape (m, 3), to the colour difference at which it can be reached, shape (m,).
    darkest : float
        L* of the darkest neutral, media-relative. [L*]
    step : callable
        Told the fraction done.
    """
    low = float(lab_to_ok(np.array([[darkest, 0.0, 0.0]]))[0, 0])
    lightness = np.linspace(low, 1.0, _LEVELS)
    hue = np.arange(_HUES) * 2 * np.pi / _HUES
    level, angle = (grid.ravel() for grid in np.meshgrid(lightness, hue, indexing="ij"))
    inside, outside = np.zeros(len(level)), np.full(len(level), _REACH)
    for turn in range(_BISECTIONS):
        step(turn / _BISECTIONS)
        middle = 0.5 * (inside + outside)
        lab = ok_to_lab(np.stack([level, middle * np.cos(angle), middle * np.sin(angle)], axis=1))
        reached = error(lab) < _REACHED_DE
        inside = np.where(reached, middle, inside)
        outside = np.where(reached, outside, middle)
    return GamutBoundary(lightness, inside.reshape(_LEVELS, _HUES))


def map_into(boundary: GamutBoundary, lab: FloatArray, knee: float) -> FloatArray:
    """Bring colours into the gamut at constant hue, along lines towards a grey near the cusp.

    The grey is no lighter than 70 % of the way from the darkest neutral to white: light yellows give up a
    little lightness rather than most of their chroma, and neighbours among them stay neighbours.

    Parameters
    ----------
    boundary : GamutBoundary
        Where the gamut ends.
    lab : ndarray, shape (m, 3)
        Media-relative Lab.
    knee : float
        Share of the way to the boundary up to which nothing moves; from there colours are
        compressed smoothly. 1 moves only what is outside. [-]

    Returns
    -------
    ndarray, shape (m, 3)
    """
    low, high = boundary.lightness[0], boundary.lightness[-1]
    # Below the darkest neutral only a* and b* count: Oklab would turn hues and raise lightness there.
    darkest = ok_to_lab(np.array([[low, 0.0, 0.0]]))[0, 0] - _BELOW_DARKEST
    ok = lab_to_ok(visible(np.column_stack([np.maximum(lab[:, 0], darkest), lab[:, 1:]])))
    chroma, hue = np.hypot(ok[:, 1], ok[:, 2]), np.arctan2(ok[:, 2], ok[:, 1])
    darkest_anchor, lightest_anchor = low + np.array([_DARKEST_ANCHOR, _LIGHTEST_ANCHOR]) * (high - low)
    light = np.clip(ok[:, 0], low, high)
    anchor = np.clip(0.5 * (light + boundary.cusp(hue)), darkest_anchor, lightest_anchor)
    inside, outside = np.zeros(len(ok)), np.full(len(ok), 2.0)
    for _ in range(24):
        middle = 0.5 * (inside + outside)
        at = anchor + middle * (light - anchor)
        held = middle * chroma <= boundary.largest(at, hue)
        inside, outside = np.where(held, middle, inside), np.where(held, outside, middle)
    ratio = 1.0 / np.maximum(inside, 1e-6)
    # Neutrals keep their lightness: black was scaled to black, and white must stay white.
    u = np.clip(chroma / _COLOURED, 0.0, 1.0)
    soft = u * u * (3.0 - 2.0 * u)
    moved = ((1.0 - soft) * np.minimum(ratio, 1.0) + soft * _compress(ratio, knee)) / ratio
    reach = moved * chroma
    out = np.stack([anchor + moved * (light - anchor), reach * np.cos(hue), reach * np.sin(hue)], axis=1)
    near_grey = chroma < _GREY
    out[near_grey] = np.stack([light, ok[:, 1], ok[:, 2]], axis=1)[near_grey]
    return ok_to_lab(out)


def visible(lab: FloatArray) -> FloatArray:
    """Return Lab, shape (m, 3), that some light could look like: others lose chroma at their Lab hue.

    Dark colours of more chroma than any light of their darkness has make no sense to the eye, and in
    Oklab their hue turns away.
    """
    neutral = np.maximum(lab_to_ok(lab * [1.0, 0.0, 0.0])[:, 0], 1e-6)

    def seen(colours: FloatArray, against: FloatArray) -> NDArray[np.bool_]:
        return np.asarray(cone_roots(lab_to_ok(colours)).min(axis=1) >= _LEAST_ROOT * against)

    rows = np.flatnonzero(~seen(lab, neutral))
    inside, outside = np.zeros((len(rows), 1)), np.ones((len(rows), 1))
    for _ in range(24):
        middle = 0.5 * (inside + outside)
        held = seen(lab[rows] * np.hstack([np.ones_like(middle), middle, middle]), neutral[rows])[:, None]
        inside, outside = np.where(held, middle, inside), np.where(held, outside, middle)
    out = lab.copy()
    out[rows, 1:] *= inside
    return out


def expand_chroma(boundary: GamutBoundary, lab: FloatArray, amount: float) -> FloatArray:
    """Move chroma towards the boundary at constant hue and lightness; greys and the boundary stay.

    Parameters
    ----------
    boundary : GamutBoundary
        Where the gamut ends.
    lab : ndarray, shape (m, 3)
        Media-relative Lab; what lies on the boundary or outside is returned as it is.
    amount : float
        0-1; with r = chroma over the boundary's, r becomes r + amount r^2 (1 - r), which rises
        throughout, so that the order of chromas is kept. [-]

    Returns
    -------
    ndarray, shape (m, 3)
    """
    ok = lab_to_ok(lab)
    chroma, hue = np.hypot(ok[:, 1], ok[:, 2]), np.arctan2(ok[:, 2], ok[:, 1])
    largest = boundary.largest(ok[:, 0], hue)
    ratio = np.minimum(chroma / np.maximum(largest, 1e-9), 1.0)
    gain = 1.0 + amount * ratio * (1.0 - ratio)
    ok[:, 1:] *= gain[:, None]
    return ok_to_lab(ok)


def lab_to_ok(lab: FloatArray) -> FloatArray:
    """Return Oklab of media-relative Lab (D50)."""
    return xyz_to_oklab(lab_to_xyz(lab, D50), D50)


def ok_to_lab(oklab: FloatArray) -> FloatArray:
    """Return media-relative Lab (D50) of Oklab."""
    return xyz_to_lab(oklab_to_xyz(oklab, D50), D50)


def _compress(ratio: FloatArray, knee: float) -> FloatArray:
    """Map distance over boundary distance to at most 1: identity to the knee, then a soft shoulder."""
    if knee >= 1.0:
        return np.minimum(ratio, 1.0)
    room = 1.0 - knee
    over = np.maximum(ratio - knee, 0.0) / room
    return np.where(ratio <= knee, ratio, knee + room * over / (1.0 + over))
