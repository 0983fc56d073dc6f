"""One colour from a dark and a light ink: who prints how much of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError
from strikeoff.inks.tables import FULL, NODES, Codes, to_codes

FloatArray = NDArray[np.float64]

_MOST_SHARE = 0.9
# Most of the dark ink's density that the light one brings: beyond half it gives way faster than it came, and
# what does not add up in print shows as a step. More where it is told what adds up. Common practice, no
# source.
_MOST_PEAK, _MOST_PEAK_ADDED = 0.5, 0.65
# Steps of the light ink in which the most that a bound allows is sought.
_STEPS = 1025
# So much is kept from a bound that whole numbers never reach it. [full tone of the dark ink]
_ROUNDING = 2e-5
_LEAST_BEND = 1e-6
# Parts of the peak that are tried, highest first, where a bound is passed.
_LOWER = np.linspace(1.0, 0.5, 51)[1:]
# Width of the knee where a bound holds the light ink back, of the width without: there it gives way early,
# and in a wide knee dots of the dark ink would come into light tones. Common practice, no source.
_HELD_KNEE = 0.5


@dataclass(frozen=True)
class LightSplit:
    """Curves of a dark ink and its light one over the amount of the colour.

    Attributes
    ----------
    dark, light : ndarray of uint16, shape (NODES,)
        Laid-down amount of both inks. [65535 = full tone]
    start : float
        Amount of the colour at which the dark ink begins. [-]
    peak : float
        Most of the light ink. [-]
    most_laid_down : float
        Most that both lay down together, 1 = the dark ink at its limit. [-]
    """

    dark: Codes
    light: Codes
    start: float
    peak: float
    most_laid_down: float


def light_split(
    dark_amount: ArrayLike,
    dark_density: ArrayLike,
    light_amount: ArrayLike,
    light_density: ArrayLike,
    *,
    light_limit: float = 1.0,
    dark_limit: float = 1.0,
    knee: float = 0.5,
    light_load: float = 1.0,
    bound: float | None = None,
    adds: ArrayLike | None = None,
) -> LightSplit:
    """Share a colour between a dark and a light ink so that its strength stays that of the dark ramp.

    Parameters
    ----------
    dark_amount, light_amount : array_like, shape (n,)
        Amounts of both ramps, rising from 0 to 1. [-]
    dark_density, light_density : array_like, shape (n,)
        Density above the cloth in the tristimulus value that the colour changes most, rising from 0. [-]
    light_limit : float
        Most of the light ink, above 0, up to 1. [-]
    dark_limit : float
        Amount at which the colour is printed full, above 0, up to 1: from there on with the dark ink
        alone, so that the solid is as strong as that ink makes it. [-]
    knee : float
        How soon before its peak the light ink begins to give way, 0-1; larger is smoother. [-]
    light_load : float
        What a full tone of the light ink counts in the total ink, at least 0, 1 = one of the dark. [-]
    bound : float, optional
        Most that both may lay down together, above 0, 1 = the dark ink at its limit. Below 1 it holds for the
        lightest tones, and rises straight to 1 at the limit. [-]
    adds : array_like, shape (n,), optional
        What adds up where the inks lie together, over the dark ramp, rising from 0; density by default.

    Returns
    -------
    LightSplit

    Raises
    ------
    InputError
        When a ramp does not rise, or the light ink is no lighter than the dark one.

    Notes
    -----
    Densities of inks that lie at random over each other add up: the reflectance of the overprint is the
    product (E. Demichel, 1924). Dyes in one layer add what they absorb instead, and less density: there the
    dark ink has more left to print. The light ink's share of the density rises with the colour's own,
    bends, and falls straight to none at the limit of the dark ink, which prints the rest. The share's slope
    never exceeds that of the whole, so the dark curve never falls. Where a bound holds it back, its peak
    is lower, or, if that leaves more to the light ink, its share falls along the largest that keeps the bound
    and never faster than it came.
    """
    dark_x, dark_d = _ramp(dark_amount, dark_density, "dark ramp")
    light_x, light_d = _ramp(light_amount, light_density, "light ramp")
    sums = dark_d if adds is None else _ramp(dark_amount, adds, "what adds up of the dark ramp")[1]
    if not (0 < light_limit <= 1 and 0 < dark_limit <= 1 and 0 < knee <= 1):
        raise InputError("ink limits or knee are out of range", found=f"{light_limit}, {dark_limit}, {knee}")
    if not (0 <= light_load < np.inf and (bound is None or bound > 0)):
        raise InputError("load or bound is out of range", found=f"{light_load}, {bound}")
    last = np.floor(dark_limit * (NODES - 1) + 1e-9) / (NODES - 1)
    whole = float(np.interp(last, dark_x, dark_d))
    highest = float(np.interp(light_limit, light_x, light_d))
    if not 0 < highest < _MOST_SHARE * whole:
        raise InputError(
            "light ink is not lighter than its dark one",
            found=f"density {highest:.3f} of {whole:.3f}",
            expected=f"less than {100 * _MOST_SHARE:.0f} %",
            advice="Swap the two, or print without the split",
        )
    top = _MOST_PEAK if adds is None else _MOST_PEAK_ADDED
    corner = _corner(min(highest, top * whole), whole, knee)
    node = np.linspace(0.0, 1.0, NODES)
    strength = np.interp(node, dark_x, dark_d)
    share, half = _share(strength, corner, whole, knee), _half(corner, whole, knee)

    def rest(all_of_it: FloatArray, by_light: FloatArray) -> FloatArray:
        left = np.interp(all_of_it, dark_d, sums) - np.interp(by_light, dark_d, sums)
        return np.asarray(np.interp(left, sums, dark_x))

    def load(all_of_it: FloatArray, by_light: FloatArray) -> FloatArray:
        light = np.interp(by_light, light_d, light_x)
        return np.asarray((rest(all_of_it, by_light) + light_load * light) / last)

    if bound is not None:
        held = bound + max(1.0 - bound, 0.0) * np.minimum(node / last, 1.0)
        over = load(strength, share) > held + _ROUNDING
        if over[node <= last].any():
            steps = np.linspace(0.0, light_limit, _STEPS)
            loads = load(strength[:, None], np.interp(steps, light_x, light_d))
            most = _first_over(steps, loads, held - (1 + light_load) * _ROUNDING)
            most = np.where(np.isfinite(most), np.interp(most, light_x, light_d), np.inf)
            corner, half, share = _held_share(strength, most, node <= last, corner, whole, knee)
            share = np.minimum(share, highest)
            # A bound that is only just passed is kept by a lower peak of the same shape.
            for part in _LOWER:
                lower = _corner(part * min(highest, top * whole), whole, knee)
                less = _share(strength, lower, whole, knee)
                if not (load(strength, less) > held + _ROUNDING)[node <= last].any():
                    if less.mean() > share.mean():
                        corner, half, share = lower, _half(lower, whole, knee), less
                    break
    light = np.interp(share, light_d, light_x)
    dark = rest(strength, share)
    codes = np.maximum.accumulate(to_codes(np.clip(dark, 0, 1)))
    pale = to_codes(np.clip(light, 0, light_limit))
    laid = (codes + light_load * pale)[node <= last] / FULL / last
    start = float(np.interp(corner - half, dark_d, dark_x))
    return LightSplit(codes, pale, start, float(light.max()), float(laid.max()))


def graininess(amounts: ArrayLike, contrast: ArrayLike) -> FloatArray:
    """Return the graininess of inks that are dotted at random, relative between recipes.

    Parameters
    ----------
    amounts : array_like, shape (..., n_inks)
        Share of the pixels that each ink covers, 0-1. [-]
    contrast : array_like, shape (..., n_inks)
        By how much a full tone would change the colour: density of each solid above the cloth, or how fast
        it grows at the recipe.

    Returns
    -------
    ndarray, shape (...)
        Standard deviation over an area of one pixel, in units of the contrast.

    References
    ----------
    E. W. H. Selwyn, Photogr. J. 75 (1935), 571-580: density of random grains scatters as the root of
    their number; here each pixel is a draw with variance ``a (1 - a)``.
    """
    a, far = np.asarray(amounts, dtype=np.float64), np.asarray(contrast, dtype=np.float64)
    return np.asarray(np.sqrt((a * (1 - a) * far**2).sum(axis=-1)))


def _ramp(amount: ArrayLike, density: ArrayLike, where: str) -> tuple[FloatArray, FloatArray]:
    x, d = np.asarray(amount, dtype=np.float64), np.asarray(density, dtype=np.float64)
    if x.ndim != 1 or x.shape != d.shape or len(x) < 3 or not np.isfinite(x + d).all():
        raise InputError("not a ramp", where=where, found=x.shape, expected="3 or more steps")
    if x[0] != 0 or x[-1] != 1 or d[0] != 0 or not ((np.diff(x) > 0).all() and (np.diff(d) > 0).all()):
        raise InputError("ramp does not rise from nothing to full tone", where=where)
    return x, d


def _share(strength: FloatArray, corner: float, whole: float, knee: float) -> FloatArray:
    """Density from the light ink: the colour's own up to a knee, then straight down to none."""
    fall = corner / (whole - corner)
    half = _half(corner, whole, knee)
    into = np.clip(strength - corner + half, 0.0, 2 * half)
    bend = (1 + fall) * into**2 / (4 * half)
    past = np.maximum(strength - corner - half, 0.0)
    return np.asarray(np.maximum(strength - bend - (1 + fall) * past, 0.0))


