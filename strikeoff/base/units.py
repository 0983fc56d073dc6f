"""Conversions at the edges: millimetres, inches, press pixels."""

from __future__ import annotations

MM_PER_INCH = 25.4


def pitch_mm(dpi: float) -> float:
    """Return the pixel pitch [mm] of an addressability [dots per inch].

    Examples
    --------
    >>> round(pitch_mm(600), 6)
    0.042333
    """
    return MM_PER_INCH / dpi


def pixels(length_mm: float, dpi: float) -> int:
    """Return a length [mm] in whole press pixels, to the nearest.

    Examples
    --------
    >>> pixels(1400, 600)
    33071
    """
    return round(length_mm * dpi / MM_PER_INCH)
