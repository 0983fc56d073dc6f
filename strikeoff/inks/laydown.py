"""How much ink lies on a square metre."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import RangeError
from strikeoff.base.units import MM_PER_INCH


def laydown_ml_m2(
    mean_coverage: ArrayLike, dpi_x: float, dpi_y: float, drop_pl: ArrayLike
) -> NDArray[np.float64]:
    """Return the ink laid down per area.

    Parameters
    ----------
    mean_coverage : array_like, shape (..., n_inks)
        Share of the press pixels that get a drop, 0-1. [-]
    dpi_x, dpi_y : float
        Addressability across and along. [dots per inch]
    drop_pl : array_like, shape () or (n_inks,)
        Volume of a drop. [pL]

    Returns
    -------
    ndarray, shape (..., n_inks)
        Laydown. [ml/m2]

    Raises
    ------
    RangeError
        For coverage outside 0-1 or NaN, or an addressability or drop that is not positive.

    References
    ----------
    Dots per area times volume: (dpi / 0.0254)^2 x pL x 1e-9; arithmetic, no source needed.

    Examples
    --------
    >>> round(float(laydown_ml_m2(1.0, 600, 600, 7)), 3)
    3.906
    """
    coverage, volume = np.asarray(mean_coverage, dtype=np.float64), np.asarray(drop_pl, dtype=np.float64)
    if not ((coverage >= 0) & (coverage <= 1)).all():
        raise RangeError("mean coverage outside its range", found=coverage.tolist(), expected="0-1")
    if not (dpi_x > 0 and dpi_y > 0 and (volume > 0).all()):
        raise RangeError(
            "addressability and drop volume must be positive", found=f"{dpi_x} x {dpi_y} dpi, {volume} pL"
        )
    dots_m2 = (1000.0 / MM_PER_INCH) ** 2 * dpi_x * dpi_y
    return np.asarray(coverage * volume * dots_m2 * 1e-9, dtype=np.float64)
