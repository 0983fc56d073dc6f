"""Colour differences."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

# Two hues count as opposite, 180 degrees apart, when they are so but for rounding. [degrees]
_TIE = 1e-9


def _split(lab: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    values = np.asarray(lab, dtype=np.float64)
    return values[..., 0], values[..., 1], values[..., 2]


def delta_e_1976(reference: ArrayLike, sample: ArrayLike) -> FloatArray:
    """Return the CIELAB distance.

    Parameters
    ----------
    reference, sample : array_like, shape (..., 3)
        L*, a*, b*.

    Returns
    -------
    ndarray, shape (...)

    References
    ----------
    CIE 15:2018, 8.2.1.3.

    Examples
    --------
    >>> float(delta_e_1976([50, 0, 0], [53, 4, 0]))
    5.0
    """
    gap = np.asarray(sample, dtype=np.float64) - np.asarray(reference, dtype=np.float64)
    return np.asarray(np.sqrt(np.sum(gap * gap, axis=-1)), dtype=np.float64)


def difference_parts(reference: ArrayLike, sample: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the signed differences in lightness, chroma and hue, sample minus reference.

    Parameters
    ----------
    reference, sample : array_like, shape (..., 3)
        L*, a*, b*.

    Returns
    -------
    tuple of ndarray, each of shape (...)
        dL*, dC*, dH*; dH* is positive when the sample lies counter-clockwise of the reference.

    References
    ----------
    CIE 15:2018, 8.2.1.3; the sign as in ISO 105-J03.

    Examples
    --------
    >>> [round(float(x), 4) for x in difference_parts([50, 10, 0], [52, 0, 10])]
    [2.0, 0.0, 14.1421]
    """
    l1, a1, b1 = _split(reference)
    l2, a2, b2 = _split(sample)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    # 2 sqrt(C1 C2) |sin(dh / 2)| without the cancellation of dE2 - dL2 - dC2.
    half = np.maximum(2.0 * (c1 * c2 - a1 * a2 - b1 * b2), 0.0)
    sign = np.where(a1 * b2 - a2 * b1 >= 0, 1.0, -1.0)
    return l2 - l1, c2 - c1, sign * np.sqrt(half)


def delta_e_1994(
    reference: ArrayLike,
    sample: ArrayLike,
    kL: float = 1.0,
    K1: float = 0.045,
    K2: float = 0.015,
    *,
    textiles: bool = False,
) -> FloatArray:
    """Return the CIE94 difference; the reference's chroma weights it, so order matters.

    Parameters
    ----------
    reference, sample : array_like, shape (..., 3)
        L*, a*, b*.
    kL, K1, K2 : float
        Parametric factors of graphic arts.
    textiles : bool
        Use the factors of textiles instead: kL 2, K1 0.048, K2 0.014.

    Returns
    -------
    ndarray, shape (...)

    References
    ----------
    CIE 116:1995.

    Examples
    --------
    >>> round(float(delta_e_1994([50, 20, 0], [52, 22, 1])), 4)
    2.3814
    """
    if textiles:
        kL, K1, K2 = 2.0, 0.048, 0.014
    d_l, d_c, d_h = difference_parts(reference, sample)
    _, a1, b1 = _split(reference)
    c1 = np.hypot(a1, b1)
    return np.sqrt((d_l / kL) ** 2 + (d_c / (1.0 + K1 * c1)) ** 2 + (d_h / (1.0 + K2 * c1)) ** 2)


