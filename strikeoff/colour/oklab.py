"""Oklab: an opponent space in which lines of constant hue look straight, blue included.

References
----------
B. Ottosson, "A perceptual color space for image processing", 2020 (definition and matrices).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.colour.adaptation import adaptation_matrix

FloatArray = NDArray[np.float64]

_WHITE_D65 = np.array([0.95047, 1.0, 1.08883])

_TO_CONES = np.array(
    [
        [0.8189330101, 0.3618667424, -0.1288597137],
        [0.0329845436, 0.9293118715, 0.0361456387],
        [0.0482003018, 0.2643662691, 0.6338517070],
    ]
)

_TO_OPPONENT = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)


def xyz_to_oklab(xyz: ArrayLike, white: ArrayLike) -> FloatArray:
    """Return Oklab of XYZ seen under a white.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        Tristimulus values, any common scale.
    white : array_like, shape (3,)
        The adopted white in the same scale; it gets L = 1, a = b = 0 within the matrices' rounding.

    Returns
    -------
    ndarray, shape (..., 3)
        L 0-1, a, b. [-]

    Examples
    --------
    >>> xyz_to_oklab([0.95047, 1.0, 1.08883], [0.95047, 1.0, 1.08883]).round(3).tolist()
    [1.0, -0.0, -0.0]
    """
    cones = np.asarray(xyz, dtype=np.float64) @ (_TO_CONES @ _adaptation(white)).T
    return np.asarray(np.cbrt(cones) @ _TO_OPPONENT.T)


def oklab_to_xyz(oklab: ArrayLike, white: ArrayLike) -> FloatArray:
    """Return XYZ of Oklab; the inverse of :func:`xyz_to_oklab`.

    Parameters
    ----------
    oklab : array_like, shape (..., 3)
        L, a, b. [-]
    white : array_like, shape (3,)
        The adopted white; the result has its scale.

    Returns
    -------
    ndarray, shape (..., 3)
    """
    cones = (np.asarray(oklab, dtype=np.float64) @ np.linalg.inv(_TO_OPPONENT).T) ** 3
    return np.asarray(cones @ np.linalg.inv(_TO_CONES @ _adaptation(white)).T)


def cone_roots(oklab: ArrayLike) -> FloatArray:
    """Return the cube roots of the three cone responses of Oklab, shape (..., 3), 1 for white.

    Examples
    --------
    >>> cone_roots([0.5, 0.0, 0.0]).round(3).tolist()
    [0.5, 0.5, 0.5]
    """
    return np.asarray(np.asarray(oklab, dtype=np.float64) @ np.linalg.inv(_TO_OPPONENT).T)


def _adaptation(white: ArrayLike) -> FloatArray:
    source = np.asarray(white, dtype=np.float64)
    unit = source / source[1]
    return np.asarray(adaptation_matrix(unit, _WHITE_D65, "bradford") / source[1])
