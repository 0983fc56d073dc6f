"""About how inks look on a screen, for previews only."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Share of red, green and blue light that a full ink lets through: a picture, not a measurement.
_PASSES = {
    "c": (0.05, 0.62, 0.87), "cyan": (0.05, 0.62, 0.87), "m": (0.86, 0.08, 0.47),
    "magenta": (0.86, 0.08, 0.47), "y": (0.99, 0.90, 0.08), "yellow": (0.99, 0.90, 0.08),
    "k": (0.10, 0.10, 0.11), "black": (0.10, 0.10, 0.11), "lc": (0.60, 0.85, 0.95),
    "lm": (0.95, 0.62, 0.80), "lk": (0.55, 0.55, 0.56), "orange": (0.97, 0.45, 0.08),
    "o": (0.97, 0.45, 0.08), "green": (0.05, 0.62, 0.30), "g": (0.05, 0.62, 0.30),
    "violet": (0.38, 0.18, 0.60), "v": (0.38, 0.18, 0.60), "blue": (0.12, 0.25, 0.65),
    "b": (0.12, 0.25, 0.65), "red": (0.86, 0.13, 0.18), "r": (0.86, 0.13, 0.18),
    "grey": (0.55, 0.55, 0.56), "white": (1.0, 1.0, 1.0), "clear": (1.0, 1.0, 1.0),
    "w": (1.0, 1.0, 1.0), "pink": (0.98, 0.35, 0.62), "p": (0.98, 0.35, 0.62),
}  # fmt: skip
_OTHERS = ((0.55, 0.35, 0.25), (0.25, 0.50, 0.55), (0.60, 0.30, 0.60), (0.45, 0.55, 0.20))


def screen_colours(inks: FloatArray, ink_names: Sequence[str]) -> NDArray[np.float64]:
    """Return red, green and blue, 0-1, of ink amounts: each ink filters the light that the others leave.

    Parameters
    ----------
    inks : ndarray, shape (n, n_inks)
        Amounts, 0-1. [-]
    ink_names : sequence of str
        Known names have their usual colour, others one of four muddy ones; ``c`` beside ``C`` is light cyan.

    Returns
    -------
    ndarray, shape (n, 3)

    Examples
    --------
    >>> screen_colours(np.array([[0.0, 0.0], [0.0, 1.0]]), ["C", "Y"]).round(2).tolist()
    [[1.0, 1.0, 1.0], [0.99, 0.9, 0.08]]
    """
    names = [name.strip() for name in ink_names]
    keys = [f"l{name}" if name.islower() and name.upper() in names else name.lower() for name in names]
    passes = np.array([_PASSES.get(key, _OTHERS[i % len(_OTHERS)]) for i, key in enumerate(keys)])
    light = 1.0 - np.asarray(inks)[:, :, None] * (1.0 - passes[None])
    return np.asarray(light.prod(axis=1))
