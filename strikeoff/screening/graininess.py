"""How grainy a pattern of drops looks from a distance.

References
----------
R. Näsänen, Visibility of halftone dot textures, IEEE Trans. Systems, Man, and Cybernetics 14 (1984),
920-924: contrast sensitivity 131.6 L^0.3188 exp(-f / (0.525 ln L + 3.91)).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

_LUMINANCE_CD_M2 = 100.0


def sensitivity_nasanen_1984(
    frequency: ArrayLike, luminance_cd_m2: float = _LUMINANCE_CD_M2
) -> NDArray[np.float64]:
    """Return the eye's relative sensitivity to a frequency, 1 at 0.

    Parameters
    ----------
    frequency : array_like
        [cycles/degree]
    luminance_cd_m2 : float
        Mean luminance. [cd/m2]

    Examples
    --------
    >>> round(float(sensitivity_nasanen_1984(6.328)), 3)
    0.368
    """
    fall = 0.525 * np.log(luminance_cd_m2) + 3.91
    return np.asarray(np.exp(-np.asarray(frequency, np.float64) / fall))


def graininess(
    drops: NDArray[Any],
    wanted: ArrayLike,
    pitch_mm: tuple[float, float] = (25.4 / 600, 25.4 / 600),
    distance_mm: float = 300.0,
) -> float:
    """Return the standard deviation of what the eye sees of a pattern's error.

    Parameters
    ----------
    drops : ndarray, shape (rows, columns)
        Pattern, 0-1; its edges are taken as joined.
    wanted : array_like, broadcastable to the same shape
        Tone that it stands for, 0-1. [-]
    pitch_mm : tuple of float
        Pixel pitch, across and along. [mm]
    distance_mm : float
        From the eye. [mm]

    Returns
    -------
    float
        [-]
    """
    error = drops - np.broadcast_to(np.asarray(wanted, np.float64), drops.shape)
    degree_mm = np.pi * distance_mm / 180.0
    along = np.fft.fftfreq(drops.shape[0], pitch_mm[1])[:, None] * degree_mm
    across = np.fft.fftfreq(drops.shape[1], pitch_mm[0])[None, :] * degree_mm
    seen = np.fft.fft2(error - error.mean()) * sensitivity_nasanen_1984(np.hypot(along, across))
    return float(np.sqrt((np.abs(seen) ** 2).sum()) / error.size)
