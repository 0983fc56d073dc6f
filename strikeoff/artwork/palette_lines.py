"""Colours of lines too thin to have flat areas: those that explain what no mixture of the others does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.palette_flat import bands_of
from strikeoff.artwork.unmix import MOST_COLOURS, Palette, Unmixer, code_slopes, mixing_curves, mixing_values
from strikeoff.raster.bands import BandSource

FloatArray = NDArray[np.float64]

#: Distance above which a mixture does not explain a pixel. [standard deviations of the noise]
ODD = 6.0
#: The same in noise of more than `NOISY`, where pixels that stand alone are left to chance.
ODD_IN_NOISE = 3.5
#: Noise from which on it is noise and not rounding. [share of the code range]
NOISY = 1.2 / 255
_COMPANY = 3
_MOST_BINS, _MOST_CANDIDATES = 2000, 150
_LEAST_LINE, _LEAST_PURE, _LINE_SHARE = 24, 6, 0.02
# How near pixels of one line are to its purest [share of the code range].
_PURE_LINE = 0.08


@dataclass(frozen=True)
class Odd:
    """Pixels that a palette does not mix to.

    Attributes
    ----------
    codes : ndarray, shape (m, 3)
        Their codes, those that lie together in one row, the most frequent first.
    amounts : ndarray, shape (m,)
        How many each row stands for.
    share : float
        Of all pixels. [-]
    """

    codes: FloatArray
    amounts: FloatArray
    share: float


def odd_limit(palette: Palette) -> float:
    """Return the distance above which a mixture does not explain a pixel [standard deviations]."""
    return ODD_IN_NOISE if palette.noise > NOISY else ODD


def odd_places(rest: NDArray[np.float32], palette: Palette) -> NDArray[np.bool_]:
    """Return which pixels no mixture explains; those that stand alone are left to chance."""
    from scipy.ndimage import uniform_filter

    odd = rest > odd_limit(palette)
    around = uniform_filter(odd.astype(np.float32), 3, mode="constant") * 9.0
    return np.asarray(odd & (around > _COMPANY - 0.5))


def unexplained(source: BandSource, space: LinearRgb, palette: Palette) -> Odd:
    """Return the pixels that the palette does not mix to; reads the artwork once, in bands."""
    unmixer = Unmixer(source, space, palette)
    # Noise leaves hardly two codes alike: those within a cell count as one.
    cell = max(1, round(palette.noise * (space.codes - 1)))
    keys: NDArray[np.int64] = np.zeros(0, np.int64)
    sums: FloatArray = np.zeros((0, 4))
    count = 0
    for y0, y1 in bands_of(source):
        codes, made = unmixer.read(y0, y1)
        odd = codes[odd_places(made.rest, palette)].astype(np.int64)
        count += len(odd)
        key = odd // cell @ np.array([1 << 32, 1 << 16, 1])
        keys, back = np.unique(np.concatenate([keys, key]), return_inverse=True)
        added = np.vstack([sums, np.column_stack([odd, np.ones(len(odd))])])
        sums = np.stack([np.bincount(back, added[:, c], minlength=len(keys)) for c in range(4)], axis=1)
        if len(keys) > 200_000:
            kept = np.argsort(-sums[:, 3], kind="stable")[:100_000]
            kept.sort()
            keys, sums = keys[kept], sums[kept]
    order = np.argsort(-sums[:, 3], kind="stable")[:_MOST_BINS]
    amounts = sums[order, 3]
    return Odd(sums[order, :3] / amounts[:, None], amounts, count / (source.height * source.width))


def line_colours(space: LinearRgb, palette: Palette, odd: Odd) -> FloatArray:
    """Return colours in codes that together with the palette explain the rest, shape (m, 3)."""
    from strikeoff.artwork.kernels_regions import line_scores

    codes, amounts, limit = odd.codes, odd.amounts, odd_limit(palette)
    curves = mixing_curves(space, palette.mixing)
    slopes = code_slopes(curves) / palette.noise
    whole = np.rint(codes).astype(int)
    value = np.stack([curves[c][whole[:, c]] for c in range(3)], axis=-1)
    slope = np.stack([slopes[c][whole[:, c]] for c in range(3)], axis=-1)
    known = mixing_values(space, palette.linear, palette.mixing)
    open_ = np.ones(len(codes), np.bool_)
    total, found = amounts.sum(), []
    codes_apart = slope * palette.noise
    while open_.any() and len(known) < MOST_COLOURS:
        left = np.flatnonzero(open_)
        far = ((value[left, None] - known) * slope[left, None]) ** 2
        # The purest pixels of a line are those farthest from all that is known.
        farthest = left[np.argsort(-far.sum(axis=2).min(axis=1), kind="stable")]
        tried = np.unique(np.concatenate([left[:_MOST_CANDIDATES], farthest[:_MOST_CANDIDATES]]))
        scores = np.empty(len(tried))
        line_scores(value, slope, np.where(open_, amounts, 0.0), known, tried, limit, scores)
        own = int(tried[scores.argmax()])
        pure = open_ & ((((value - value[own]) * codes_apart) ** 2).sum(axis=1) <= _PURE_LINE**2)
        enough = scores.max() >= max(_LEAST_LINE, _LINE_SHARE * total) and amounts[pure].sum() >= _LEAST_PURE
        if not enough:
            break
        colour = np.average(codes[pure], axis=0, weights=amounts[pure] * _nearness(value, slope, own)[pure])
        found.append(colour)
        known = np.vstack([known, value[own]])
        open_ &= ~explained(value, slope, known[:-1], value[own], limit)
    return np.array(found).reshape(-1, 3)


def _nearness(value: FloatArray, slope: FloatArray, own: int) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (((value - value[own]) * slope) ** 2).sum(axis=1)))


def explained(
    value: FloatArray, slope: FloatArray, known: FloatArray, new: FloatArray, limit: float
) -> NDArray[np.bool_]:
    """Return which values lie between a new colour and a known one."""
    to_new = (new - value) * slope
    done = (to_new**2).sum(axis=1) <= limit**2
    for one in known:
        span = (one - new) * slope
        length = (span**2).sum(axis=1)
        at = np.clip(-(to_new * span).sum(axis=1) / np.maximum(length, 1e-12), 0.0, 1.0)
        done |= ((to_new + at[:, None] * span) ** 2).sum(axis=1) <= limit**2
    return np.asarray(done)
