"""One colour from a dark and a light ink: who prints how much of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError
from strikeoff.inks.tables import NODES, Codes, to_codes

FloatArray = NDArray[np.float64]

_MOST_SHARE = 0.9
# Most of the dark ink's density that the light one brings: beyond half it gives way faster than it came, and
# what does not add up in print shows as a step. Common practice, no source.
_MOST_PEAK = 0.5


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
    """

    dark: Codes
    light: Codes
    start: float
    peak: float


def light_split(
    dark_amount: ArrayLike,
    dark_density: ArrayLike,
    light_amount: ArrayLike,
    light_density: ArrayLike,
    *,
    light_limit: float = 1.0,
    dark_limit: float = 1.0,
    knee: float = 0.5,
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
    product (E. Demichel, 1924). The light ink's share of the density rises with the colour's own,
    bends, and falls straight to none at the limit of the dark ink, which prints the rest. The share's slope
    never exceeds that of the whole, so the dark curve never falls.
    """
    dark_x, dark_d = _ramp(dark_amount, dark_density, "dark ramp")
    light_x, light_d = _ramp(light_amount, light_density, "light ramp")
    if not (0 < light_limit <= 1 and 0 < dark_limit <= 1 and 0 < knee <= 1):
        raise InputError("ink limits or knee are out of range", found=f"{light_limit}, {dark_limit}, {knee}")
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
    corner = _corner(min(highest, _MOST_PEAK * whole), whole, knee)
    strength = np.interp(np.linspace(0.0, 1.0, NODES), dark_x, dark_d)
    share = _share(strength, corner, whole, knee)
    light = np.interp(share, light_d, light_x)
    dark = np.interp(strength - share, dark_d, dark_x)
    start = float(np.interp(corner - _half(corner, whole, knee), dark_d, dark_x))
    codes = np.maximum.accumulate(to_codes(np.clip(dark, 0, 1)))
    return LightSplit(codes, to_codes(np.clip(light, 0, light_limit)), start, float(light.max()))


def graininess(amounts: ArrayLike, solid_density: ArrayLike) -> FloatArray:
    """Return the graininess of inks that are dotted at random, relative between recipes.

    Parameters
    ----------
    amounts : array_like, shape (..., n_inks)
        Share of the pixels that each ink covers, 0-1. [-]
    solid_density : array_like, shape (n_inks,)
        Density of each full tone above the cloth. [-]

    Returns
    -------
    ndarray, shape (...)
        Standard deviation of density over an area of one pixel. [-]

    References
    ----------
    E. W. H. Selwyn, Photogr. J. 75 (1935), 571-580: density of random grains scatters as the root of
    their number; here each pixel is a draw with variance ``a (1 - a)``.
    """
    a, density = np.asarray(amounts, dtype=np.float64), np.asarray(solid_density, dtype=np.float64)
    return np.asarray(np.sqrt((a * (1 - a) * density**2).sum(axis=-1)))


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


def _half(corner: float, whole: float, knee: float) -> float:
    return knee * min(corner, whole - corner)


def _corner(peak: float, whole: float, knee: float) -> float:
    """Corner whose knee peaks at a given density; the peak grows with it."""
    from scipy.optimize import brentq

    grid = np.linspace(0.0, whole, 4097)

    def miss(corner: float) -> float:
        return float(_share(grid, corner, whole, knee).max()) - peak

    return float(brentq(miss, 1e-6 * whole, (1 - 1e-6) * whole, xtol=1e-9 * whole))
