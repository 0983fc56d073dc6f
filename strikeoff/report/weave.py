"""How a weave lightens and darkens cloth, at true scale."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError

FloatArray = NDArray[np.float64]
Weave = Literal["plain", "twill", "satin"]

# Which warp ends lie on top, row by weft pick: plain 1/1, twill 2/2, satin of five with a step of two.
_BINDINGS: dict[str, NDArray[np.int64]] = {
    "plain": np.array([[1, 0], [0, 1]]),
    "twill": np.array([[1, 1, 0, 0], [0, 1, 1, 0], [0, 0, 1, 1], [1, 0, 0, 1]]),
    "satin": np.array([[int((column - 2 * row) % 5 != 0) for column in range(5)] for row in range(5)]),
}
WEAVES = tuple(_BINDINGS)
_SAMPLES = 3


def weave_relief(weave: str, rows: int, columns: int, pitch_mm: float, yarn_mm: float) -> FloatArray:
    """Return the relief of a weave, mean 0 and about -1 to 1, as a screen pixel of that pitch averages it.

    Parameters
    ----------
    weave : {"plain", "twill", "satin"}
        Binding.
    rows, columns : int
        Size. [pixels]
    pitch_mm : float
        Cloth that one pixel covers, finished. [mm]
    yarn_mm : float
        Distance between yarns, finished. [mm]

    Returns
    -------
    ndarray, shape (rows, columns)
        Fades to nothing as pixels grow beyond the yarns, as the weave does for the eye.

    Raises
    ------
    UsageError
        Unknown weave.
    InputError
        Pitch or yarn that is not positive.
    """
    if weave not in _BINDINGS:
        raise UsageError("unknown weave", found=weave, expected=", ".join(WEAVES))
    if not (pitch_mm > 0 and yarn_mm > 0 and np.isfinite(pitch_mm) and np.isfinite(yarn_mm)):
        raise InputError("pitch and yarn must be positive", found=f"{pitch_mm} mm, {yarn_mm} mm")
    relief = np.zeros((rows, columns))
    # A few samples per pixel average what is finer than a pixel; what they cannot is damped away.
    damping = float(np.exp(-((pitch_mm / yarn_mm / 1.5) ** 2)))
    if damping < 0.01:
        return relief
    offsets = (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    for down in offsets:
        for across in offsets:
            relief += _height(
                weave,
                (np.arange(rows) + down) * pitch_mm / yarn_mm,
                (np.arange(columns) + across) * pitch_mm / yarn_mm,
            )
    relief /= _SAMPLES**2
    return np.asarray((relief - _mean(weave)) * damping, dtype=np.float64)


def _height(weave: str, picks: FloatArray, ends: FloatArray) -> FloatArray:
    binding = _BINDINGS[weave]
    n = len(binding)
    pick, end = np.floor(picks).astype(int), np.floor(ends).astype(int)
    is_warp = binding[np.ix_(pick % n, end % n)] == 1
    # Each yarn is round: light along its crest, dark where it dips between its neighbours.
    weft_round = np.sin(np.pi * (picks - pick))[:, None]
    warp_round = np.sin(np.pi * (ends - end))[None, :]
    warp = 0.25 + 1.5 * (warp_round - 0.6)
    weft = -0.25 + 1.5 * (weft_round - 0.6)
    return np.asarray(np.where(is_warp, warp, weft), dtype=np.float64)


def _mean(weave: str) -> float:
    share = float(_BINDINGS[weave].mean())
    crest = 1.5 * (2 / np.pi - 0.6)
    return share * (0.25 + crest) + (1 - share) * (-0.25 + crest)
