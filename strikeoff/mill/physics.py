"""Light in coloured cloth: Kubelka and Munk's two fluxes, and what more or less ink does to them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def absorption_ratio_kubelka_munk_1931(reflectance: ArrayLike) -> FloatArray:
    """Return K/S of an opaque layer, reflectance 0-1 (above 1 counts as 1).

    References
    ----------
    P. Kubelka, F. Munk, Z. techn. Physik 12 (1931), 593-601: K/S = (1 - R)^2 / 2R.

    Examples
    --------
    >>> float(absorption_ratio_kubelka_munk_1931(0.5))
    0.25
    """
    r = np.minimum(np.asarray(reflectance, dtype=np.float64), 1.0)
    return np.asarray((1 - r) ** 2 / (2 * r))


def reflectance_kubelka_munk_1931(ratio: ArrayLike) -> FloatArray:
    """Return the reflectance of an opaque layer from K/S, the inverse of the other direction.

    Examples
    --------
    >>> float(reflectance_kubelka_munk_1931(0.25))
    0.5
    """
    ks = np.asarray(ratio, dtype=np.float64)
    # 1 / (1 + ks + root) equals 1 + ks - root without its cancellation.
    return np.asarray(1.0 / (1.0 + ks + np.sqrt(ks * ks + 2.0 * ks)))


def with_ink_scaled(reflectance: ArrayLike, cloth: ArrayLike, factor: ArrayLike) -> FloatArray:
    """Return printed cloth with its ink per area multiplied by a factor.

    Parameters
    ----------
    reflectance : array_like, shape (..., n_bands)
        Printed cloth, 0-1. [-]
    cloth : array_like, shape (n_bands,)
        Bare cloth, 0-1. [-]
    factor : array_like, shape () or (..., 1)
        Ink per area after over before, above 0. [-]

    Returns
    -------
    ndarray, shape (..., n_bands)
        To first order: K/S above that of the cloth grows in proportion. Bands lighter than the
        cloth, and those of 1 or more, stay as they are, for no ink explains them.
    """
    r, bare = np.asarray(reflectance, dtype=np.float64), np.asarray(cloth, dtype=np.float64)
    ks, base = absorption_ratio_kubelka_munk_1931(r), absorption_ratio_kubelka_munk_1931(bare)
    more = reflectance_kubelka_munk_1931(base + np.maximum(ks - base, 0.0) * factor)
    return np.where((ks > base) & (r < 1.0), more, r)
