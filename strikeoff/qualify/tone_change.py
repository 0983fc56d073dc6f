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
# Part of the weight below which a size and length change nothing.
_UNHEARD = 1e-9
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


def tone_change(
    place: ArrayLike,
    moved: ArrayLike,
    doubt: ArrayLike | None = None,
    noise: float = 0.0,
    slopes: ArrayLike | None = None,
) -> ToneChange:
    """Return the smooth change of tone that noisy steps tell of.

    Parameters
    ----------
    place : array_like, shape (n,)
        Tone of each step before, 0 at the cloth and 1 at the solid; the cloth itself not among them. [-]
    moved : array_like, shape (n,)
        Tone of each step now less that before. [-]
    doubt : array_like, shape (n, n), optional
        Covariance of the errors of the tones before, where they were not known exactly. [-]
    noise : float
        Standard deviation of the reading of a step in tone, about; needed with a doubt. [-]
    slopes : array_like, shape (n, 3), optional
        Tone of each step by its Lab, in any unit: how much of the noise of a reading is seen in it. The same
        of all steps by default.

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
    still: a change within the noise shrinks to next to nothing, one well above it stays whole. Errors of the
    tones before are as smooth as a change, so they are counted with the noise, by their covariance.

    Examples
    --------
    >>> tone = np.linspace(0.05, 1, 20)
    >>> wobble = 0.003 * np.resize([1, -1, -1, 1, 1, -1], 20)
    >>> still, grown = tone_change(tone, wobble), tone_change(tone, 0.1 * tone + wobble)
    >>> bool(abs(still.at(0.5)[0]) < 0.001), round(float(grown.at(0.5)[0]), 2)
    (True, 0.05)
    >>> unsure = tone_change(tone, 0.1 * tone + wobble, 0.1**2 * np.outer(tone, tone), 0.003)
    >>> bool(unsure.at(0.5)[0] < 0.02)
    True
    """
    tone = np.asarray(place, dtype=np.float64)
    asked = np.linspace(0.0, max(1.0, float(tone.max())), _NODES)
    unsure = None if doubt is None else np.asarray(doubt, dtype=np.float64) / max(noise, _EXACT) ** 2
    own = _noise(len(tone), slopes) + (0.0 if unsure is None else unsure)
    mean, covariance, still = _posterior(tone, np.asarray(moved, dtype=np.float64), asked, own)
    return ToneChange(asked, mean, np.sqrt(np.maximum(np.diag(covariance), 0.0)), 1.0 - still)


def tones_off(
    place: ArrayLike, off: ArrayLike, asked: ArrayLike, slopes: ArrayLike | None = None
) -> tuple[FloatArray, FloatArray]:
    """Return how far the tones of a model are off at some places, by readings that it was made from.

    Parameters
    ----------
    place : array_like, shape (n,)
        Tones of the model at the readings, the cloth not among them. [-]
    off : array_like, shape (n,)
        Tone of each reading less that of the model. [-]
    asked : array_like, shape (m,)
        Tones to answer for. [-]
    slopes : array_like, shape (n, 3), optional
        As for `tone_change`.

    Returns
    -------
    off : ndarray, shape (m,)
        By `tone_change`, so that the noise of the readings is left out.
    covariance : ndarray, shape (m, m)
        Of what is not known of it.

    Examples
    --------
    >>> tone = np.linspace(0.1, 1, 10)
    >>> off, covariance = tones_off(tone, 0.04 * tone * (1 - tone), [0.5, 0.55])
    >>> off.round(3).tolist(), bool(covariance[0, 1] > 0)
    ([0.01, 0.01], True)
    """
    mean, covariance, _ = _posterior(
        np.asarray(place, dtype=np.float64),
        np.asarray(off, dtype=np.float64),
        np.asarray(asked, dtype=np.float64),
        _noise(np.size(place), slopes),
    )
    return mean, covariance


def _noise(count: int, slopes: ArrayLike | None) -> FloatArray:
    """Return the covariance of the noise of steps, 1 in the mean, and of the cloth's in them.

    The cloth's reading counts in each step as the step's own does, by slopes of about the same size.
    """
    if slopes is None:
        return np.eye(count) + _CLOTH
    by_lab = np.asarray(slopes, dtype=np.float64)
    by_lab = by_lab / np.sqrt((by_lab**2).sum(axis=1).mean())
    return np.asarray(np.diag((by_lab**2).sum(axis=1)) + _CLOTH * by_lab @ by_lab.T)


def _posterior(
    tone: FloatArray, change: FloatArray, asked: FloatArray, own: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Return mean, shape (m,), and covariance, shape (m, m), of a change, and how likely there is none.

    ``own``, shape (n, n), is the covariance of what else is in the steps, in their mean variance.
    """
    count = len(tone)
    # Steps whose noise has unit covariance: the cloth's part is common to all.
    whiten = np.linalg.inv(np.linalg.cholesky(own))
    seen = whiten @ change
    rest = float(seen @ seen) + count * _EXACT**2
    odds, sizes, parts = [np.log(_STILL) - 0.5 * count * np.log(rest)], [(0.0, rest)], [0]
    usual = _SIZES / (1.0 + (_SIZES / _USUAL) ** 2)
    priors = np.log((1.0 - _STILL) * usual / usual.sum() / len(_LENGTHS))
    solved = []
    for part, length in enumerate(_LENGTHS):
        values, vectors = np.linalg.eigh(whiten @ _alike(tone, tone, length) @ whiten.T)
        values, along = np.maximum(values, 0.0), vectors.T @ seen
        near = _alike(asked, tone, length) @ whiten.T @ vectors
        solved.append((values, along, near, _alike(asked, asked, length)))
        for size, prior in zip(_SIZES, priors, strict=True):
            spread = 1.0 + size**2 * values
            rest = float((along**2 / spread).sum()) + count * _EXACT**2
            odds.append(prior - 0.5 * np.log(spread).sum() - 0.5 * count * np.log(rest))
            sizes.append((float(size), rest))
            parts.append(part)
    weights = np.exp(np.array(odds) - max(odds))
    weights /= weights.sum()
    mean, square = np.zeros(len(asked)), np.zeros((len(asked), len(asked)))
    for k in np.flatnonzero(weights[1:] > _UNHEARD) + 1:
        (size, rest), (values, along, near, before) = sizes[k], solved[parts[k]]
        spread = 1.0 + size**2 * values
        one = size**2 * near @ (along / spread)
        left = size**2 * before - size**4 * (near / spread) @ near.T
        mean += weights[k] * one
        square += weights[k] * (rest / max(count - 2, 1) * left + np.outer(one, one))
    return mean, square - np.outer(mean, mean), float(weights[0])


def _onset(tone: FloatArray) -> FloatArray:
    return np.asarray((1.0 + _ONSET) * tone / (tone + _ONSET))


def _alike(one: FloatArray, other: FloatArray, length: float) -> FloatArray:
    """Return how alike the changes at two sets of tones are before the readings, shape (k, n)."""
    apart = (one[:, None] - other[None, :]) / length
    return np.asarray(_onset(one)[:, None] * np.exp(-0.5 * apart**2) * _onset(other)[None, :])
