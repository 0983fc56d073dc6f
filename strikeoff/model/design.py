"""Which patches to read next: those that most reduce the expected colour error.

A Gaussian process says how its variance shrinks with any reading before the reading is taken. The
mean expected error over the recipes that matter, the root of variance times visibility, is reduced
greedily: variance reduction in which every target counts the less, the more doubtful it is, so that
a few far corners do not take all patches. One variance for all of ink space would be too much for
darks and too little for pale tints: doubt follows how fast colour changes with ink.

References
----------
D. A. Cohn, Z. Ghahramani, M. I. Jordan, "Active learning with statistical models", J. Artif.
Intell. Res. 4 (1996), 129-145; J. Sacks et al., Statist. Sci. 4 (1989), 409-435 (integrated mean
squared error designs).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.covariance import Kernel
from strikeoff.model.gaussian import solve_weights
from strikeoff.model.remaining_doubt import RemainingDoubt

FloatArray = NDArray[np.float64]

_STEP = 0.5
_HALF_TRUST = 50.0
#: So many are exchanged, so many times round.
_EXCHANGED, _ROUNDS = 100, 2
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

    Scales and variances lie between those that two measured CMYK presses gave; the noise is that of
    the one whose readings are as measured.

    Examples
    --------
    >>> usual_kernel(4).scales.tolist()
    [3.0, 3.0, 3.0, 3.0]
    """
    return Kernel(
        np.full(n_inks, 3.0),
        1.5e-5,
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


def squares_per_variance(lab: FloatArray, slopes: FloatArray, spread: FloatArray) -> FloatArray:
    """Return how many squared units of CIEDE2000 unit kernel variance makes at each recipe, shape (n,).

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        Predicted colours.
    slopes : ndarray, shape (n, 3, n_inks)
        How they change with each ink.
    spread : ndarray, shape (3,)
        Lab variance that unit kernel variance stands for; see `amplitudes`.

    Returns
    -------
    ndarray
        Geometric mean of what the spread makes everywhere and of what it makes where a variance goes
        with the square of the slope. The two agree in the mean.

    Notes
    -----
    With 60 to 150 patches of a measured CMYK set the spread alone says twice too much below L* 15 and
    half too little above L* 75; the slope alone overdoes it the other way. No source.

    Examples
    --------
    >>> grey = np.full((2, 3), [50.0, 0.0, 0.0])
    >>> slopes = np.array([[[-1.0], [0.0], [0.0]], [[-4.0], [0.0], [0.0]]])
    >>> found = squares_per_variance(grey, slopes, np.ones(3))
    >>> bool(np.isclose(found[1] / found[0], 4.0))
    True
    """
    seen = visibility(lab)
    even = seen @ spread
    steep = (seen * (slopes**2).sum(axis=2)).sum(axis=1)
    total = float(steep.sum())
    if total <= 0.0:
        return np.asarray(even)
    return np.asarray(np.sqrt(even * steep * (even.sum() / total)))


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
    doubt = RemainingDoubt(kernel, read, repeats, candidates, targets)
    is_free = np.ones(len(candidates), dtype=bool)
    for _ in range(len(candidates)):
        best = doubt.best(squares, share, is_free)
        is_free[best] = False
        doubt.take(best)
        yield Choice(best, doubt.mean(squares, share))


def choose_together(
    kernel: Kernel,
    read: FloatArray,
    repeats: FloatArray,
    candidates: FloatArray,
    targets: FloatArray,
    squares: FloatArray,
    share: FloatArray,
    count: int,
    step: Callable[[float], None] = lambda fraction: None,
) -> NDArray[np.int64]:
    """Return candidates that are most useful together, shape (count,).

    Parameters
    ----------
    kernel, read, repeats, candidates, targets, squares, share
        As for `choose`.
    count : int
        How many, at most as many as there are.
    step : callable
        Told the fraction done, 0-1; may raise to cancel.

    Notes
    -----
    What was chosen first was chosen in ignorance of the rest: so one after the other is given back and
    the best put in its place, twice round (V. V. Fedorov, Theory of Optimal Experiments, Academic Press
    1972; from memory). Each step costs what a choice does; after the first 100 the rest follow one by one.
    """
    doubt = RemainingDoubt(kernel, read, repeats, candidates, targets)
    is_free = np.ones(len(candidates), dtype=bool)

    def taken() -> int:
        best = doubt.best(squares, share, is_free)
        is_free[best] = False
        doubt.take(best)
        return best

    count = min(count, len(candidates))
    exchanged = min(count, _EXCHANGED)
    chosen = [taken() for _ in range(exchanged)]
    for turn in range(_ROUNDS):
        for place, index in enumerate(chosen):
            step((turn + place / exchanged) / _ROUNDS)
            doubt.give_back(index)
            is_free[index] = True
            chosen[place] = taken()
    chosen += [taken() for _ in range(count - len(chosen))]
    return np.array(chosen, dtype=np.int64)
