"""A nozzle pattern: one short line from every nozzle column and ink, so that a missing jet leaves a gap.

Own design of a general practice: lines of one ink stand in steps, neighbours on different steps, so that each
line has bare cloth on both sides. It is drawn at full tone of calibrated ink: where an ink's limit holds its
full tone below one drop a pixel, a line misses single drops, and light inks do not print theirs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.units import MM_PER_INCH

STEPS = 16
LINE_MM = 1.0

_FULL = 65535


def draw_nozzle_pattern(out: NDArray[np.uint16], row: int, dpi_y: float) -> None:
    """Draw what of the pattern falls into a band of planes: a block of lines for each ink.

    Parameters
    ----------
    out : ndarray, shape (rows, columns, inks)
        Bare cloth; each of its columns prints exactly one line in each ink.
    row : int
        First row of the band, from that of the pattern; any integer.
    dpi_y : float
        Addressability along. [dots per inch]

    Examples
    --------
    >>> cloth = np.zeros((20, 3, 1), np.uint16)
    >>> draw_nozzle_pattern(cloth, 0, 25.4)
    >>> (cloth[:4, :, 0] > 0).astype(int).tolist()
    [[1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 0, 0]]
    """
    line = _line_px(dpi_y)
    inks = out.shape[2]
    for y in range(max(0, -row), min(len(out), inks * (STEPS + 1) * line - row)):
        ink, step = divmod((row + y) // line, STEPS + 1)
        # Blocks are one line apart.
        if step < STEPS:
            out[y, step::STEPS, ink] = _FULL


def nozzle_pattern_height_mm(inks: int, dpi_y: float) -> float:
    """Return how long the pattern is. [mm].

    Examples
    --------
    >>> round(nozzle_pattern_height_mm(4, 600), 1)
    69.1
    """
    return inks * (STEPS + 1) * _line_px(dpi_y) * MM_PER_INCH / dpi_y


def _line_px(dpi_y: float) -> int:
    return max(1, round(LINE_MM * dpi_y / MM_PER_INCH))
