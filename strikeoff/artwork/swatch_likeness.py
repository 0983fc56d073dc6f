"""How alike a swatch is to itself, moved: the peaks that a repeat makes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

FloatArray = NDArray[np.float64]

#: Most of a side by which a swatch is moved: two whole repeats must be there. [-]
MOST_SHIFT = 0.505
_SMOOTH_PX = 1.2
_LEAST_SHIFT_PX = 8
_LEAST_LIKE = 0.3
_WINDOW_PX, _RIM_PX = 7, 3


@dataclass(frozen=True)
class Likeness:
    """Correlation of a picture with itself, moved.

    Attributes
    ----------
    values : ndarray, shape (2 * down + 1, 2 * over + 1)
        Of the pixels that lie over each other, -1 to 1; row ``down``, column ``over`` is no move. [-]
    down, over : int
        Largest moves along and across. [pixels]
    """

    values: FloatArray
    down: int
    over: int

    def peak_near(self, across: float, along: float, reach: int) -> tuple[float, float, float] | None:
        """Return the highest place (across, along, likeness) near a move, to parts of a pixel."""
        y, x = round(along) + self.down, round(across) + self.over
        top, left = max(1, y - reach), max(1, x - reach)
        window = self.values[
            top : min(y + reach + 1, len(self.values) - 1),
            left : min(x + reach + 1, self.values.shape[1] - 1),
        ]
        if window.size == 0:
            return None
        row, column = np.unravel_index(int(window.argmax()), window.shape)
        return self._fine(top + int(row), left + int(column))

    def peaks(self) -> list[tuple[float, float, float]]:
        """Return the local peaks (across, along, likeness), half of them: the others are opposite."""
        highest = ndimage.maximum_filter(self.values, size=7, mode="constant", cval=-1.0)
        is_peak = (self.values == highest) & (self.values >= _LEAST_LIKE)
        is_peak[: self.down] = False
        is_peak[self.down, : self.over + 1] = False
        is_peak[-1], is_peak[:, 0], is_peak[:, -1] = False, False, False
        found = [self._fine(int(y), int(x)) for y, x in zip(*np.nonzero(is_peak), strict=True)]
        return [p for p in found if np.hypot(p[0], p[1]) >= _LEAST_SHIFT_PX]

    def _fine(self, y: int, x: int) -> tuple[float, float, float]:
        near = self.values[y - 1 : y + 2, x - 1 : x + 2]
        dx, dy = _vertex(near[1]), _vertex(near[:, 1])
        high = near[1, 1] + (near[1, 2] - near[1, 0]) * dx / 4 + (near[2, 1] - near[0, 1]) * dy / 4
        return x - self.over + dx, y - self.down + dy, float(high)


def likeness(picture: FloatArray) -> Likeness:
    """Return how alike a picture is to itself under every move of up to half its sides.

    Parameters
    ----------
    picture : ndarray, shape (h, w, channels)
        Samples, 0-1. Slow changes of the light (second order) are taken off first.

    Notes
    -----
    Normalised correlation over the overlap of each move by fast Fourier transforms: D. Padfield, IEEE
    Transactions on Image Processing 21 (2012), 2706-2718 (from memory).
    """
    height, width, channels = picture.shape
    down, over = int(height * MOST_SHIFT), int(width * MOST_SHIFT)
    size = fft.next_fast_len(height + down + 2, real=True), fft.next_fast_len(width + over + 2, real=True)

    def spectrum(field: FloatArray) -> NDArray[np.complexfloating]:
        return np.asarray(fft.rfft2(field, size))

    ones = spectrum(np.ones((height, width)))

    def moved(first: NDArray[np.complexfloating], second: NDArray[np.complexfloating]) -> FloatArray:
        whole = fft.irfft2(np.conj(first) * second, size)
        rows = np.arange(-down, down + 1) % size[0]
        columns = np.arange(-over, over + 1) % size[1]
        return np.asarray(whole[np.ix_(rows, columns)])

    count = np.maximum(moved(ones, ones), 1.0)
    both = left = right = np.zeros_like(count)
    for channel in range(channels):
        field = _level(picture[..., channel])
        plain, squared = spectrum(field), spectrum(field**2)
        here, there = moved(plain, ones), moved(ones, plain)
        both = both + moved(plain, plain) - here * there / count
        left = left + moved(squared, ones) - here**2 / count
        right = right + moved(ones, squared) - there**2 / count
    spread = np.sqrt(np.maximum(left, 0.0) * np.maximum(right, 0.0))
    # Parts without a drawing are alike to all; they prove nothing.
    flat = spread <= 0.02 * spread[down, over]
    return Likeness(np.where(flat, 0.0, both / np.where(flat, 1.0, spread)), down, over)


def worst_places(picture: FloatArray, moves: list[tuple[float, float]]) -> list[float]:
    """Return how far a picture and itself, moved, are apart where they are most so.

    Parameters
    ----------
    picture : ndarray, shape (h, w, channels)
        Samples, 0-1.
    moves : list of (float, float)
        Right and down. [pixels]

    Returns
    -------
    list of float
        Largest mean square difference of a small window, in parts of the picture's own variance. Two
        motifs nearly alike differ in one place only, which no mean over the picture shows.
    """
    levels = [_level(picture[..., c]) for c in range(picture.shape[2])]
    height, width = picture.shape[:2]
    usual = sum(float(level.var()) for level in levels)
    found = []
    for x, y in moves:
        apart = np.zeros((height, width))
        for level in levels:
            there = ndimage.shift(level, (-y, -x), order=1, mode="nearest")
            apart += (level - there) ** 2
        left, top = max(0, math.ceil(-x)) + _RIM_PX, max(0, math.ceil(-y)) + _RIM_PX
        right, low = width - max(0, math.ceil(x)) - _RIM_PX, height - max(0, math.ceil(y)) - _RIM_PX
        means = ndimage.uniform_filter(apart[top:low, left:right], _WINDOW_PX, mode="nearest")
        found.append(float(means.max()) / usual if means.size and usual > 0 else math.inf)
    return found


def _level(field: FloatArray) -> FloatArray:
    """Return a channel without its slow change of light, a little smoothed."""
    height, width = field.shape
    y, x = np.meshgrid(np.linspace(-1, 1, height), np.linspace(-1, 1, width), indexing="ij")
    terms = np.stack([np.ones_like(x), x, y, x * y, x**2, y**2], axis=-1).reshape(-1, 6)
    flat = field.reshape(-1)
    thin = slice(None, None, max(1, len(flat) // 60_000))
    weights = np.linalg.lstsq(terms[thin], flat[thin], rcond=None)[0]
    level = (flat - terms @ weights).reshape(height, width)
    return np.asarray(ndimage.gaussian_filter(level, _SMOOTH_PX, mode="nearest"))


def _vertex(three: FloatArray) -> float:
    curve = three[0] - 2 * three[1] + three[2]
    return 0.0 if curve >= 0 else float(np.clip((three[0] - three[2]) / (2 * curve), -0.5, 0.5))
