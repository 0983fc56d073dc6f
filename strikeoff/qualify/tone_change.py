"""How far the tones of an ink have moved, as far as the noise of readings lets it be known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

# Sizes of a change over the noise of one step, and the size that is about as often passed as not.
_SIZES = np.geomspace(0.05, 2000.0, 40)
_USUAL = 3.0
# Part of the weight before the readings that an ink which stands still has.
_STILL = 0.2
# Distances of tone over which a change keeps its sign: a bow within the ramp up to one shift of all of it.
_LENGTHS = (0.2, 0.4, 0.8, 1.6)
# Tone up to which a change grows from nothing at the cloth.
_ONSET = 0.15
# Variance of the reading of the cloth, from which all tones count, over that of a step: read as often.
_CLOTH = 1.0
# Noise below which readings are taken as exact, in tone.
_EXACT = 1e-7
_NODES = 129


@dataclass(frozen=True)
class ToneChange:
    """A smooth change of tone over tone, shrunk by its own uncertainty.

    Attributes
    ----------
    tone : ndarray, shape (n,)
        Tones before the change, rising from 0 at the cloth. [-]
    moved, spread : ndarray, shape (n,)
        Change at them and its standard deviation. [-]
    chance : float
        Probability that there is any change, 0.8 before the readings: presses that are read again have most
        often moved a little. [-]
    """

    tone: FloatArray
    moved: FloatArray
    spread: FloatArray
    chance: float

    def at(self, tone: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the change at some tones and its standard deviation; the last one beyond the end. [-]."""
        asked = np.asarray(tone, dtype=np.float64)
        return np.interp(asked, self.tone, self.moved), np.interp(asked, self.tone, self.spread)


def tone_change(place: ArrayLike, moved: ArrayLike) -> ToneChange:
    """Return the smooth change of tone that noisy steps tell of.

    Parameters
    ----------
    place : array_like, shape (n,)
        Tone of each step before, 0 at the cloth and 1 at the solid; the cloth itself not among them. [-]
    moved : array_like, shape (n,)
        Tone of each step now less that before. [-]

    Returns
    -------
    ToneChange

    Notes
    -----
    A Gaussian process with a squared-exponential kernel that vanishes at the cloth, and noise of the steps
    with that of the cloth common to all of them (C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for
    Machine Learning, 2006, 2.2 and 5.4.1). Sizes and lengths are weighed by their marginal likelihood, the
    noise being integrated out under its scale-free prior. The size over the noise has a half-Cauchy prior
    (C. M. Carvalho, N. G. Polson, J. G. Scott, Biometrika 97 (2010), 465-480), beside an ink that stands
    still: a change within the noise shrinks to next to nothing, one well above it stays whole.

    Examples
    --------
    >>> tone = np.linspace(0.05, 1, 20)
    >>> wobble = 0.003 * np.resize([1, -1, -1, 1, 1, -1], 20)
    >>> still, grown = tone_change(tone, wobble), tone_change(tone, 0.1 * tone + wobble)
    >>> bool(abs(still.at(0.5)[0]) < 0.001), round(float(grown.at(0.5)[0]), 2)
    (True, 0.05)
    """
    tone, change = np.asarray(place, dtype=np.float64), np.asarray(moved, dtype=np.float64)
    count = len(tone)
    asked = np.linspace(0.0, max(1.0, float(tone.max())), _NODES)
    # Steps whose noise has unit covariance: the cloth's part is common to all.
    whiten = np.linalg.inv(np.linalg.cholesky(np.eye(count) + _CLOTH))
    seen = whiten @ change
    rest = float(seen @ seen) + count * _EXACT**2
    odds, means = [np.log(_STILL) - 0.5 * count * np.log(rest)], [np.zeros(_NODES)]
    variances = [np.zeros(_NODES)]
    usual = _SIZES / (1.0 + (_SIZES / _USUAL) ** 2)
    priors = np.log((1.0 - _STILL) * usual / usual.sum() / len(_LENGTHS))
    for length in _LENGTHS:
        values, vectors = np.linalg.eigh(whiten @ _alike(tone, tone, length) @ whiten.T)
        values, along = np.maximum(values, 0.0), vectors.T @ seen
        near = _alike(asked, tone, length) @ whiten.T @ vectors
        own = _onset(asked) ** 2
        for size, prior in zip(_SIZES, priors, strict=True):
            spread = 1.0 + size**2 * values
            rest = float((along**2 / spread).sum()) + count * _EXACT**2
            odds.append(prior - 0.5 * np.log(spread).sum() - 0.5 * count * np.log(rest))
            means.append(size**2 * near @ (along / spread))
            left = size**2 * own - size**4 * (near**2 / spread).sum(axis=1)
            variances.append(rest / max(count - 2, 1) * np.maximum(left, 0.0))
    weights = np.exp(np.array(odds) - max(odds))
    weights /= weights.sum()
    mean = weights @ np.array(means)
    variance = weights @ (np.array(variances) + (np.array(means) - mean) ** 2)
    return ToneChange(asked, mean, np.sqrt(variance), float(1.0 - weights[0]))


def _onset(tone: FloatArray) -> FloatArray:
    return np.asarray((1.0 + _ONSET) * tone / (tone + _ONSET))


def _alike(one: FloatArray, other: FloatArray, length: float) -> FloatArray:
    """Return how alike the changes at two sets of tones are before the readings, shape (k, n)."""
    apart = (one[:, None] - other[None, :]) / length
    return np.asarray(_onset(one)[:, None] * np.exp(-0.5 * apart**2) * _onset(other)[None, :])
