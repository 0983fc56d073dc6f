"""About how inks look on a screen, for previews only."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.report.screen_colour import decode_srgb, encode_linear

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
# Least reflectance that a layer is reckoned with.
_DARKEST = 1e-4
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
    light = 1.0 - np.asarray(inks)[:, :, None] * (1.0 - _passes(ink_names)[None])
    return np.asarray(light.prod(axis=1))


def layered_colours(tones: FloatArray, ink_names: Sequence[str]) -> NDArray[np.float64]:
    """Return red, green and blue, 0-1, of inks that share one layer, as dyes in fibres do.

    Their absorption over scattering adds up, so that many inks grow dark more slowly than as filters.

    Parameters
    ----------
    tones : ndarray, shape (n, n_inks)
        Amounts on the screen, 0-1. [-]
    ink_names : sequence of str
        As for `screen_colours`, whose colours single inks have.

    Returns
    -------
    ndarray, shape (n, 3)

    References
    ----------
    P. Kubelka, F. Munk, Z. Tech. Phys. 12 (1931), 593-601.

    Examples
    --------
    >>> dark = np.array([[1.0, 1.0], [0.0, 1.0]])
    >>> bool((layered_colours(dark, ["C", "M"]) >= screen_colours(dark, ["C", "M"]) - 1e-9).all())
    True
    """
    light = 1.0 - np.asarray(tones)[:, :, None] * (1.0 - _passes(ink_names)[None])
    reflected = np.maximum(decode_srgb(light), _DARKEST)
    absorbed = ((1.0 - reflected) ** 2 / (2.0 * reflected)).sum(axis=1)
    return encode_linear(1.0 + absorbed - np.sqrt(absorbed * (absorbed + 2.0)))


def _passes(ink_names: Sequence[str]) -> FloatArray:
    """Return the share of light that each full ink lets through, shape (n_inks, 3)."""
    names = [name.strip() for name in ink_names]
    keys = [f"l{name}" if name.islower() and name.upper() in names else name.lower() for name in names]
    return np.array([_PASSES.get(key, _OTHERS[i % len(_OTHERS)]) for i, key in enumerate(keys)])
