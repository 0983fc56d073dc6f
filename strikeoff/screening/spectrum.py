"""Power spectrum of dot patterns: how even, how fine and how undirected the dots lie.

References
----------
R. A. Ulichney, Digital Halftoning, MIT Press 1987, chapter 3 (radially averaged power spectrum,
anisotropy, principal frequency).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class RadialSpectrum:
    """Power averaged over rings one frequency step wide.

    Attributes
    ----------
    frequency : ndarray
        Middle of the rings. [cycles/px]
    power : ndarray
        Mean power, 1 for dots set at random (white noise). [-]
    anisotropy : ndarray
        Variance over squared mean within a ring; 1 for an undirected random pattern. [-]
    tone : float
        Share of dots, 0-1.
    """

    frequency: NDArray[np.float64]
    power: NDArray[np.float64]
    anisotropy: NDArray[np.float64]
    tone: float

    def mean_below(self, frequency: float) -> float:
        """Return the mean power of the rings up to a frequency, the zero ring left out."""
        rings = (self.frequency > 0) & (self.frequency <= frequency)
        return float(self.power[rings].mean())


def principal_frequency(tone: float) -> float:
    """Return the frequency of evenly spread minority dots, in cycles per pixel.

    Examples
    --------
    >>> round(principal_frequency(0.1), 4), round(principal_frequency(0.9), 4)
    (0.3162, 0.3162)
    """
    return float(np.sqrt(min(tone, 1.0 - tone)))


def radial_spectrum(dots: NDArray[Any]) -> RadialSpectrum:
    """Return the radially averaged power spectrum of a square pattern of 0 and 1.

    Parameters
    ----------
    dots : ndarray, shape (n, n)
        Pattern; taken as periodic, so a window cut from a larger pattern leaks a little.

    Raises
    ------
    ValueError
        When the pattern is not square, or all of its cells are equal.
    """
    n = len(dots)
    tone = float(np.mean(dots))
    if dots.shape != (n, n) or not 0.0 < tone < 1.0:
        raise ValueError("a square pattern with dots and gaps is needed")
    power = np.abs(np.fft.fft2(dots - tone)) ** 2 / (dots.size * tone * (1.0 - tone))
    step = np.minimum(np.arange(n), n - np.arange(n))
    ring = np.rint(np.hypot(step[:, None], step[None, :])).astype(int).ravel()
    count = np.bincount(ring)
    mean = np.bincount(ring, power.ravel()) / count
    deviation = (power.ravel() - mean[ring]) ** 2
    variance = np.bincount(ring, deviation) / np.maximum(count - 1, 1)
    anisotropy = np.divide(variance, mean**2, out=np.zeros_like(mean), where=mean > 1e-12)
    return RadialSpectrum(np.arange(len(mean)) / n, mean, anisotropy, tone)
