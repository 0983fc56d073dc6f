"""Tone value of a tint from its colour."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def tone_value_iso_20654(tint: ArrayLike, substrate: ArrayLike, solid: ArrayLike) -> NDArray[np.float64]:
    """Return the spot colour tone value.

    Parameters
    ----------
    tint, substrate, solid : array_like, shape (..., 3)
        L*, a*, b*.

    Returns
    -------
    ndarray, shape (...)
        0 at the substrate, 1 at the solid; not clipped. [-]

    Notes
    -----
    The root of the ratio of summed squares of V_t - V_p over V_s - V_p with V = 116 f(i / i_n) - 16 for
    i = X, Y, Z, which is L + 116 a / 500, L, L - 116 b / 200. It is not a ratio of colour differences.

    References
    ----------
    ISO 20654:2017, as restated in public analysis scripts.

    Examples
    --------
    >>> tint, paper, solid = [62.72, 0.31, -4.44], [95, 1.5, -6], [16, 0.07, -0.33]
    >>> round(100 * float(tone_value_iso_20654(tint, paper, solid)), 2)
    40.73
    """
    t, p, s = (_values(lab) for lab in (tint, substrate, solid))
    return np.asarray(np.sqrt(((t - p) ** 2).sum(axis=-1) / ((s - p) ** 2).sum(axis=-1)), dtype=np.float64)


def _values(lab: ArrayLike) -> NDArray[np.float64]:
    values = np.asarray(lab, dtype=np.float64)
    light = values[..., 0]
    return np.stack([light + 116 * values[..., 1] / 500, light, light - 116 * values[..., 2] / 200], axis=-1)
