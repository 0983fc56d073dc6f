"""Which share of the pixels gets which drop."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.inks.tables import NODES, Codes, to_codes

FloatArray = NDArray[np.float64]


def drop_shares(drop_pl: Sequence[float], overlap: float = 0.3) -> Codes:
    """Return the curves of drop levels.

    Parameters
    ----------
    drop_pl : sequence of float
        Volume of a drop of each level, rising. [pL]
    overlap : float
        Amount of ink over which a level comes in while the smaller one still fills up, 0-1. [-]

    Returns
    -------
    ndarray of uint16, shape (levels, NODES)
        Share of the pixels with at least that level, over the amount of ink (1 = the largest drop in
        every pixel). Each rises; a higher level never exceeds a lower one; shares times volumes are
        the amount. [65535 = all pixels]

    Raises
    ------
    InputError
        When volumes do not rise or the overlap is out of range.

    Notes
    -----
    Filled one after the other, level l covers ``clip((a - V(l-1)) / (V(l) - V(l-1)), 0, 1)``. Each share is
    averaged over a window around ``a`` that shrinks towards both ends: an average of straight lines
    keeps their sum, so the volume stays exact and the corners go. Common practice, no source.

    Examples
    --------
    >>> drop_shares([6.0, 12.0], 0.0)[:, [0, 128, 255]].tolist()
    [[0, 65535, 65535], [0, 257, 65535]]
    """
    volumes = np.asarray(drop_pl, dtype=np.float64)
    if volumes.ndim != 1 or not len(volumes) or not (np.diff(volumes, prepend=0.0) > 0).all():
        raise InputError("drop volumes must rise", found=list(drop_pl), expected="above 0 [pL]")
    if not 0 <= overlap <= 1:
        raise InputError("overlap is out of range", found=overlap, expected="0 to 1")
    amount = np.linspace(0.0, 1.0, NODES)
    half = np.minimum(np.minimum(amount, 1.0 - amount), overlap / 2)
    edges = np.concatenate([[0.0], volumes / volumes[-1]])
    shares = np.empty((len(volumes), NODES))
    for level, (low, high) in enumerate(pairwise(edges)):
        plain = np.clip((amount - low) / (high - low), 0.0, 1.0)
        area = _area(amount + half, low, high) - _area(amount - half, low, high)
        shares[level] = np.where(half > 1e-6, area / np.where(half > 1e-6, 2 * half, 1.0), plain)
    # Rounding apart, each share is below the one before; rounding must not turn that round.
    return np.minimum.accumulate(np.maximum.accumulate(to_codes(np.clip(shares, 0, 1)), axis=1), axis=0)


def _area(x: FloatArray, low: float, high: float) -> FloatArray:
    """Integral of the filled share from 0 to x."""
    inside = np.clip(x - low, 0.0, high - low)
    return np.asarray(inside**2 / (2 * (high - low)) + np.maximum(x - high, 0.0))
