"""Finding the palette of flat artwork: flat areas first, then lines too thin to have any."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.unmix import (
    MOST_COLOURS,
    Palette,
    Unmixer,
    code_slopes,
    mixing_curves,
    mixing_values,
)
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import BandSource

FloatArray = NDArray[np.float64]

#: Rows that are read at a time.
ROWS = 256
#: Share of pixels that no palette explains, above which artwork is not flat.
MOST_UNEXPLAINED = 0.05
_BINS = 256
_LEAST_FLAT = 3
_SATELLITE = 0.02
_ODD = 6.0
_MOST_BINS, _MOST_CANDIDATES = 2000, 150
_LEAST_LINE, _LEAST_PURE, _LINE_SHARE = 24, 6, 0.02
_MIXING_BANDS = 8
_MOST_NOISE = 0.04
# How near pixels of one line are to its purest [share of the code range].
_PURE_LINE = 0.08


def find_palette(
    source: BandSource, space: LinearRgb, step: Callable[[float], None] = lambda fraction: None
) -> Palette:
    """Return the colours of flat artwork.

    Parameters
    ----------
    source : BandSource
        RGB of as many codes as the space.
    space : LinearRgb
        Of those codes.
    step : callable
        Told the fraction done, 0-1.

    Returns
    -------
    Palette
        Largest areas first.

    Raises
    ------
    InputError
        When the artwork is not flat: more than 40 colours, or pixels that no few colours mix to.

    Notes
    -----
    Colours are the peaks among means of 3 x 3 pixels that differ by no more than noise, so that noise of a
    third sets them apart and edges make none. What those cannot mix to is searched for lines: the colour is
    taken that together with the others explains most of it. Reads the artwork four times, in bands.
    """
    noise = _noise(source, space)
    colours = _flat_colours(source, space, noise)
    step(0.3)
    noise = max(noise, _spread_of(source, space, colours))
    step(0.5)
    start = Palette(_light(space, colours), noise, "linear")
    best = min(
        ("linear", "encoded"), key=lambda mixing: _left_over(source, space, replace(start, mixing=mixing))
    )
    palette = replace(start, mixing=best)
    odd, count = _unexplained(source, space, palette)
    step(0.8)
    lines = _line_colours(space, palette, odd)
    if len(colours) + len(lines) > MOST_COLOURS:
        raise _not_flat(f"{len(colours) + len(lines)} colours")
    if len(lines):
        palette = replace(palette, linear=np.vstack([palette.linear, _light(space, lines)]))
        odd, count = _unexplained(source, space, palette)
    share = count / (source.height * source.width)
    if share > MOST_UNEXPLAINED:
        raise _not_flat(f"{share:.0%} of the pixels are no mixtures of {len(palette.linear)} colours")
    step(1.0)
    return palette


def _not_flat(found: str) -> InputError:
    return InputError(
        "artwork is not flat",
        found=found,
        expected=f"at most {MOST_COLOURS} colours and their mixtures at edges",
        advice="Reduce its colours first, or separate it as a picture",
    )


def bands_of(source: BandSource, margin: int = 0) -> Iterator[tuple[int, int]]:
    """Return the rows of bands; ``margin`` rows at each end are left out."""
    for y in range(margin, max(source.height - margin, margin), ROWS):
        yield y, min(y + ROWS, source.height - margin)


def _light(space: LinearRgb, codes: FloatArray) -> FloatArray:
    at = np.arange(space.codes)
    return np.stack([np.interp(codes[:, c], at, space.curves[c]) for c in range(3)], axis=-1)


def _noise(source: BandSource, space: LinearRgb) -> float:
    """Return the noise of a code [share of the range], from the smaller four fifths of steps to the right."""
    full = space.codes - 1
    counts = np.zeros(space.codes, np.int64)
    for y0, y1 in bands_of(source):
        band = source.read(y0, y1).astype(np.int64)
        counts += np.bincount(np.abs(np.diff(band, axis=1)).ravel(), minlength=space.codes)
    kept = np.minimum(np.cumsum(counts), 0.8 * counts.sum())
    kept = np.diff(kept, prepend=0.0)
    rms = float(np.sqrt((kept * (np.arange(space.codes) / full) ** 2).sum() / max(kept.sum(), 1.0)))
    # Of a normal distribution the inner 80 % have 0.6616 of its deviation; a step is the noise of two.
    floor = (0.3 if space.codes == _BINS else 0.1) / 255
    noise = rms / 0.6616 / 2**0.5
    if noise > _MOST_NOISE:
        raise _not_flat(f"noise of {noise:.0%} of the code range")
    return float(max(noise, floor))


def _flat_colours(source: BandSource, space: LinearRgb, noise: float) -> FloatArray:
    """Return colours of flat areas in codes, the largest first, shape (n, 3)."""
    from scipy.ndimage import maximum_filter, minimum_filter, uniform_filter

    full = space.codes - 1
    most = max(6.0 * noise, 1.5 / 255) * full
    counts: NDArray[np.uint32] = np.zeros(_BINS**3, np.uint32)
    sums: list[tuple[NDArray[np.int64], FloatArray]] = []
    for y0, y1 in bands_of(source):
        low, high = max(y0 - 1, 0), min(y1 + 1, source.height)
        band = source.read(low, high).astype(np.float32)
        spread = maximum_filter(band, (3, 3, 1)) - minimum_filter(band, (3, 3, 1))
        mean = uniform_filter(band, (3, 3, 1))
        inner = slice(y0 - low, y0 - low + y1 - y0)
        flat = mean[inner][(spread[inner] <= most).all(axis=2)]
        if not len(flat):
            continue
        bins = np.minimum(np.rint(flat * (255.0 / full)).astype(np.int64), 255)
        keys, back = np.unique(bins @ np.array([65536, 256, 1]), return_inverse=True)
        counts[keys] += np.bincount(back, minlength=len(keys)).astype(np.uint32)
        sums.append((keys, np.stack([np.bincount(back, flat[:, c]) for c in range(3)], axis=1)))
        if len(sums) > 64:
            sums = [_joined(sums)]
    if not sums:
        raise _not_flat("no area of one colour")
    keys, total = _joined(sums)
    return _peaks(total, counts[keys].astype(np.float64), full, noise, source.height * source.width)


def _joined(sums: list[tuple[NDArray[np.int64], FloatArray]]) -> tuple[NDArray[np.int64], FloatArray]:
    keys, back = np.unique(np.concatenate([key for key, _ in sums]), return_inverse=True)
    values = np.concatenate([value for _, value in sums])
    return keys, np.stack([np.bincount(back, values[:, c]) for c in range(3)], axis=1)


def _peaks(total: FloatArray, counts: FloatArray, full: int, noise: float, pixels: int) -> FloatArray:
    """Return peaks of a cloud of means, the heaviest first."""
    at = total / counts[:, None]
    radius = max(1.5 * noise, 1.75 / 255) * full
    free = np.ones(len(at), np.bool_)
    found: list[FloatArray] = []
    weight: list[float] = []
    order = np.argsort(-counts, kind="stable")
    for seed in order:
        if not free[seed]:
            continue
        centre = at[seed]
        for _ in range(4):
            near = np.linalg.norm(at - centre, axis=1) <= radius
            centre = total[near].sum(axis=0) / counts[near].sum()
        mine = (np.linalg.norm(at - centre, axis=1) <= 1.5 * radius) & free
        mine[seed] = True
        free &= ~mine
        count = float(counts[mine].sum())
        if count < max(_LEAST_FLAT, 1e-6 * pixels):
            continue
        beside = [w for f, w in zip(found, weight, strict=True) if np.linalg.norm(f - centre) < 3 * radius]
        close = [f for f in found if np.linalg.norm(f - centre) < radius]
        if close or (beside and count < _SATELLITE * max(beside)):
            continue
        found.append(centre)
        weight.append(count)
        if len(found) > 4 * MOST_COLOURS:
            raise _not_flat(f"more than {len(found) - 1} colours in flat areas")
    if not found:
        raise _not_flat("no area of one colour")
    return np.array([found[i] for i in np.argsort(-np.array(weight), kind="stable")])


def _spread_of(source: BandSource, space: LinearRgb, colours: FloatArray) -> float:
    """Return the noise of pixels about the flat colours, edges and what compression adds there included."""
    full = space.codes - 1
    reach = 10.0 / 255 * full
    counts = np.zeros(512, np.int64)
    for y0, y1 in bands_of(source):
        flat = source.read(y0, y1).reshape(-1, 3)
        keys, amount = np.unique(flat.astype(np.int64) @ np.array([1 << 32, 1 << 16, 1]), return_counts=True)
        codes = np.stack([keys >> 32, keys >> 16 & 65535, keys & 65535], axis=1).astype(np.float64)
        far = np.full(len(codes), np.inf)
        for colour in colours:
            far = np.minimum(far, np.linalg.norm(codes - colour, axis=1))
        near = far < reach
        counts += np.bincount((far[near] / reach * 511).astype(int), amount[near], minlength=512).astype(int)
    edge = int(np.searchsorted(np.cumsum(counts), 0.95 * counts.sum()))
    # Of three normal channels 95 % lie within 2.8 deviations.
    return edge / 511 * reach / full / 2.8


def _left_over(source: BandSource, space: LinearRgb, palette: Palette) -> float:
    """Return how badly mixed pixels are explained, over some bands."""
    unmixer = Unmixer(source, space, palette)
    bands = list(bands_of(source))
    total = 0.0
    for y0, y1 in bands[:: max(1, len(bands) // _MIXING_BANDS)]:
        made = unmixer.read(y0, y1)[1]
        total += float(np.minimum(made.rest[made.weights[..., 0] < 65535], 30.0).sum())
        total += float(np.minimum(made.rest[made.rest > _ODD], 30.0).sum())
    return total


def _unexplained(
    source: BandSource, space: LinearRgb, palette: Palette
) -> tuple[tuple[FloatArray, FloatArray], int]:
    """Return codes that the palette does not mix to, with their counts, and how many pixels have such."""
    unmixer = Unmixer(source, space, palette)
    keys: NDArray[np.int64] = np.zeros(0, np.int64)
    amounts: NDArray[np.float64] = np.zeros(0)
    count = 0
    for y0, y1 in bands_of(source):
        codes, made = unmixer.read(y0, y1)
        odd = codes[made.rest > _ODD].astype(np.int64)
        count += len(odd)
        key = odd @ np.array([1 << 32, 1 << 16, 1])
        keys, back = np.unique(np.concatenate([keys, key]), return_inverse=True)
        weights = np.concatenate([amounts, np.ones(len(key))])
        amounts = np.asarray(np.bincount(back, weights, minlength=len(keys)), dtype=np.float64)
        if len(keys) > 200_000:
            kept = np.argsort(-amounts, kind="stable")[:100_000]
            kept.sort()
            keys, amounts = keys[kept], amounts[kept]
    codes = np.stack([keys >> 32, keys >> 16 & 65535, keys & 65535], axis=1)
    order = np.argsort(-amounts, kind="stable")[:_MOST_BINS]
    return (codes[order].astype(np.float64), amounts[order]), count


def _line_colours(space: LinearRgb, palette: Palette, odd: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return colours in codes that together with the palette explain the rest, shape (m, 3)."""
    codes, amounts = odd
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
        scores = np.array([amounts[open_ & _explained(value, slope, known, value[i])].sum() for i in tried])
        own = int(tried[scores.argmax()])
        pure = open_ & ((((value - value[own]) * codes_apart) ** 2).sum(axis=1) <= _PURE_LINE**2)
        enough = scores.max() >= max(_LEAST_LINE, _LINE_SHARE * total) and amounts[pure].sum() >= _LEAST_PURE
        if not enough:
            break
        colour = np.average(codes[pure], axis=0, weights=amounts[pure] * _nearness(value, slope, own)[pure])
        found.append(colour)
        known = np.vstack([known, value[own]])
        open_ &= ~_explained(value, slope, known[:-1], value[own])
    return np.array(found).reshape(-1, 3)


def _nearness(value: FloatArray, slope: FloatArray, own: int) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (((value - value[own]) * slope) ** 2).sum(axis=1)))


def _explained(value: FloatArray, slope: FloatArray, known: FloatArray, new: FloatArray) -> NDArray[np.bool_]:
    """Return which values lie between a new colour and a known one."""
    to_new = (new - value) * slope
    done = (to_new**2).sum(axis=1) <= _ODD**2
    for one in known:
        span = (one - new) * slope
        length = (span**2).sum(axis=1)
        at = np.clip(-(to_new * span).sum(axis=1) / np.maximum(length, 1e-12), 0.0, 1.0)
        done |= ((to_new + at[:, None] * span) ** 2).sum(axis=1) <= _ODD**2
    return np.asarray(done)
