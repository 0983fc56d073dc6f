"""Whether inks mix in one layer, as dyes do in fibres, told from their ramps alone.

Dots of an ink that cover ever more of the cloth mix the light of two colours: reflectance, to the power 1/n
of Yule and Nielsen, moves straight from the cloth to the solid. Dye in one layer absorbs ever more: it is the
absorption over scattering of Kubelka and Munk that does. Spectra tell the two apart; a colour of three
numbers hardly does.

References
----------
P. Kubelka, F. Munk, Z. techn. Phys. 12 (1931), 593-601.
J. A. C. Yule, W. J. Nielsen, TAGA Proc. 3 (1951), 65-76.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.neugebauer import Layer

FloatArray = NDArray[np.float64]
Change = Callable[[FloatArray], FloatArray]

_EXPONENTS = (1.0, 1.5, 2.0, 3.0, 5.0)
# Surfaces that are tried, as parts of the darkest reading.
_SURFACES = (0.0, 0.25, 0.5)
# By how much less a layer must miss the readings to be believed.
_CLEARLY = 0.6
# Shares are sought among so many, then among as many around the best, three times in all.
_TRIED, _ROUNDS = 65, 3
_MOST, _LEAST = 1.2, 1e-4


def layer_shares(ramps: Sequence[FloatArray]) -> tuple[FloatArray, ...] | None:
    """Return how much of its full tone's absorption each step of ramps shows, where inks mix in one layer.

    Parameters
    ----------
    ramps : sequence of ndarray, shape (n, n_bands)
        Reflectance factors of one ink each, from bare cloth to full tone.

    Returns
    -------
    tuple of ndarray, shape (n,), or None
        From 0 to 1 for each ramp; None where the readings fit dots side by side about as well.

    Examples
    --------
    >>> cloth, dye = np.array([0.8, 0.8, 0.8]), np.array([6.0, 2.0, 0.1])
    >>> layer = Layer(0.0, 1.0)
    >>> share = np.linspace(0.0, 1.0, 9)
    >>> (found,) = layer_shares([layer.reflectance(layer.absorption(cloth) + share[:, None] * dye)[0]])
    >>> bool(np.allclose(found, share, atol=1e-4))
    True
    >>> layer_shares([cloth * 10.0 ** -share[:, None]]) is None
    True
    """
    dots = [_dots(n) for n in _EXPONENTS] + [(np.log, np.exp)]
    by_dots = min(_fit(ramps, *way)[0] for way in dots)
    darkest, white = (
        min(float(ramp.min()) for ramp in ramps),
        max(1.0, *(float(ramp.max()) for ramp in ramps)),
    )
    missed, shares = min(
        (_fit(ramps, *_layer(part * darkest, white)) for part in _SURFACES), key=lambda fit: fit[0]
    )
    return shares if missed < _CLEARLY * by_dots else None


def _dots(exponent: float) -> tuple[Change, Change]:
    return lambda seen: seen ** (1.0 / exponent), lambda root: np.maximum(root, 0.0) ** exponent


def _layer(surface: float, white: float) -> tuple[Change, Change]:
    layer = Layer(surface, white)
    return layer.absorption, lambda absorbed: layer.reflectance(absorbed)[0]


def _fit(ramps: Sequence[FloatArray], there: Change, back: Change) -> tuple[float, tuple[FloatArray, ...]]:
    """Return the misfit, in cube roots of reflectance, and shares of the way from cloth to solid."""
    found = [_shares(np.maximum(ramp, _LEAST), there, back) for ramp in ramps]
    missed = np.concatenate([miss for miss, _ in found])
    return float(np.sqrt(missed.mean())), tuple(share for _, share in found)


def _shares(ramp: FloatArray, there: Change, back: Change) -> tuple[FloatArray, FloatArray]:
    """Return squared misfits, shape (n,), and the shares that make them least, shape (n,)."""
    first, last = there(ramp[0]), there(ramp[-1])
    # Even steps of the root, for light tones are many; those of the first step and the last are known.
    low, high = np.zeros(len(ramp)), np.full(len(ramp), np.sqrt(_MOST))
    rows = np.arange(len(ramp))
    for _ in range(_ROUNDS):
        tried = low[:, None] + np.linspace(0.0, 1.0, _TRIED) * (high - low)[:, None]
        colour = back(first + (tried**2)[..., None] * (last - first))
        missed = ((np.cbrt(colour) - np.cbrt(ramp)[:, None]) ** 2).mean(axis=2)
        best = missed.argmin(axis=1)
        step = (high - low) / (_TRIED - 1)
        low = np.maximum(tried[rows, best] - step, 0.0)
        high = tried[rows, best] + step
    share = tried[rows, best] ** 2
    share[0], share[-1] = 0.0, 1.0
    return missed[rows, best], share