def _first_over(steps: FloatArray, loads: FloatArray, most: FloatArray) -> FloatArray:
    """Return where each row of loads first goes over the most allowed; infinite where it does not."""
    over = loads > most[:, None]
    at = np.maximum(over.argmax(axis=1), 1)
    row = np.arange(len(loads))
    low, high = loads[row, at - 1], loads[row, at]
    part = np.clip((most - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    found = steps[at - 1] + part * (steps[at] - steps[at - 1])
    return np.where(over.any(axis=1), found, np.inf)


def _held_share(
    strength: FloatArray, most: FloatArray, held: NDArray[np.bool_], corner: float, whole: float, knee: float
) -> tuple[float, float, FloatArray]:
    """Return corner and half width of the knee, and a share of the density that stays below the most allowed.

    It rises with the colour's own and falls with the lower of two: the straight fall of `_share`, and the
    largest that is nowhere above the most and has no slope beyond 1 either way.
    """
    at, cap = strength[held & np.isfinite(most)], most[held & np.isfinite(most)]
    gentle = (cap + np.abs(strength[:, None] - at)).min(axis=1)
    falls = np.minimum(corner * (whole - strength) / (whole - corner), gentle)
    past = strength - falls
    met = float(np.interp(0.0, past, strength))
    half = _half(met, whole, _HELD_KNEE * knee)
    apart = np.interp([met - half, met + half], strength, past)
    bend = max(min(-float(apart[0]), float(apart[1])), _LEAST_BEND * whole)
    share = np.minimum(strength, falls) - np.maximum(bend - np.abs(past), 0.0) ** 2 / (4.0 * bend)
    return met, half, np.maximum(share, 0.0)


def _half(corner: float, whole: float, knee: float) -> float:
    return knee * min(corner, whole - corner)


def _corner(peak: float, whole: float, knee: float) -> float:
    """Corner whose knee peaks at a given density; the peak grows with it."""
    from scipy.optimize import brentq

    grid = np.linspace(0.0, whole, 4097)

    def miss(corner: float) -> float:
        return float(_share(grid, corner, whole, knee).max()) - peak

    return float(brentq(miss, 1e-6 * whole, (1 - 1e-6) * whole, xtol=1e-9 * whole))
