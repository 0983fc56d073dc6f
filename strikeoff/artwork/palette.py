"""Finding the palette of flat artwork, and saying how sure it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.palette_flat import (
    bands_of,
    doubtful,
    flat_colours,
    light_of,
    noise_of,
    not_flat,
    spread_of,
)
from strikeoff.artwork.palette_lines import NOISY, ODD, Odd, line_colours, odd_places, unexplained
from strikeoff.artwork.palette_ragged import is_ragged, ragged_colours
from strikeoff.artwork.unmix import MOST_COLOURS, Palette, Unmixer
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import BandSource

FloatArray = NDArray[np.float64]

#: Share of pixels that no palette explains, above which artwork is not flat; the second after compression.
MOST_UNEXPLAINED, MOST_UNEXPLAINED_RAGGED = 0.05, 0.25
#: Share of pixels of one palette colour, below which artwork is not flat.
LEAST_PURE = 0.35
_MIXING_BANDS = 8
# Unexplained share from which on a colour may be missing: drawn, and in noise.
_WORTH_A_DOUBT, _WORTH_A_DOUBT_IN_NOISE = 4e-3, 5e-4
_MOST_MAYBE = 16
_RAGGED_NOISE = 5.0 / 255


@dataclass(frozen=True)
class FoundPalette:
    """A palette, and how sure it is.

    Attributes
    ----------
    palette : Palette
        Largest areas first, then lines.
    is_sure : ndarray of bool, shape (n,)
        False for colours that noise or compression may have made or moved.
    maybe : ndarray, shape (m, 3)
        Linear light of what is more likely none.
    doubts : tuple of str
        Why a person should look; empty when sure.
    """

    palette: Palette
    is_sure: NDArray[np.bool_]
    maybe: FloatArray
    doubts: tuple[str, ...]


def find_palette(
    source: BandSource,
    space: LinearRgb,
    step: Callable[[float], None] = lambda fraction: None,
    *,
    count: int | None = None,
) -> FoundPalette:
    """Return the colours of flat artwork.

    Parameters
    ----------
    source : BandSource
        RGB of as many codes as the space.
    space : LinearRgb
        Of those codes.
    step : callable
        Told the fraction done, 0-1.
    count : int, optional
        How many colours a person says there are.

    Raises
    ------
    InputError
        When the artwork is not flat: more than 40 colours, or pixels that no few colours mix to; or when
        fewer colours than ``count`` can be told apart.

    Notes
    -----
    Colours are the peaks among means of 3 x 3 pixels that differ by no more than noise, so that noise of a
    third sets them apart and edges make none. What those cannot mix to is searched for lines: the colour is
    taken that together with the others explains most of it. Artwork with ripples of lossy compression is
    smoothed first, and colours of its lines are proposed only: compression moves them. Reads the artwork
    about six times, in bands.
    """
    ragged = is_ragged(source, space)
    if ragged:
        coarse = ragged_colours(source, space)
        codes, is_sure, maybe = coarse.codes, coarse.is_sure, coarse.maybe
        noise = _RAGGED_NOISE
    else:
        noise = noise_of(source, space)
        codes, weights = flat_colours(source, space, noise)
        is_sure, maybe = np.ones(len(codes), np.bool_), np.zeros((0, 3))
        if noise > NOISY:
            is_sure = ~doubtful(codes, weights, noise * (space.codes - 1))
    step(0.3)
    palette = fit_palette(source, space, light_of(space, codes), noise)
    step(0.6)
    odd = unexplained(source, space, palette)
    lines = line_colours(space, palette, odd)
    step(0.8)
    if ragged:
        # Compression makes colours of its own beside edges: these are no more than proposals.
        maybe, lines = np.vstack([maybe, lines])[:_MOST_MAYBE], np.zeros((0, 3))
    if len(codes) + len(lines) > MOST_COLOURS:
        raise not_flat(f"{len(codes) + len(lines)} colours")
    if len(lines):
        palette = replace(palette, linear=np.vstack([palette.linear, light_of(space, lines)]))
        is_sure = np.append(is_sure, np.full(len(lines), palette.noise <= NOISY))
        odd = unexplained(source, space, palette)
    check_flat(source, space, palette, odd.share, ragged=ragged)
    found = FoundPalette(palette, is_sure, light_of(space, maybe), _doubts(palette, is_sure, odd, ragged))
    step(1.0)
    return found if count is None else _of_count(found, count)


def fit_palette(
    source: BandSource, space: LinearRgb, linear: FloatArray, noise: float | None = None
) -> Palette:
    """Return given colours with the noise about them and the way in which edges are mixed.

    Parameters
    ----------
    source, space
        As for `find_palette`.
    linear : ndarray, shape (n, 3)
        Linear light of the colours.
    noise : float, optional
        Least noise; measured by default. [share of the code range]
    """
    if noise is None:
        noise = _RAGGED_NOISE if is_ragged(source, space) else noise_of(source, space)
    noise = max(noise, spread_of(source, space, space.encode(linear).astype(np.float64)))
    start = Palette(linear, noise, "linear")
    best = min(
        ("linear", "encoded"), key=lambda mixing: _left_over(source, space, replace(start, mixing=mixing))
    )
    return replace(start, mixing=best)


def check_flat(
    source: BandSource, space: LinearRgb, palette: Palette, share: float, *, ragged: bool = False
) -> None:
    """Raise InputError when too many pixels are no mixtures, or too few one colour alone."""
    if share > (MOST_UNEXPLAINED_RAGGED if ragged else MOST_UNEXPLAINED):
        raise not_flat(f"{100 * share:.0f} % of the pixels are no mixtures of {len(palette.linear)} colours")
    pure = sampled(Unmixer(source, space, palette))[1]
    if pure < LEAST_PURE:
        raise not_flat(f"only {100 * pure:.0f} % of the pixels are one colour alone")


def sampled(unmixer: Unmixer) -> tuple[float, float]:
    """Return the shares of pixels that are no mixtures, and of one palette colour alone, over some bands."""
    odd = pure = total = 0
    for band in _some_bands(unmixer.source):
        made = unmixer.read(*band)[1]
        missed = odd_places(made.rest, unmixer.palette)
        odd += int(missed.sum())
        pure += int(((made.weights[..., 0] == 65535) & ~missed).sum())
        total += missed.size
    return odd / total, pure / total


def _some_bands(source: BandSource) -> list[tuple[int, int]]:
    bands = list(bands_of(source))
    return bands[:: max(1, len(bands) // _MIXING_BANDS)]


def _doubts(palette: Palette, is_sure: NDArray[np.bool_], odd: Odd, ragged: bool) -> tuple[str, ...]:
    doubts = []
    if ragged:
        doubts.append(
            "lossy compression or sharpening left ripples beside edges: colours of lines and of areas"
            " narrower than about 8 pixels are lost or moved"
        )
    if not is_sure.all() and not ragged:
        doubts.append("colours of thin lines and small areas were read through noise")
    if odd.share > (_WORTH_A_DOUBT_IN_NOISE if palette.noise > NOISY else _WORTH_A_DOUBT):
        doubts.append(
            f"{100 * odd.share:.2f} % of the pixels are no mixture of these colours: one may be missing"
        )
    return tuple(doubts)


def _of_count(found: FoundPalette, count: int) -> FoundPalette:
    """Return as many colours as a person says there are: sure ones first, then the others by area."""
    linear = np.vstack([found.palette.linear, found.maybe])
    if not 1 <= count <= len(linear):
        raise InputError(
            "not so many colours can be told apart",
            found=count,
            expected=f"1 to {len(linear)}",
            advice="Write the colours that are known into the palette by hand",
        )
    sure = np.append(found.is_sure, np.zeros(len(found.maybe), np.bool_))
    kept = np.sort(np.argsort(~sure, kind="stable")[:count])
    rest = np.setdiff1d(np.arange(len(linear)), kept)
    palette = replace(found.palette, linear=linear[kept])
    return replace(found, palette=palette, is_sure=sure[kept], maybe=linear[rest])


def _left_over(source: BandSource, space: LinearRgb, palette: Palette) -> float:
    """Return how badly mixed pixels are explained, over some bands."""
    unmixer = Unmixer(source, space, palette)
    total = 0.0
    for y0, y1 in _some_bands(source):
        made = unmixer.read(y0, y1)[1]
        total += float(np.minimum(made.rest[made.weights[..., 0] < 65535], 30.0).sum())
        total += float(np.minimum(made.rest[made.rest > ODD], 30.0).sum())
    return total
