"""Which patches to read next: those that most reduce the expected colour error.

A Gaussian process says how its variance shrinks with any reading before the reading is taken. The
mean expected error over the recipes that matter, the root of variance times visibility, is reduced
greedily: variance reduction in which every target counts the less, the more doubtful it is, so that
a few far corners do not take all patches.

References
----------
D. A. Cohn, Z. Ghahramani, M. I. Jordan, "Active learning with statistical models", J. Artif.
Intell. Res. 4 (1996), 129-145; J. Sacks et al., Statist. Sci. 4 (1989), 409-435 (integrated mean
squared error designs).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.covariance import Kernel
from strikeoff.model.gaussian import solve_weights

FloatArray = NDArray[np.float64]

_STEP = 0.5
_HALF_TRUST = 50.0
_TINY = 1e-12
_SCALES = (0.8, 8.0)


@dataclass(frozen=True)
class Choice:
    """One patch that was chosen.

    Attributes
    ----------
    index : int
        Row of the candidates.
    error : float
        Mean doubt over the targets after it has been read, reading noise included. [CIEDE2000]
    """

    index: int
    error: float


def usual_kernel(n_inks: int) -> Kernel:
    """Return the kernel to expect before anything is read.

    Scales, variances and noise lie between those that two measured CMYK presses gave.

    Examples
    --------
    >>> usual_kernel(4).scales.tolist()
    [3.0, 3.0, 3.0, 3.0]
    """
    return Kernel(
        np.full(n_inks, 3.0),
        5e-5,
        single_variance=1e-3,
        single_scale=1.0,
        fine_variance=1e-3,
        fine_ratio=0.45,
    )


def trusted_kernel(own: Kernel, readings: int) -> Kernel:
    """Return the usual kernel with length scales drawn towards fitted ones, the more readings the more.

    Parameters
    ----------
    own : Kernel
        As fitted.
    readings : int
        Distinct recipes that it was fitted to.

    Notes
    -----
    Logarithms are averaged; the fitted scales have half the say at 50 readings. Fitted variances and
    noise are left out: from few readings they come out too uneven to plan with.
    """
    usual = usual_kernel(len(own.scales))
    share = readings / (readings + _HALF_TRUST)
    fitted = np.log(np.clip(own.scales, *_SCALES))
    return replace(usual, scales=np.exp(share * fitted + (1.0 - share) * np.log(usual.scales)))


def amplitudes(kernel: Kernel, read: FloatArray, repeats: FloatArray, values: FloatArray) -> FloatArray:
    """Return the variance that unit kernel variance stands for, per output, from readings.

    Parameters
    ----------
    kernel : Kernel
        How alike recipes are.
    read : ndarray, shape (n, n_inks)
        Recipes.
    repeats : ndarray, shape (n,)
        Readings behind each.
    values : ndarray, shape (n, n_outputs)
        What was read, such as Lab.

    Returns
    -------
    ndarray, shape (n_outputs,)
        The most likely variances; C. E. Rasmussen, C. K. I. Williams (2006), section 5.4.
    """
    centred = values - values.mean(axis=0)
    dual = solve_weights(kernel, read, centred, repeats)
    return np.asarray(np.maximum((centred * dual).sum(axis=0) / len(read), 0.0))


def visibility(lab: FloatArray) -> FloatArray:
    """Return how many squared units of CIEDE2000 a squared unit of L*, a* and b* makes, shape (n, 3).

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        Colours about which.

    Examples
    --------
    >>> visibility(np.array([[50.0, 0.0, 0.0]])).round(1).tolist()
    [[1.0, 2.2, 1.0]]
    """
    steps = _STEP * np.eye(3)
    return np.stack([(delta_e_2000(lab, lab + step) / _STEP) ** 2 for step in steps], axis=1)


def choose(
    kernel: Kernel,
    read: FloatArray,
    repeats: FloatArray,
    candidates: FloatArray,
    targets: FloatArray,
    squares: FloatArray,
    share: FloatArray,
) -> Iterator[Choice]:
    """Yield candidates, the most useful first, until there are none.

    Parameters
    ----------
    kernel : Kernel
        How alike recipes are.
    read : ndarray, shape (n, n_inks)
        Recipes that have been read. May be empty.
    repeats : ndarray, shape (n,)
        Readings behind each.
    candidates : ndarray, shape (m, n_inks)
        Recipes that may be printed.
    targets : ndarray, shape (t, n_inks)
        Recipes whose colour matters.
    squares : ndarray, shape (t,)
        Squared colour difference that unit variance makes at each target. [CIEDE2000 squared]
    share : ndarray, shape (t,)
        What each target counts; sums to one. [0-1]

    Yields
    ------
    Choice
    """
    both = np.vstack([candidates, targets])
    count = len(candidates)
    spread = kernel.variance(both)
    # Rows of `seen` are what the readings explain; the posterior covariance is prior minus seen' seen.
    seen = np.zeros((0, len(both)))
    if len(read):
        matrix = kernel.covariance(read, read)
        matrix[np.diag_indices(len(read))] += kernel.noise / repeats
        lower = scipy.linalg.cholesky(matrix, lower=True)
        seen = scipy.linalg.solve_triangular(lower, kernel.covariance(read, both), lower=True)
        spread = spread - (seen**2).sum(axis=0)
    cross = kernel.covariance(targets, candidates) - seen[:, count:].T @ seen[:, :count]
    is_free = np.ones(count, dtype=bool)
    for _ in range(count):
        noisy = np.maximum(spread[:count], 0.0) + kernel.noise
        doubt = np.sqrt(squares * (np.maximum(spread[count:], 0.0) + kernel.noise))
        # Twice the slope of the mean of roots.
        slope = share * squares / np.maximum(doubt, _TINY)
        gain = np.where(is_free, slope @ cross**2 / noisy, -np.inf)
        best = int(gain.argmax())
        is_free[best] = False
        column = kernel.covariance(candidates[best : best + 1], both)[0] - seen[:, best] @ seen
        row = column / np.sqrt(noisy[best])
        seen = np.vstack([seen, row])
        spread = spread - row**2
        cross -= np.outer(row[count:], row[:count])
        left = np.maximum(spread[count:], 0.0) + kernel.noise
        yield Choice(best, float(share @ np.sqrt(squares * left)))
