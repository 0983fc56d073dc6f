"""Chromatic adaptation between two whites."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError, UsageError

FloatArray = NDArray[np.float64]
Method = Literal["bradford", "cat02", "cat16", "von-kries"]

# Sharpened cone responses from XYZ. Bradford: ICC.1:2022, annex E. CAT02: CIE 159:2004. CAT16: CIE 248:2022.
# von Kries: Hunt-Pointer-Estevez cones normalised to D65.
_CONES: dict[str, FloatArray] = {
    "bradford": np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]),
    "cat02": np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]]),
    "cat16": np.array(
        [[0.401288, 0.650173, -0.051461], [-0.250268, 1.204414, 0.045854], [-0.002079, 0.048952, 0.953127]]
    ),
    "von-kries": np.array([[0.40024, 0.70760, -0.08081], [-0.22630, 1.16532, 0.04570], [0.0, 0.0, 0.91822]]),
}
METHODS = tuple(_CONES)


def adaptation_matrix(white_from: ArrayLike, white_to: ArrayLike, method: Method = "bradford") -> FloatArray:
    """Return the 3 x 3 matrix that carries XYZ (as a column) from one white to another, fully adapted.

    Parameters
    ----------
    white_from, white_to : array_like, shape (3,)
        XYZ of the two whites, in the same scale.
    method : {"bradford", "cat02", "cat16", "von-kries"}
        Cone space in which the whites are scaled.

    Returns
    -------
    ndarray, shape (3, 3)

    Raises
    ------
    UsageError
        Unknown method.
    InputError
        A white that is not positive.

    References
    ----------
    ICC.1:2022, annex E (Bradford); CIE 159:2004 (CAT02); CIE 248:2022 (CAT16).

    Examples
    --------
    >>> d65, d50 = [95.047, 100, 108.883], [96.422, 100, 82.521]
    >>> adaptation_matrix(d65, d50).round(4).tolist()[0]
    [1.0478, 0.0229, -0.0501]
    """
    if method not in _CONES:
        raise UsageError("unknown adaptation method", found=method, expected=", ".join(METHODS))
    source, target = np.asarray(white_from, dtype=np.float64), np.asarray(white_to, dtype=np.float64)
    for white in (source, target):
        if white.shape != (3,) or not np.all(np.isfinite(white)) or not np.all(white > 0):
            raise InputError(
                "white is not a positive XYZ", found=white.tolist(), expected="three numbers > 0"
            )
    cones = _CONES[method]
    gains = (cones @ target) / (cones @ source)
    return np.asarray(np.linalg.solve(cones, gains[:, None] * cones), dtype=np.float64)


def adapt(
    xyz: ArrayLike, white_from: ArrayLike, white_to: ArrayLike, method: Method = "bradford"
) -> FloatArray:
    """Return XYZ seen under one white as corresponding XYZ under another.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        Colours under ``white_from``.
    white_from, white_to : array_like, shape (3,)
        XYZ of the two whites, in the same scale.
    method : {"bradford", "cat02", "cat16", "von-kries"}
        See `adaptation_matrix`.

    Returns
    -------
    ndarray, shape (..., 3)

    Examples
    --------
    >>> adapt([95.047, 100, 108.883], [95.047, 100, 108.883], [96.422, 100, 82.521]).round(3).tolist()
    [96.422, 100.0, 82.521]
    """
    return np.asarray(
        np.asarray(xyz, dtype=np.float64) @ adaptation_matrix(white_from, white_to, method).T,
        dtype=np.float64,
    )
