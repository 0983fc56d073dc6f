"""The colours of artwork against what a condition can print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.colour import profile_to_lab
from strikeoff.artwork.records import CHANNELS, Artwork
from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import render

FloatArray = NDArray[np.float64]

_LEVELS = (32, 16, 8)
_MOST_COLOURS = 6000


@dataclass(frozen=True)
class ColourNeed:
    """What the small picture asks of the inks.

    Attributes
    ----------
    lab : ndarray, shape (h, w, 3)
        Media-relative colours that are asked for.
    error : ndarray, shape (h, w)
        How far the nearest printable colour is. [CIEDE2000]
    inks : ndarray, shape (h, w, n_inks)
        Calibrated ink under the chosen intent, named colours on top. [-]
    total : ndarray, shape (h, w)
        Weighted total ink before it is held, 1 = one full ink. [-]
    worst : tuple of (lab, reached lab, error, share)
        Colours farthest from the gamut, at most six, no two alike.
    """

    lab: FloatArray
    error: FloatArray
    inks: FloatArray
    total: FloatArray
    worst: tuple[tuple[FloatArray, FloatArray, float, float], ...]


def display_lab(artwork: Artwork, small: FloatArray) -> FloatArray:
    """Return colours to look at; CMYK that nobody described by a rule of thumb.

    Parameters
    ----------
    artwork : Artwork
        Whose samples they are.
    small : ndarray, shape (h, w, channels)
        Process samples first, 0-1.
    """
    process = small[..., : CHANNELS[artwork.kind]].reshape(-1, CHANNELS[artwork.kind])
    if artwork.kind == "cmyk" and artwork.profile is None:
        rgb = (1.0 - process[:, :3]) * (1.0 - process[:, 3:])
        lab = profile_to_lab(None, "rgb", rgb)
    else:
        lab = profile_to_lab(artwork.profile, artwork.kind, np.clip(process, 0.0, 1.0))
    return lab.reshape(*small.shape[:2], 3)


def colour_need(
    artwork: Artwork,
    small: FloatArray,
    condition: Condition,
    intent: str,
    named_inks: Mapping[str, int],
    tints: Mapping[str, NDArray[np.uint16]] = MappingProxyType({}),
    *,
    cover: FloatArray | None = None,
) -> ColourNeed:
    """Return what a small picture asks of the inks.

    Its colours are rounded to at most 32 levels a channel, so that each is solved for once.

    Parameters
    ----------
    artwork : Artwork
        With a known colour space.
    small : ndarray, shape (h, w, channels)
        Process samples, then named ones, 0-1.
    condition : Condition
        Where it will be printed.
    intent : str
        Rendering intent.
    named_inks : dict of str to int
        Named colours and the inks that they pass to.
    tints : dict of str to ndarray of uint16, shape (steps, n_inks)
        Named colours and their inks at even tints.
    cover : ndarray, shape (h, w, 1), optional
        How much of each pixel is covered, 0-1, where the cloth is bare else; ``small`` is then as if it were
        opaque. Inks and errors count by it.
    """
    channels = CHANNELS[artwork.kind]
    shape = small.shape[:2]
    values, index = _rounded(small[..., :channels].reshape(-1, channels))
    lab = profile_to_lab(artwork.profile, artwork.kind, values)
    reached = render(condition, lab, "relative")
    # The black of the colour space, as in the table that artwork is separated by: a picture need not have it.
    corners = np.array(list(product((0.0, 1.0), repeat=channels)))
    ends = profile_to_lab(artwork.profile, artwork.kind, corners)
    black = float(np.clip(lab_to_xyz(ends[ends[:, 0].argmin()], np.ones(3))[1], 0.0, 0.9))
    planned = render(condition, lab, intent, source_black=black).inks
    inks, error = planned[index].reshape(*shape, condition.n_inks), reached.de00[index].reshape(shape)
    if cover is not None:
        inks, error = inks * cover, error * cover[..., 0]
    for at, name in enumerate(artwork.named):
        if name in named_inks:
            ink = named_inks[name]
            inks[..., ink] = np.minimum(inks[..., ink] + small[..., channels + at], 1.0)
        elif name in tints:
            step = np.rint(np.clip(small[..., channels + at], 0.0, 1.0) * (len(tints[name]) - 1))
            inks = np.minimum(inks + tints[name][step.astype(np.intp)] / 65535.0, 1.0)
    covered = None if cover is None else cover.ravel()
    shares = np.bincount(index, covered, minlength=len(values)) / len(index)
    return ColourNeed(
        lab=lab[index].reshape(*shape, 3),
        error=error,
        inks=inks,
        total=condition.limits.sums(inks),
        worst=_worst(lab, condition.connection.to_relative(reached.lab), reached.de00, shares),
    )


def _rounded(samples: FloatArray) -> tuple[FloatArray, NDArray[Any]]:
    """Return the different colours and which one each pixel has."""
    for levels in _LEVELS:
        codes = np.rint(np.clip(samples, 0.0, 1.0) * (levels - 1)).astype(np.int64)
        packed = codes @ (levels ** np.arange(codes.shape[1]))
        known, first, index = np.unique(packed, return_index=True, return_inverse=True)
        if len(known) <= _MOST_COLOURS or levels == _LEVELS[-1]:
            break
    return codes[first] / (levels - 1.0), index


def _worst(
    lab: FloatArray, reached: FloatArray, error: FloatArray, shares: FloatArray
) -> tuple[tuple[FloatArray, FloatArray, float, float], ...]:
    chosen: list[int] = []
    seen = shares > 1e-4
    for row in np.argsort(-error * seen):
        if error[row] < 1.0 or len(chosen) == 6 or not seen[row]:
            break
        if all(np.linalg.norm(lab[row] - lab[other]) > 12.0 for other in chosen):
            chosen.append(int(row))
    return tuple((lab[r], reached[r], float(error[r]), float(shares[r])) for r in chosen)
