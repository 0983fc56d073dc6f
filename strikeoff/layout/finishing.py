"""Finished sizes and printed sizes: what washing, steaming and stretching do to a length.

Dimensional change is finished mark distance over the distance in the file, minus one, in percent,
signed as ISO 5077 does: shrinkage is negative. Steps multiply.

References
----------
ISO 5077:2007, Textiles - Determination of dimensional change in washing and drying.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from strikeoff.base.errors import RangeError

CHANGE_LOW_PERCENT = -50.0
CHANGE_HIGH_PERCENT = 20.0


def finishing_factor(change_percent: float | Sequence[float]) -> float:
    """Return finished length over the length in the file for one or several finishing steps.

    Parameters
    ----------
    change_percent : float or sequence of float
        Dimensional change of each step, -50 to +20, and of all together. [%]

    Raises
    ------
    RangeError
        Outside the range, or not a number.

    Examples
    --------
    >>> round(finishing_factor([-3, -2]), 4)
    0.9506
    """
    steps = [change_percent] if isinstance(change_percent, int | float) else list(change_percent)
    factor = 1.0
    for step in steps:
        factor *= 1.0 + _checked(float(step)) / 100.0
    _checked((factor - 1.0) * 100.0)
    return factor


def printed_mm(finished_mm: float, change_percent: float | Sequence[float]) -> float:
    """Return the length to print so that the finished goods measure ``finished_mm``.

    Parameters
    ----------
    finished_mm : float
        Length after finishing. [mm]
    change_percent : float or sequence of float
        Dimensional change of each step. [%]

    Returns
    -------
    float
        finished / (1 + change / 100), step by step. [mm]

    Examples
    --------
    >>> round(printed_mm(1000, -3), 2), round(printed_mm(1000, [-3, -2]), 2)
    (1030.93, 1051.97)
    """
    return finished_mm / finishing_factor(change_percent)


def finished_mm(printed_length_mm: float, change_percent: float | Sequence[float]) -> float:
    """Return the length after finishing of what is printed ``printed_length_mm`` long.

    Examples
    --------
    >>> round(finished_mm(1030.927835, -3), 3)
    1000.0
    """
    return printed_length_mm * finishing_factor(change_percent)


def _checked(percent: float) -> float:
    if not math.isfinite(percent) or not CHANGE_LOW_PERCENT <= percent <= CHANGE_HIGH_PERCENT:
        raise RangeError(
            "dimensional change cannot be used",
            found=f"{percent:g} %",
            expected=f"{CHANGE_LOW_PERCENT:g} to +{CHANGE_HIGH_PERCENT:g} %, shrinkage negative",
            advice="Give finished over file length minus one in percent, for example -3 for 3 % shrinkage",
        )
    return percent
