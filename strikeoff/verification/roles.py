"""Which patches are cloth, solids, overprints, tints, greys and black."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError

BoolArray = NDArray[np.bool_]

#: All names under which a tolerance set may address patches.
ROLES = ("cloth", "all", "solids", "overprints", "tints", "greys", "black")

# A full tone or no ink but for rounding in a file. [-]
_SLACK = 0.002
# A grey is a mix whose aim lies this near the neutral axis. [CIELAB units]
_GREY_CHROMA = 6.0

#: C, M, Y [%] of greys: six near-neutrals of the 1,617-patch list (ISO 12642-2) and three grey balance
#: check values of a public coated characterisation of 2015.
_GREY_TRIPLES = (
    (5, 3, 3),
    (10, 6, 6),
    (20, 12, 12),
    (25, 18, 17),
    (40, 27, 27),
    (43, 33, 32),
    (60, 45, 45),
    (64, 53, 52),
    (80, 65, 65),
    (100, 85, 85),
)
_TRIPLE_SLACK = 0.02


def patch_roles(
    inks: Sequence[str], coverages: ArrayLike, aim_lab: ArrayLike | None = None
) -> dict[str, BoolArray]:
    """Return a mask over patches for each role.

    Parameters
    ----------
    inks : sequence of str
        Ink names; ``K`` or ``black`` is taken for the black ink. Where none is so named and aims are given,
        it is the ink whose darkest patch is neutral and dark.
    coverages : array_like, shape (n, n_inks)
        Calibrated ink, 0-1. [-]
    aim_lab : array_like, shape (n, 3), optional
        Aims. With them greys are mixes without black whose aim has C* <= 6; without them, known triples
        of C, M, Y.

    Returns
    -------
    dict of str to ndarray of bool, shape (n,)
        The keys are `ROLES`. ``solids`` are full tones of one ink, ``overprints`` full tones of two inks or
        more, ``tints`` parts of one ink, ``black`` the full tone of the black ink alone.

    Raises
    ------
    InputError
        When the shapes disagree.

    Examples
    --------
    >>> roles = patch_roles("CMYK", [[0, 0, 0, 0], [1, 0, 0, 0], [1, 1, 0, 0], [.1, .06, .06, 0]])
    >>> [name for name in ROLES if roles[name][3]]
    ['all', 'greys']
    """
    ink = np.asarray(coverages, dtype=np.float64)
    if ink.ndim != 2 or ink.shape[1] != len(inks):
        raise InputError("inks and coverages disagree", found=ink.shape, expected=f"(n, {len(inks)})")
    aims = None if aim_lab is None else np.asarray(aim_lab, dtype=np.float64)
    if aims is not None and aims.shape != (len(ink), 3):
        raise InputError("aims and coverages disagree", found=aims.shape, expected=f"({len(ink)}, 3)")
    full, none = ink >= 1 - _SLACK, ink <= _SLACK
    n_used = (~none).sum(axis=1)
    is_flat = (full | none).all(axis=1)
    black = _black_ink(inks, ink, full, n_used, aims)
    no_black = np.ones(len(ink), dtype=np.bool_) if black is None else none[:, black]
    return {
        "cloth": n_used == 0,
        "all": np.ones(len(ink), dtype=np.bool_),
        "solids": is_flat & (n_used == 1),
        "overprints": is_flat & (n_used > 1),
        "tints": ~is_flat & (n_used == 1),
        "greys": _greys(inks, ink, n_used, no_black, aims),
        "black": np.zeros(len(ink), dtype=np.bool_)
        if black is None
        else np.asarray(is_flat & (n_used == 1) & full[:, black]),
    }


def _black_ink(
    inks: Sequence[str],
    ink: NDArray[np.float64],
    full: BoolArray,
    n_used: NDArray[np.intp],
    aims: NDArray[np.float64] | None,
) -> int | None:
    for index, name in enumerate(inks):
        if name.strip().lower() in ("k", "black"):
            return index
    if aims is None:
        return None
    for index in range(ink.shape[1]):
        rows = np.flatnonzero(full[:, index] & (n_used == 1))
        if rows.size and aims[rows[0], 0] < 45 and np.hypot(*aims[rows[0], 1:]) < 12:
            return index
    return None


def _greys(
    inks: Sequence[str],
    ink: NDArray[np.float64],
    n_used: NDArray[np.intp],
    no_black: BoolArray,
    aims: NDArray[np.float64] | None,
) -> BoolArray:
    if aims is not None:
        # Two pale tints are near neutral too; a composed grey takes three inks where there are three.
        n_needed = min(3, ink.shape[1])
        near = np.hypot(aims[:, 1], aims[:, 2]) <= _GREY_CHROMA
        return np.asarray(near & (n_used >= max(2, n_needed)) & no_black)
    letters = [name.strip().lower()[:1] for name in inks]
    if not {"c", "m", "y"} <= set(letters):
        return np.zeros(len(ink), dtype=np.bool_)
    cmy = ink[:, [letters.index(letter) for letter in "cmy"]]
    triples = np.array(_GREY_TRIPLES) / 100.0
    near = (np.abs(cmy[:, None, :] - triples).max(axis=2) <= _TRIPLE_SLACK).any(axis=1)
    return np.asarray(near & (n_used == 3) & no_black)
