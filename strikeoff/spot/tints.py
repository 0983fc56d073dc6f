"""Recipes of tints: every ink rises with the tint, and its colour goes straight from cloth to solid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.model.descent import descend
from strikeoff.model.limits import InkLimits
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

#: Tints that are solved; between them each ink follows a curve that cannot turn.
TINTS = np.linspace(0.0, 1.0, 33)
#: Last position in a tint table.
STEPS = 4096
_FULL = 65535
_WISH, _ROUNDS, _DAMPING = 0.02, 12, 1e-3
_DILUTIONS = 257
_CORRECTIONS, _TONE_CLOSE = 4, 1e-3


def matched_tints(model: InksToLab, limits: InkLimits, solid: FloatArray, aims: FloatArray) -> FloatArray:
    """Return recipes of tints of a solid by their colour.

    Parameters
    ----------
    model : InksToLab
        Forward model.
    limits : InkLimits
        Kept throughout.
    solid : ndarray, shape (n_inks,)
        Recipe at full tint.
    aims : ndarray, shape (t,)
        Tone values wanted, rising from 0 to 1. [-]

    Returns
    -------
    ndarray, shape (t, n_inks)
        No ink falls from one tint to the next; bare cloth first, the solid last.

    Notes
    -----
    V of ISO 20654 is linear in L*, a*, b*, so a colour on the straight line from cloth to solid has exactly
    the tone value that its place on the line says. Each tint is solved from the next darker one, with that
    recipe as its limit.
    """
    cloth, full = model.lab(np.vstack([np.zeros_like(solid), solid]))
    inks = np.zeros((len(aims), len(solid)))
    inks[-1] = solid
    for row in range(len(aims) - 2, 0, -1):
        above = inks[row + 1]
        bound = InkLimits(above, limits.weights, limits.total, curves=limits.curves)
        start = above[None] * (aims[row] / aims[row + 1])
        place = aims[row]
        for _ in range(_CORRECTIONS):
            lab = (cloth + place * (full - cloth))[None]
            found = descend(model, bound, lab, start, np.array(_WISH), start, _ROUNDS, _DAMPING)
            found = np.clip(found, 0.0, above)
            missed = aims[row] - float(tone_value_iso_20654(model.lab(found)[0], cloth, full))
            if abs(missed) < _TONE_CLOSE:
                break
            # The straight line may leave the gamut; the tone value is kept there all the same.
            place += missed
        inks[row] = found[0]
    return inks


def diluted_tints(model: InksToLab, solid: FloatArray, aims: FloatArray) -> FloatArray:
    """Return recipes of tints of a given recipe: all inks in one proportion, by tone value of ISO 20654.

    Parameters
    ----------
    model : InksToLab
        Forward model.
    solid : ndarray, shape (n_inks,)
        Recipe at full tint.
    aims : ndarray, shape (t,)
        Tone values wanted, rising from 0 to 1. [-]

    Returns
    -------
    ndarray, shape (t, n_inks)
    """
    share = np.linspace(0.0, 1.0, _DILUTIONS)
    lab = model.lab(share[:, None] * solid)
    # A tone value that dips, as where a solid is darker than its overprint, would have no inverse.
    tone = np.maximum.accumulate(tone_value_iso_20654(lab, lab[0], lab[-1]))
    tone = tone + 1e-9 * np.arange(_DILUTIONS)
    place = np.interp(aims, tone / tone[-1], share)
    place[0], place[-1] = 0.0, 1.0
    return np.asarray(place[:, None] * solid)


def tint_table(tints: FloatArray, inks: FloatArray) -> NDArray[np.uint16]:
    """Return amounts at ``STEPS`` + 1 even tints from the amounts at some.

    Parameters
    ----------
    tints : ndarray, shape (t,)
        Rising from 0 to 1. [-]
    inks : ndarray, shape (t, n_inks)
        Amounts, 0-1, none of them falling. [-]

    Returns
    -------
    ndarray of uint16, shape (STEPS + 1, n_inks)
        None of them falling; 65535 = full tone.
    """
    # Slopes of next to nothing would overflow where they divide.
    rising = np.maximum.accumulate(np.round(inks, 12), axis=0)
    curve = PchipInterpolator(tints, rising, axis=0)
    amounts = np.clip(curve(np.linspace(0.0, 1.0, STEPS + 1)), 0.0, inks[-1])
    return np.maximum.accumulate(np.floor(amounts * _FULL + 0.5).astype(np.uint16), axis=0)


def full_table(table: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Return amounts for all 16-bit codes, shape (65536, n_inks), in whole-number arithmetic.

    Examples
    --------
    >>> straight = np.arange(STEPS + 1)[:, None] * 65535 // STEPS
    >>> full_table(straight.astype(np.uint16))[[0, 65535], 0].tolist()
    [0, 65535]
    """
    place, rest = np.divmod(np.arange(_FULL + 1, dtype=np.int64) * STEPS, _FULL)
    low = table[place].astype(np.int64)
    high = table[np.minimum(place + 1, STEPS)].astype(np.int64)
    mixed = (low * (_FULL - rest[:, None]) + high * rest[:, None] + _FULL // 2) // _FULL
    return np.asarray(mixed, dtype=np.uint16)