def delta_e_cmc(standard: ArrayLike, sample: ArrayLike, l: float = 2.0, c: float = 1.0) -> FloatArray:  # noqa: E741
    """Return the CMC(l:c) difference; the standard comes first and order matters.

    Parameters
    ----------
    standard, sample : array_like, shape (..., 3)
        L*, a*, b*; textiles: D65, 10 degrees.
    l, c : float
        2:1 for acceptability, 1:1 for perceptibility.

    Returns
    -------
    ndarray, shape (...)

    References
    ----------
    ISO 105-J03.

    Examples
    --------
    >>> round(float(delta_e_cmc([50, 40, 20], [52, 38, 22])), 4)
    2.2432
    """
    l1, a1, b1 = _split(standard)
    d_l, d_c, d_h = difference_parts(standard, sample)
    c1 = np.hypot(a1, b1)
    h1 = np.degrees(np.arctan2(b1, a1)) % 360.0
    s_l = np.where(l1 < 16.0, 0.511, 0.040975 * l1 / (1.0 + 0.01765 * np.maximum(l1, 0.0)))
    s_c = 0.0638 * c1 / (1.0 + 0.0131 * c1) + 0.638
    f = np.sqrt(c1**4 / (c1**4 + 1900.0))
    t = np.where(
        (h1 >= 164.0) & (h1 <= 345.0),
        0.56 + np.abs(0.2 * np.cos(np.radians(h1 + 168.0))),
        0.36 + np.abs(0.4 * np.cos(np.radians(h1 + 35.0))),
    )
    s_h = s_c * (t * f + 1.0 - f)
    return np.sqrt((d_l / (l * s_l)) ** 2 + (d_c / (c * s_c)) ** 2 + (d_h / s_h) ** 2)


def delta_e_2000(
    reference: ArrayLike, sample: ArrayLike, kL: float = 1.0, kC: float = 1.0, kH: float = 1.0
) -> FloatArray:
    """Return the CIEDE2000 difference.

    Parameters
    ----------
    reference, sample : array_like, shape (..., 3)
        L*, a*, b*.
    kL, kC, kH : float
        Parametric factors.

    Returns
    -------
    ndarray, shape (...)

    Notes
    -----
    Hues exactly 180 degrees apart have two mean hues. The paper takes half the sum of the hue angles; here a
    difference within 1e-9 degree of 180 counts as exact, so that rounding cannot choose the other branch.

    References
    ----------
    G. Sharma, W. Wu, E. N. Dalal, Color Res. Appl. 30 (2005), 21-30; ISO/CIE 11664-6.

    Examples
    --------
    >>> round(float(delta_e_2000([50, 2.6772, -79.7751], [50, 0, -82.7485])), 4)
    2.0425
    """
    l1, a1, b1 = _split(reference)
    l2, a2, b2 = _split(sample)
    mean_c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean_c7 / (mean_c7 + 25.0**7))
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1 = np.degrees(np.arctan2(b1, stretch * a1)) % 360.0
    h2 = np.degrees(np.arctan2(b2, stretch * a2)) % 360.0
    grey = c1 * c2 == 0.0

    turn = h2 - h1
    over = np.abs(turn) > 180.0 + _TIE
    d_h_angle = np.where(over, turn - np.copysign(360.0, turn), turn)
    total = h1 + h2
    mean_h = np.where(over, (total + np.where(total < 360.0, 360.0, -360.0)) / 2.0, total / 2.0)
    d_h_angle = np.where(grey, 0.0, d_h_angle)
    mean_h = np.where(grey, total, mean_h)

    d_l, d_c = l2 - l1, c2 - c1
    d_h = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(d_h_angle / 2.0))
    mean_l, mean_c = (l1 + l2) / 2.0, (c1 + c2) / 2.0
    t = (
        1.0
        - 0.17 * np.cos(np.radians(mean_h - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * mean_h))
        + 0.32 * np.cos(np.radians(3.0 * mean_h + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * mean_h - 63.0))
    )
    s_l = 1.0 + 0.015 * (mean_l - 50.0) ** 2 / np.sqrt(20.0 + (mean_l - 50.0) ** 2)
    s_c = 1.0 + 0.045 * mean_c
    s_h = 1.0 + 0.015 * mean_c * t
    c7 = mean_c**7
    rotation = (
        -2.0
        * np.sqrt(c7 / (c7 + 25.0**7))
        * np.sin(np.radians(60.0 * np.exp(-(((mean_h - 275.0) / 25.0) ** 2))))
    )
    x, y, z = d_l / (kL * s_l), d_c / (kC * s_c), d_h / (kH * s_h)
    # Rounding can leave the quadratic form a hair below zero for equal colours.
    form = np.maximum(x * x + y * y + z * z + rotation * y * z, 0.0)
    return np.asarray(np.sqrt(form), dtype=np.float64)
