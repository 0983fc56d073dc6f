"""Colours of flat areas: peaks among means of pixels that differ by no more than noise."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.unmix import MOST_COLOURS
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import BandSource

FloatArray = NDArray[np.float64]

#: Rows that are read at a time.
ROWS = 256
_BINS = 256
_LEAST_FLAT = 3
_SATELLITE = 0.02
_MOST_NOISE = 0.04
#: Share of a larger colour's pixels below which a colour is small beside it.
SMALL = 0.1


def not_flat(found: str) -> InputError:
    """Return the error that artwork is not flat."""
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


def light_of(space: LinearRgb, codes: FloatArray) -> FloatArray:
    """Return linear light of codes that need not be whole."""
    at = np.arange(space.codes)
    return np.stack([np.interp(codes[:, c], at, space.curves[c]) for c in range(3)], axis=-1)


def noise_of(source: BandSource, space: LinearRgb) -> float:
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
        raise not_flat(f"noise of {100 * noise:.0f} % of the code range")
    return float(max(noise, floor))


def flat_colours(source: BandSource, space: LinearRgb, noise: float) -> tuple[FloatArray, FloatArray]:
    """Return colours of flat areas in codes, the largest first, shape (n, 3), and their pixels."""
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
        raise not_flat("no area of one colour")
    keys, total = _joined(sums)
    return _peaks(total, counts[keys].astype(np.float64), full, noise, source.height * source.width)


def _joined(sums: list[tuple[NDArray[np.int64], FloatArray]]) -> tuple[NDArray[np.int64], FloatArray]:
    keys, back = np.unique(np.concatenate([key for key, _ in sums]), return_inverse=True)
    values = np.concatenate([value for _, value in sums])
    return keys, np.stack([np.bincount(back, values[:, c]) for c in range(3)], axis=1)


def _peaks(
    total: FloatArray, counts: FloatArray, full: int, noise: float, pixels: int
) -> tuple[FloatArray, FloatArray]:
    """Return peaks of a cloud of means and their weights, the heaviest first."""
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
            raise not_flat(f"more than {len(found) - 1} colours in flat areas")
    if not found:
        raise not_flat("no area of one colour")
    order = np.argsort(-np.array(weight), kind="stable")
    return np.array(found)[order], np.array(weight)[order]


def spread_of(source: BandSource, space: LinearRgb, colours: FloatArray) -> float:
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


def is_between(codes: FloatArray, weights: FloatArray, others: Sequence[int], own: int, near: float) -> bool:
    """Return whether a colour may be a mixture of two much larger ones.

    Parameters
    ----------
    codes, weights : ndarray, shape (n, 3) and (n,)
        Colours, and how many pixels each stands for.
    others : sequence of int
        Which it may be mixed of.
    own : int
        Which it is.
    near : float
        Largest distance from the line between the two. [codes]
    """
    large = [k for k in others if weights[own] < SMALL * weights[k]]
    for n, a in enumerate(large):
        for b in large[:n]:
            span = codes[b] - codes[a]
            at = float((codes[own] - codes[a]) @ span / (span @ span))
            if 0.02 < at < 0.98 and np.linalg.norm(codes[a] + at * span - codes[own]) < near:
                return True
    return False


def doubtful(codes: FloatArray, weights: FloatArray, noise: float) -> NDArray[np.bool_]:
    """Return which small colours noise may have made of larger ones beside them, or two of a mixture.

    Parameters
    ----------
    codes, weights : ndarray, shape (n, 3) and (n,)
        From `flat_colours`.
    noise : float
        Standard deviation of a code. [codes]
    """
    found = np.zeros(len(codes), np.bool_)
    for own in range(1, len(codes)):
        large = [k for k in range(own) if weights[own] < SMALL * weights[k]]
        apart = np.linalg.norm(codes[large] - codes[own], axis=1)
        found[own] = (apart < 4.0 * noise).any() or is_between(codes, weights, large, own, 1.5 * noise)
    return found
