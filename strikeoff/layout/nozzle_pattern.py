"""A nozzle pattern: one short line from every nozzle column and ink, so that a missing jet leaves a gap.

Own design of a general practice: lines of one ink stand in steps, neighbours on different steps, so that each
line has bare cloth on both sides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.units import MM_PER_INCH

STEPS = 16


def nozzle_pattern(
    columns: int, inks: int, dpi_y: float, *, line_mm: float = 1.0, steps: int = STEPS
) -> NDArray[np.uint8]:
    """Return which ink each pixel of the pattern has: 0 for none, 1 for the first ink.

    Parameters
    ----------
    columns : int
        Press pixels across; each prints exactly one line in each ink.
    inks : int
        Blocks, one below the other.
    dpi_y : float
        Addressability along. [dots per inch]
    line_mm : float
        Length of a line. [mm]
    steps : int
        Columns until a step is used again.

    Returns
    -------
    ndarray, shape (rows, columns)
        Blocks are one line apart.

    Raises
    ------
    UsageError
        Sizes that cannot be.

    Examples
    --------
    >>> nozzle_pattern(4, 1, 25.4, steps=2).tolist()
    [[1, 0, 1, 0], [0, 1, 0, 1], [0, 0, 0, 0]]
    """
    if not (1 <= columns <= 1_000_000 and 1 <= inks <= 250 and 2 <= steps <= 200):
        raise UsageError(
            "nozzle pattern cannot be",
            found=f"{columns} columns, {inks} inks, {steps} steps",
            expected="1 to 1,000,000 columns, 1 to 250 inks, 2 to 200 steps",
        )
    line = max(1, round(line_mm * dpi_y / MM_PER_INCH))
    block = (steps + 1) * line
    pattern = np.zeros((inks * block, columns), np.uint8)
    for ink in range(inks):
        for step in range(steps):
            top = ink * block + step * line
            pattern[top : top + line, step::steps] = ink + 1
    return pattern


def nozzle_pattern_height_mm(inks: int, *, line_mm: float = 1.0, steps: int = STEPS) -> float:
    """Return how long the pattern is, about. [mm].

    Examples
    --------
    >>> nozzle_pattern_height_mm(4)
    68.0
    """
    return inks * (steps + 1) * line_mm
