"""How much each expert of the forward model counts: by what it says of readings that it has not seen.

Both experts predict every reading from all the others. The more one errs there, the less it counts: shares
go as one over the mean square, drawn towards even ones where readings are few.

References
----------
Left-out predictions of a Gaussian process: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for
Machine Learning, MIT Press 2006, section 5.4.2; combining forecasts by their variances: J. M. Bates,
C. W. J. Granger, Oper. Res. Quart. 20 (1969), 451-468 (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.covariance import Kernel
from strikeoff.model.gaussian import left_out

FloatArray = NDArray[np.float64]

#: Both experts count alike.
EVEN = 0.5
_ROWS = 1000
_DOUBT = 100.0
_LEAST = 0.05


def anchored_share(
    recipes: FloatArray,
    repeats: FloatArray,
    free: tuple[Kernel, FloatArray],
    anchored: tuple[Kernel, FloatArray],
    *,
    seed: int = 2,
) -> float:
    """Return how much the anchored expert counts.

    Parameters
    ----------
    recipes, repeats
        As for `fit_forward`.
    free, anchored : tuple of Kernel and ndarray, shape (n, n_outputs)
        Each expert's kernel and what it regresses, as far as it was not fitted to the reading itself.
    seed : int
        Chooses the rows when there are more than 1,000.

    Returns
    -------
    float
        Between 0.05 and 0.95.
    """
    rows = np.random.default_rng(seed).permutation(len(recipes))[:_ROWS]
    squares = [
        float((left_out(kernel, recipes[rows], targets[rows], repeats[rows]) ** 2).sum(axis=1).mean())
        for kernel, targets in (free, anchored)
    ]
    found = squares[0] / max(squares[0] + squares[1], 1e-300)
    certain = len(rows) / (len(rows) + _DOUBT)
    return float(np.clip(EVEN + certain * (found - EVEN), _LEAST, 1.0 - _LEAST))
