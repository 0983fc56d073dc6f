"""The last guard before the heads: no pixel gets more ink than the total allows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.tables import FULL, Codes

# Whole-number loads: fine to a millionth, and amount x load x amount fits 64 bits for 50 inks.
_UNIT = 1_000_000


@dataclass(frozen=True)
class InkGuard:
    """Total ink in whole numbers.

    Attributes
    ----------
    loads : ndarray of int64, shape (n_inks,)
        Load of one code of each physical ink.
    spared : ndarray of bool, shape (n_inks,)
        Named inks: they give way only when the process inks are gone.
    limit : int
        Most of the sum of load times code.
    slack : int
        Excess that rounding explains: one code of each ink. It is taken away too, but not counted.
    """

    loads: NDArray[np.int64]
    spared: NDArray[np.bool_]
    limit: int
    slack: int


def ink_guard(spaces: InkSpaces) -> InkGuard:
    """Return the guard of ink spaces."""
    loads = np.rint(spaces.loads * _UNIT).astype(np.int64)
    named = {ink.name for ink in spaces.inks if ink.is_named}
    # A light ink goes with its dark one.
    spared = np.array([ink.channel in named for ink in spaces.inks])
    return InkGuard(loads, spared, int(spaces.total * FULL * _UNIT), int(loads.sum()))


def guard_plain(laid_down: NDArray[np.uint16], guard: InkGuard) -> tuple[Codes, NDArray[np.bool_]]:
    """Hold laid-down ink under the total, by the definition: the reference of the fast path.

    Parameters
    ----------
    laid_down : ndarray of uint16, shape (..., n_inks)
        Amounts, 65535 = full tone.
    guard : InkGuard
        Loads and limit.

    Returns
    -------
    held : ndarray of uint16, shape (..., n_inks)
        Under the limit. Process inks are scaled down together, which keeps their hue; named inks
        only where process inks alone cannot make room.
    touched : ndarray of bool, shape (...)
        Where more was taken than rounding explains.
    """
    amount = laid_down.astype(np.int64)
    firm = (amount * guard.loads * guard.spared).sum(axis=-1)
    yielding = (amount * guard.loads * ~guard.spared).sum(axis=-1)
    total = firm + yielding
    over = total > guard.limit
    room = np.maximum(0, guard.limit - firm)
    less = amount * room[..., None] // np.maximum(yielding, 1)[..., None]
    firmer = amount * guard.limit // np.maximum(firm, 1)[..., None]
    counts = guard.loads > 0
    held = np.where((over[..., None] & ~guard.spared) & counts, less, amount)
    held = np.where((firm > guard.limit)[..., None] & guard.spared, firmer, held)
    return held.astype(np.uint16), np.asarray(total > guard.limit + guard.slack)


def laid_down_plain(calibrated: NDArray[np.uint16], spaces: InkSpaces) -> tuple[Codes, NDArray[np.bool_]]:
    """Return laid-down ink under the total, and where the guard took ink; see `guard_plain`."""
    return guard_plain(spaces.to_laid_down(calibrated), ink_guard(spaces))
