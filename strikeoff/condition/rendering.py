"""Rendering intents: media-relative colours of the source to inks of the condition."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.pcs import D50, black_scaled
from strikeoff.condition.record import Condition
from strikeoff.model.gamut import expand_chroma, map_into, visible
from strikeoff.model.inverse import Recipes, solve

FloatArray = NDArray[np.float64]

Intent = Literal["perceptual", "relative", "relative-bpc", "absolute", "saturation"]
INTENTS: tuple[str, ...] = get_args(Intent)

_KNEE = 0.8
_SATURATION = 0.8
# How far from black recipes of colours beyond the gamut are freed to reach it. [Lab]
_BLACK_REACH = 5.0
# How far beyond the gamut colours begin to move to its boundary, and from where on they lie on it: those
# between end at what is closest, which leaps beyond a dented edge. [CIEDE2000]
_MAP_FROM, _MAP_FULL = 0.5, 3.5
# How far beyond the gamut, along its hue, a colour's recipe is let go by the field less and less. [CIEDE2000]
_FREE = (2.0, 5.0)
# The same at the black point, where many recipes are nearly as dark. [CIEDE2000]
_BELOW = (0.1, 0.6)
_WHITE = 2e-3
_BLACK_Y, _BLACK_CHROMA = 1e-6, 1.0


def render(
    condition: Condition,
    lab: FloatArray,
    intent: str,
    *,
    source_black: float = 0.0,
    source_white: FloatArray | None = None,
    start: FloatArray | None = None,
    beyond: NDArray[np.bool_] | None = None,
    step: Callable[[float], None] = lambda fraction: None,
) -> Recipes:
    """Return inks for media-relative colours of a source.

    Parameters
    ----------
    condition : Condition
        Where it will be printed.
    lab : ndarray, shape (m, 3)
        Media-relative D50 Lab of the source.
    intent : {"perceptual", "relative", "relative-bpc", "absolute", "saturation"}
        Perceptual scales black to black and compresses smoothly at constant hue; relative keeps
        what is reachable and moves the rest to the boundary at constant hue; relative-bpc scales
        black to black first; saturation does so too and moves chroma towards the boundary at
        constant hue and lightness, mid chromas most; absolute keeps the source's white as well.
    source_black : float
        Y of the source's black over its white. [-]
    source_white : ndarray, shape (3,), optional
        Media white of the source, D50 XYZ, for absolute; the perfect diffuser by default.
    start : ndarray, shape (m, n_inks), optional
        Legal recipes close to the solution, such as those of neighbours.
    beyond : ndarray of bool, shape (m,), optional
        With ``start``: colours known to lie far outside; how far is then not found out.
    step : callable
        Told the fraction done, 0-1.

    Returns
    -------
    Recipes
        Inks, Lab under the condition's light, and difference from what was asked after black
        scaling and compression, at least 2 for colours known to lie beyond.
    """
    if intent not in INTENTS:
        raise UsageError("unknown rendering intent", found=intent, expected=", ".join(INTENTS))
    inverse = condition.inverse
    link = condition.connection
    greys = condition.greys
    wanted = np.asarray(lab, dtype=np.float64)
    if intent == "absolute":
        scale = (D50 if source_white is None else source_white) / link.media_white
        wanted = xyz_to_lab(lab_to_xyz(wanted, np.ones(3)) * scale, np.ones(3))
        wanted = link.to_relative(greys.off(link.from_relative(wanted)))
    elif intent != "relative":
        wanted = black_scaled(visible(wanted), source_black, relative_black_y(condition))
    white = np.abs(wanted - [100.0, 0.0, 0.0]).max(axis=1) < _WHITE
    # Saturated colours are moved anyway: small misses do not count.
    mapped = map_into(condition.boundary, wanted, 1.0)
    beside = delta_e_2000(wanted, mapped)
    free = np.interp(beside, _FREE, (0.0 if intent == "saturation" else 1.0, 0.0))
    # Beyond the black point hardly anything is let go.
    at_black = 1.0 - _off_black(condition, greys.onto(link.from_relative(mapped)))
    free *= 1.0 - at_black * np.interp(beside, _BELOW, (0.0, 1.0))
    if intent == "perceptual":
        wanted = map_into(condition.boundary, wanted, _KNEE)
    elif intent == "saturation":
        wanted = expand_chroma(condition.boundary, wanted, _SATURATION)
    target = greys.onto(link.from_relative(wanted))
    if start is None or beyond is None:
        first = solve(inverse, target, exact=False, free=free, step=lambda f: step(0.6 * f))
        inks, error, reached = first.inks.copy(), first.de00, first.lab
    else:
        inks, error, reached = start.copy(), np.full(len(target), _MAP_FULL), np.empty_like(target)
        open_ = np.flatnonzero(~beyond)
        first = solve(inverse, target[open_], exact=False, free=free[open_], step=lambda f: step(0.6 * f))
        inks[open_], error[open_], reached[open_] = first.inks, first.de00, first.lab
    # Out of gamut the hue is kept in a space where it looks constant; in gamut nothing moves.
    # The boundary ends at white: what inks reach beyond it comes out at the nearest colour.
    beyond_white = condition.reaches_beyond_cloth & (wanted[:, 0] > 100.0)
    far = np.flatnonzero((error > _MAP_FROM) & ~beyond_white)
    if len(far):
        mapped = map_into(condition.boundary, wanted[far], 1.0)
        off = _off_black(condition, greys.onto(link.from_relative(mapped)))
        share = _moved_share(error[far], off)
        moved = greys.onto(link.from_relative(wanted[far] + share[:, None] * (mapped - wanted[far])))
        held, left = share * _off_black(condition, moved), (1.0 - share) * free[far]
        second = solve(
            inverse, moved, exact=False, beyond=held, free=left, step=lambda f: step(0.6 + 0.4 * f)
        )
        inks[far], reached[far] = second.inks, second.lab
    solved = inks.copy()
    inks[white] = 0.0 if condition.white_recipe is None else condition.white_recipe
    if condition.white_recipe is not None and intent == "absolute":
        # White is printed, so the cloth is one colour among others, and stays bare where it is asked for.
        bare = link.to_relative(greys.off(condition.cloth_lab[None]))
        inks[np.abs(wanted - bare).max(axis=1) < _WHITE] = 0.0
    inks = _pure_black(condition, np.asarray(lab, dtype=np.float64), source_black, inks)
    changed = np.flatnonzero((inks != solved).any(axis=1))
    if len(changed):
        reached[changed] = inverse.quick.lab(inks[changed])
    return Recipes(inks, reached, error)


def _moved_share(error: FloatArray, off: FloatArray) -> FloatArray:
    """Return which part of the way to the boundary colours go, 0-1, shape (m,), by how much they miss.

    Towards the boundary what is left of the way grows, then shrinks: fewer dents are met, but colours come
    back a little. Near the black point, where ``off`` is little and a step back shows as lighter blacks, what
    is left stays the same.
    """
    share = np.clip((error - _MAP_FROM) / (_MAP_FULL - _MAP_FROM), 0.0, 1.0)
    staying = 1.0 - _MAP_FROM / np.maximum(error, _MAP_FROM)
    return np.asarray(off * share + (1.0 - off) * staying)


def _off_black(condition: Condition, target: FloatArray) -> FloatArray:
    """Return how far targets, absolute Lab of shape (m, 3), are from the black point, 0-1, shape (m,)."""
    black = condition.greys.onto(condition.connection.from_relative(condition.black_lab[None]))
    away = np.minimum(np.linalg.norm(target - black, axis=1) / _BLACK_REACH, 1.0)
    return np.asarray(away * away * (3.0 - 2.0 * away))


def _pure_black(condition: Condition, lab: FloatArray, source_black: float, inks: FloatArray) -> FloatArray:
    """Give the source's own black black ink alone, where the policy asks for it."""
    black = condition.inverse.black
    if not condition.policy.pure_black or black is None:
        return inks
    neutral = np.hypot(lab[:, 1], lab[:, 2]) < _BLACK_CHROMA
    darkest = lab_to_xyz(lab, np.ones(3))[:, 1] <= source_black + _BLACK_Y
    out = inks.copy()
    out[neutral & darkest] = ink_alone(condition, black)
    return out


def ink_alone(condition: Condition, ink: int) -> FloatArray:
    """Return the recipe of one ink as far as its limits go, without others, shape (n_inks,)."""
    recipe = np.zeros(condition.n_inks)
    recipe[ink] = condition.limits.alone()[ink]
    return recipe


def relative_black_y(condition: Condition) -> float:
    """Return Y of what black is scaled to, 1 for white."""
    return float(lab_to_xyz(condition.black_lab, np.ones(3))[1])
