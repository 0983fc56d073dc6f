"""Colours of flat artwork after lossy compression: ripples beside edges are smoothed away first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.palette_flat import bands_of, is_between, not_flat
from strikeoff.artwork.unmix import MOST_COLOURS
from strikeoff.raster.bands import BandSource

FloatArray = NDArray[np.float64]

# Smoothing: how far it reaches, which codes count as alike, how often [pixels, 8-bit codes, -].
_REACH, _ALIKE, _ROUNDS = 3, 30.0, 4
_FLAT = 12.0
_RADIUS = 5.0
# What a ripple looks like beside the colour that it comes from [8-bit codes, share of its area].
_RIPPLE, _RIPPLE_SHARE = 26.0, 0.13
_SAME, _BETWEEN = 8.0, 8.0
# Share of pixels from which on a colour is sure; that below which it is none; how far it then stands alone.
_SURE, _LEAST, _LEAST_PIXELS, _ALONE = 5e-3, 3e-4, 25, 30.0


@dataclass(frozen=True)
class RaggedColours:
    """Colours in codes, the largest areas first.

    Attributes
    ----------
    codes : ndarray, shape (n, 3)
        Colours.
    is_sure : ndarray of bool, shape (n,)
        False for small areas, whose colour compression may have made or moved.
    maybe : ndarray, shape (m, 3)
        What is more likely a ripple than a colour.
    """

    codes: FloatArray
    is_sure: NDArray[np.bool_]
    maybe: FloatArray


def is_ragged(source: BandSource, space: LinearRgb) -> bool:
    """Return whether lossy compression left ripples, as steps between neighbours tell.

    Notes
    -----
    Drawn flat artwork has steps of nothing and steps of any size; noise has few steps of nothing, and its
    steps fall off as a normal distribution does. Ripples leave many of nothing, and among the others small
    ones far too often.
    """
    scale = (space.codes - 1) / 255.0
    counts = np.zeros(256, np.int64)
    for y0, y1 in bands_of(source):
        steps = np.abs(np.diff(source.read(y0, y1).astype(np.int32), axis=1)) / scale
        counts += np.bincount(np.rint(steps).astype(int).ravel(), minlength=256)
    small, large = counts[1:5].sum(), counts[5:61].sum()
    one = counts[1] / max(counts[0], 1)
    tail = counts[3:9].sum() / max(counts[1:3].sum(), 1)
    return bool(0.03 < one < 1.4 and tail > 0.4 and small > 0.5 * large)


def ragged_colours(source: BandSource, space: LinearRgb) -> RaggedColours:
    """Return the colours of artwork with ripples; reads it once, in bands.

    Raises
    ------
    InputError
        When the artwork is not flat.
    """
    at, weight = _smooth_means(source, space)
    codes, weights = _peaks(at, weight)
    pixels = source.height * source.width
    kept: list[int] = []
    sure: list[bool] = []
    maybe: list[int] = []
    for i, own in enumerate(weights):
        if own < max(_LEAST_PIXELS, _LEAST * pixels):
            break
        apart = np.linalg.norm(codes[kept] - codes[i], axis=1)
        if (apart < _SAME).any():
            continue
        ripple = (apart < _RIPPLE) & (own < _RIPPLE_SHARE * weights[kept])
        is_made = bool(ripple.any()) or is_between(codes, weights, kept, i, _BETWEEN)
        is_small = own < _SURE * pixels
        if is_made or (is_small and (apart < _ALONE).any()):
            maybe.append(i)
        else:
            kept.append(i)
            sure.append(not is_small)
    if not kept:
        raise not_flat("no area of one colour")
    if len(kept) > MOST_COLOURS:
        raise not_flat(f"{len(kept)} colours in flat areas")
    scale = (space.codes - 1) / 255.0
    return RaggedColours(codes[kept] * scale, np.array(sure), codes[maybe] * scale)


def _smooth_means(source: BandSource, space: LinearRgb) -> tuple[FloatArray, FloatArray]:
    """Return means of flat 3 x 3 pixels after smoothing, those alike in one, and how many each stands for."""
    from scipy.ndimage import maximum_filter, minimum_filter, uniform_filter

    from strikeoff.artwork.kernels_regions import smooth

    scale = np.float32((space.codes - 1) / 255.0)
    margin = _REACH * _ROUNDS + 1
    keys: NDArray[np.int64] = np.zeros(0, np.int64)
    sums: FloatArray = np.zeros((0, 4))
    for y0, y1 in bands_of(source):
        low, high = max(y0 - margin, 0), min(y1 + margin, source.height)
        band = np.ascontiguousarray(source.read(low, high), np.float32) / scale
        spare = np.empty_like(band)
        for _ in range(_ROUNDS):
            smooth(band, _REACH, _ALIKE, spare)
            band, spare = spare, band
        spread = (maximum_filter(band, (3, 3, 1)) - minimum_filter(band, (3, 3, 1))).max(axis=2)
        mean = uniform_filter(band, (3, 3, 1))
        inner = slice(y0 - low, y0 - low + y1 - y0)
        flat = mean[inner][spread[inner] <= _FLAT]
        key = np.rint(flat).astype(np.int64) @ np.array([65536, 256, 1])
        keys, back = np.unique(np.concatenate([keys, key]), return_inverse=True)
        added = np.vstack([sums, np.column_stack([flat, np.ones(len(flat))])])
        sums = np.stack([np.bincount(back, added[:, c], minlength=len(keys)) for c in range(4)], axis=1)
    if not len(keys):
        raise not_flat("no area of one colour")
    return sums[:, :3] / sums[:, 3:], sums[:, 3]


def _peaks(at: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return peaks of the cloud and their weights, the heaviest first."""
    free = np.ones(len(at), np.bool_)
    found, weights = [], []
    for seed in np.argsort(-weight, kind="stable"):
        if not free[seed]:
            continue
        if weight[free].sum() < _LEAST_PIXELS:
            break
        centre = at[seed]
        for _ in range(5):
            near = np.linalg.norm(at - centre, axis=1) <= _RADIUS
            centre = (at[near] * weight[near, None]).sum(axis=0) / weight[near].sum()
        mine = (np.linalg.norm(at - centre, axis=1) <= 1.5 * _RADIUS) & free
        mine[seed] = True
        free &= ~mine
        found.append(centre)
        weights.append(weight[mine].sum())
        if len(found) > 2000:
            raise not_flat("more than 2000 groups of colours")
    order = np.argsort(-np.array(weights), kind="stable")
    return np.array(found)[order], np.array(weights)[order]
