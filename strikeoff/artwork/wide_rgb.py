"""A wide RGB space for colours that come in several."""

from __future__ import annotations

from functools import cache

import numpy as np

from strikeoff.icc.matrix import matrix_profile

_DATE = (2024, 1, 1, 0, 0, 0)
# ISO 22028-2:2013: primaries of ROMM RGB under D50, and its exponent.
_PRIMARIES_XY = ((0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001))
_WHITE = np.array([0.9642, 1.0, 0.8249])
_GAMMA = 1.8


@cache
def wide_rgb_profile() -> bytes:
    """Return the profile of an RGB space with the primaries and exponent of ROMM RGB.

    Its exponent holds down to black; ROMM's own curve is straight below 1/512.

    References
    ----------
    ISO 22028-2:2013.
    """
    primaries = np.array([(x / y, 1.0, (1 - x - y) / y) for x, y in _PRIMARIES_XY])
    scales = np.linalg.solve(primaries.T, _WHITE)
    return matrix_profile(
        version=2,
        primaries=primaries * scales[:, None],
        gamma=_GAMMA,
        description="Wide RGB",
        copyright_text="Made by strikeoff; free to use.",
        date=_DATE,
    )
