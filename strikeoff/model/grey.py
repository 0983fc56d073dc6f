"""Grey definitions: which a*, b* count as neutral between the cloth and black.

References
----------
Substrate-relative grey that fades with lightness: the form recalled from ISO 12647-2:2013, whose
factor of 0.85 is disagreed about and therefore a setting.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

GreyDefinition = Literal["cloth", "fading", "absolute"]
GREYS: tuple[str, ...] = get_args(GreyDefinition)

_ABSOLUTE_BY = 10.0
# ISO/CIE 11664-4: where the cube root of CIELAB gives way to a straight line. [L*]
_LINEAR_L = 8.0


def grey_axis(
    definition: str, fade: float, cloth_lab: FloatArray, black_l: float, lightness: FloatArray
) -> FloatArray:
    """Return a*, b* of greys, shape (m, 2).

    Parameters
    ----------
    definition : {"cloth", "fading", "absolute"}
        Cloth: the cloth's XYZ scaled down, a* = a*cloth (L* + 16) / (L*cloth + 16) by the definition of
        CIELAB, and b* alike; 0 at L* = 0. Fading: a* = a*cloth (1 - fade (L*cloth - L*) / (L*cloth -
        L*black)), b* alike. Absolute: 0, reached within 10 L* below the cloth, which itself stays bare.
    fade : float
        How far the cloth's own colour has gone at black, 0-1. [-]
    cloth_lab : ndarray, shape (3,)
        Bare cloth, absolute.
    black_l : float
        L* of black, absolute.
    lightness : ndarray, shape (m,)
        Absolute L*.

    Examples
    --------
    >>> cloth = np.array([95.0, 1.5, -6.0])
    >>> grey_axis("fading", 0.85, cloth, 15.0, np.array([95.0, 55.0, 15.0])).round(4).tolist()
    [[1.5, -6.0], [0.8625, -3.45], [0.225, -0.9]]
    >>> grey_axis("cloth", 0.85, cloth, 15.0, np.array([95.0, 39.5, 0.0])).round(4).tolist()
    [[1.5, -6.0], [0.75, -3.0], [0.0, -0.0]]
    """
    below = cloth_lab[0] - lightness
    if definition == "absolute":
        u = np.clip(below / _ABSOLUTE_BY, 0.0, 1.0)
        left = 1.0 - u * u * (3.0 - 2.0 * u)
    elif definition == "cloth":
        # Below L* = 8 the cube root gives way to a straight line, and so does a*.
        root = np.where(lightness > _LINEAR_L, lightness + 16.0, lightness * (_LINEAR_L + 16.0) / _LINEAR_L)
        left = root / (cloth_lab[0] + 16.0)
    else:
        left = 1.0 - fade * np.clip(below / max(cloth_lab[0] - black_l, 1e-6), 0.0, 1.0)
    return np.asarray(left[:, None] * cloth_lab[1:])
