"""Curves of ink as whole numbers: even nodes, and the full table that pixels go through."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError

FULL = 65535
#: Nodes of a stored curve: 257 codes apart, exactly.
NODES = 256

FloatArray = NDArray[np.float64]
Codes = NDArray[np.uint16]


def straight_curves(count: int) -> Codes:
    """Return ``count`` straight curves, shape (count, NODES)."""
    return np.tile(np.arange(NODES, dtype=np.uint16) * np.uint16(FULL // (NODES - 1)), (count, 1))


def to_codes(values: ArrayLike) -> Codes:
    """Return ink amounts 0-1 as codes 0-65535, rounded half up.

    Examples
    --------
    >>> to_codes([0.0, 0.5, 1.0]).tolist()
    [0, 32768, 65535]
    """
    array = np.asarray(values, dtype=np.float64)
    if not ((array >= 0) & (array <= 1)).all():
        raise InputError("ink amount is out of range or NaN", expected="0 to 1")
    return np.floor(array * FULL + 0.5).astype(np.uint16)


def checked_curves(curves: ArrayLike, where: str, *, rising: bool = True) -> Codes:
    """Return curves as read-only uint16, shape (..., NODES).

    Raises
    ------
    InputError
        For values that are no codes, that do not start at 0, or that fall where they must not.
    """
    array = np.asarray(curves)
    fits = array.ndim >= 2 and array.shape[-1] == NODES and array.dtype.kind in "iu"
    if fits:
        wide = array.astype(np.int64)
        fits = bool(((wide >= 0) & (wide <= FULL)).all() and (wide[..., 0] == 0).all())
        fits = fits and not (rising and bool((np.diff(wide, axis=-1) < 0).any()))
    if not fits:
        raise InputError(
            "not a table of ink curves",
            where=where,
            found=f"{array.dtype} of shape {array.shape}",
            expected=f"{NODES} whole numbers from 0 to {FULL} for each ink" + (" that never fall" * rising),
        )
    codes = array.astype(np.uint16)
    codes.setflags(write=False)
    return codes


def look_up(curve: Codes, codes: NDArray[np.uint16]) -> Codes:
    """Return a curve of NODES nodes at codes, straight between nodes, in whole numbers.

    Examples
    --------
    >>> look_up(straight_curves(1)[0], np.array([0, 100, 257, 65535], np.uint16)).tolist()
    [0, 100, 257, 65535]
    """
    step = FULL // (NODES - 1)
    place, part = np.divmod(codes.astype(np.int64), step)
    nodes = curve.astype(np.int64)
    right = nodes[np.minimum(place + 1, NODES - 1)]
    mixed = nodes[place] * (step - part) + right * part + step // 2
    return np.asarray(mixed // step, dtype=np.uint16)


def full_table(curve: Codes) -> Codes:
    """Return a curve at every code, shape (65536,)."""
    return look_up(curve, np.arange(FULL + 1, dtype=np.uint16))
