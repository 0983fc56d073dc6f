"""Light-ink splits from ramps, and how much they may lay down to leave overprints room under the total."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.inks.calibrated_total import convex_limits, straight_limits
from strikeoff.inks.overprints import SHARES, let_through
from strikeoff.inks.press_file import PressFile
from strikeoff.inks.records import Ink
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.split import LightSplit, graininess, light_split
from strikeoff.inks.tables import FULL, NODES, Codes, straight_curves, to_codes
from strikeoff.qualify.layer_ramps import layer_shares
from strikeoff.qualify.linearise import linearise
from strikeoff.qualify.ramps import Ramp
from strikeoff.qualify.smoothing import smooth_curve

FloatArray = NDArray[np.float64]
Splits = dict[str, LightSplit]

#: Least share of the overprints of full inks, of those that the dark inks alone would print under the total,
#: that is kept for the sake of less grain. Common practice, no source.
KEPT = 0.9
# Bounds that are tried: the lightest tones stay the light ink's even where the total has no room for it.
_LEAST_BOUND, _STEP = 0.25, 0.05
# Rounding of what is let through.
_SAME = 1e-3
#: Even tones of the calibrated ink that show grain: light and middle ones. Common practice, no source.
GRAINY_TONES = np.linspace(0.05, 0.6, 12)

#: Reflectance below which readings tell no density. [-]
_DARKEST = 1e-3


@dataclass(frozen=True)
class LightPair:
    """A dark ink and its light one.

    Attributes
    ----------
    dark_density, light_density : ndarray, shape (n,)
        Density above the cloth at even steps of the ink, where the dark ink absorbs most; rising from 0.
    adds : ndarray, shape (n,), or None
        What adds up where both lie together, at the steps of the dark ink, rising from 0; density by None.
    dark_limit, light_limit : float
        Most of each. [-]
    light_load : float
        What a full tone of the light ink counts in the total ink, 1 = one of the dark. [-]
    """

    dark_density: FloatArray
    light_density: FloatArray
    adds: FloatArray | None
    dark_limit: float
    light_limit: float
    light_load: float

    def split(self, bound: float | None = None) -> LightSplit:
        """Return who prints how much, under a bound of what both lay down as `light_split` has it."""
        x = np.linspace(0.0, 1.0, len(self.dark_density))
        return light_split(
            x,
            self.dark_density,
            x,
            self.light_density,
            light_limit=self.light_limit,
            dark_limit=self.dark_limit,
            light_load=self.light_load,
            bound=bound,
            adds=self.adds,
        )

    def grain(self, split: LightSplit, tone: Codes) -> float:
        """Return the mean graininess of `GRAINY_TONES` over that of the dark ink alone, by what adds up.

        Drops change a tone by the slope of what adds up there, not by the whole of a solid's: where dyes mix
        in one layer, a drop in a middle tone shows less than one on bare cloth. How much of it is seen is the
        same for both ways to the tone, so that it leaves their ratio.

        Parameters
        ----------
        split : LightSplit
            Of this pair.
        tone : ndarray of uint16, shape (NODES,)
            Calibrated ink to amount of the colour.
        """
        from scipy.interpolate import PchipInterpolator

        node, x = np.linspace(0.0, 1.0, NODES), np.linspace(0.0, 1.0, len(self.dark_density))
        sums = self.dark_density if self.adds is None else self.adds
        # Beyond its limit a light ink may be as dense as the dark one, where nothing is known to go on.
        dense = np.minimum(self.light_density, self.dark_density[-1])
        light_sums = PchipInterpolator(self.dark_density, sums)(dense)
        slopes = [np.gradient(u, x) for u in (sums, light_sums)]
        amount = np.interp(GRAINY_TONES, node, tone / FULL)
        both = [np.interp(amount, node, curve / FULL) for curve in (split.dark, split.light)]
        shown = [np.interp(a, x, slope) for a, slope in zip(both, slopes, strict=True)]
        alone = graininess(amount[:, None], np.interp(amount, x, slopes[0])[:, None])
        return float(graininess(np.stack(both, -1), np.stack(shown, -1)).mean() / alone.mean())


@dataclass(frozen=True)
class SplitChoice:
    """Splits, and what they cost.

    Attributes
    ----------
    splits : dict of str to LightSplit
        By the dark ink's name.
    bound : float, optional
        Most that dark and light may lay down together, 1 = the dark ink at its limit; None where nothing
        holds them back. [-]
    is_held : bool
        Whether the bound changes any of them.
    printed, printed_free, printed_dark : float
        Share of the overprints of full inks that the total lets through: of these splits, of those without a
        bound, of the dark inks alone. [-]
    grain, grain_free : dict of str to float
        Graininess of light and middle tones of these splits and of those without a bound, 1 = that of the
        dark ink alone. [-]
    """

    splits: Splits
    bound: float | None
    is_held: bool
    printed: float
    printed_free: float
    printed_dark: float
    grain: dict[str, float]
    grain_free: dict[str, float]


def light_pair(dark: Ramp, light: Ramp, inks: tuple[Ink, Ink], loads: tuple[float, float]) -> LightPair:
    """Return a pair from its ramps.

    Parameters
    ----------
    dark, light : Ramp
        Of both inks, up to full tone.
    inks : tuple of Ink
        Both inks, dark first.
    loads : tuple of float
        What their full tones count in the total ink. A dark ink that counts nothing holds no light one back.

    Notes
    -----
    Spectra tell whether the inks mix in one layer, where absorption over scattering adds up; else densities
    do.
    """
    x = np.linspace(0.0, 1.0, 65)
    dark_density, light_density = (
        _rising(ramp.amount, plain, x)
        for ramp, plain in zip((dark, light), _densities(dark, light), strict=True)
    )
    adds = None
    if dark.spectra is not None and light.spectra is not None:
        shares = layer_shares([dark.spectra, light.spectra])
        # Smoothed as a root, which is about as even as density, for the sake of light tones.
        adds = None if shares is None else _rising(dark.amount, np.sqrt(shares[0]), x) ** 2
    weight = loads[1] / loads[0] if loads[0] > 0 else 0.0
    return LightPair(dark_density, light_density, adds, inks[0].limit, inks[1].limit, weight)


def _rising(amount: FloatArray, values: FloatArray, x: FloatArray) -> FloatArray:
    curve = smooth_curve(amount, values, rising=True, start=0.0)
    # A hair of slope keeps the curve invertible where the ink has stopped growing.
    return np.asarray(curve(x) + 1e-6 * x)


def choose_split(
    press: PressFile, pairs: Mapping[str, LightPair], ramps: Sequence[Ramp], bound: float | None = None
) -> SplitChoice:
    """Return the splits with least grain that leave overprints room under the total ink limit.

    Parameters
    ----------
    press : PressFile
        Inks, limits and total; one light ink for each dark one of the pairs.
    pairs : mapping of str to LightPair
        By the dark ink's name.
    ramps : sequence of Ramp
        One of each channel, in that order: of the dark inks and of those without a light one.
    bound : float, optional
        As of `light_split`, for every pair; by default the highest is chosen under which the total lets
        `KEPT` of those overprints of full inks through that the dark inks alone would print, and all where
        it is above 1. None holds where the total leaves room for every tone.

    Returns
    -------
    SplitChoice

    Notes
    -----
    Recipes that are allowed must stay so when they are mixed, so a tone that lays more down than the full
    one takes from the overprints of the full one as well (`strikeoff.inks.convex_total`). Tones are those
    that are even in colour on the ramps of the dark inks, whose strength the splits keep.
    """
    tone = np.stack([_even_tone(ramp, limit) for ramp, limit in zip(ramps, _limits(press), strict=True)])
    tone_of = dict(zip(press.channels, tone, strict=True))

    def spaces(splits: Splits) -> InkSpaces:
        return press.spaces(splits).with_tone(tone, "colour")

    def made(most: float | None) -> Splits:
        return {name: pair.split(most) for name, pair in pairs.items()}

    free, alone = made(None), {name: _dark_alone() for name in pairs}
    printed_free, printed_dark = overprints_printed(spaces(free)), overprints_printed(spaces(alone))

    def leaves_room(most: float) -> bool:
        return _enough(overprints_printed(spaces(made(most))), printed_dark, 1.0 if most > 1 else KEPT)

    chosen, splits, printed = bound, free, printed_free
    if bound is None and not _enough(printed_free, printed_dark, 1.0):
        chosen = _highest(leaves_room, max(split.most_laid_down for split in free.values()))
    if chosen is not None:
        splits = made(chosen)
        printed = overprints_printed(spaces(splits))
    grains = [
        {name: pair.grain(of[name], tone_of[name]) for name, pair in pairs.items()} for of in (splits, free)
    ]
    held = any(bool((splits[name].light != free[name].light).any()) for name in pairs)
    return SplitChoice(splits, chosen, held, printed[1], printed_free[1], printed_dark[1], *grains)


def overprints_printed(spaces: InkSpaces) -> tuple[float, float]:
    """Return the share of single full inks, and of their overprints, that the total lets through.

    Returns
    -------
    alone, together : float
        As of `strikeoff.inks.overprints.let_through`.
    """
    convex = convex_limits(spaces)
    if convex is None:
        per_ink, weights, most = straight_limits(spaces)
        return let_through((weights * per_ink)[:, None] * SHARES, most)
    per_ink, held = convex
    node = np.linspace(0.0, 1.0, held.curves.shape[1])
    counts = [np.interp(SHARES * most, node, curve) for most, curve in zip(per_ink, held.curves, strict=True)]
    return let_through(np.stack(counts), held.total)


def _enough(printed: tuple[float, float], wanted: tuple[float, float], part: float) -> bool:
    return printed[0] >= wanted[0] - _SAME and printed[1] >= part * wanted[1] - _SAME


def _highest(leaves_room: Callable[[float], bool], most: float) -> float:
    """Return the highest bound in even steps that leaves room; the least where none does."""
    low, high = 0, max(int(np.ceil((most - _LEAST_BOUND) / _STEP - 1e-9)), 1)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if leaves_room(_bound(middle)) else (low, middle)
    return _bound(low)


def _bound(step: int) -> float:
    return round(_LEAST_BOUND + step * _STEP, 6)


def _limits(press: PressFile) -> list[float]:
    limit = {ink.name: ink.limit for ink in press.inks}
    return [limit[name] for name in press.channels]


def _even_tone(ramp: Ramp, limit: float) -> Codes:
    """Return the tone curve that is even in colour, or in ink where the ramp tells none."""
    try:
        return linearise([ramp], [limit])[0].curve
    except InputError:
        return to_codes(limit * np.linspace(0.0, 1.0, NODES))


def _dark_alone() -> LightSplit:
    dark = straight_curves(1)[0]
    return LightSplit(dark, np.zeros_like(dark), 0.0, 0.0, 1.0)


def _densities(dark: Ramp, light: Ramp) -> list[FloatArray]:
    """Return the densities of both ramps above the cloth, where the dark ink absorbs most.

    Densities of two inks add in a narrow band and less than that in a broad one, so spectra go before
    tristimulus values.
    """
    if dark.spectra is None or light.spectra is None:
        band = int(np.argmax(dark.xyz[0] / dark.xyz[-1]))
        return [np.log10(ramp.xyz[0, band] / ramp.xyz[:, band]) for ramp in (dark, light)]
    depths = [
        np.log10(np.maximum(seen[0], _DARKEST) / np.maximum(seen, _DARKEST))
        for seen in (dark.spectra, light.spectra)
    ]
    band = int(np.argmax(depths[0][-1]))
    near = slice(max(band - 1, 0), band + 2)
    return [np.asarray(depth[:, near].mean(axis=1)) for depth in depths]
