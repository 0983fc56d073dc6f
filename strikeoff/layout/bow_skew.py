"""Bow and skew of cloth, measured and judged by the worst place of the roll.

References
----------
ISO 13015:2013, Woven fabrics - Determination of bow and skew: the greatest distance in percent of the
width; a lot is judged by its worst value, not by the mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from strikeoff.base.errors import InputError
from strikeoff.layout.finishing_readings import positive_mm, read_csv

#: Limits of the trade where no others are agreed (weakly sourced). [%]
BOW_LIMIT_PERCENT, SKEW_LIMIT_PERCENT = 2.0, 3.0


@dataclass(frozen=True)
class LineReading:
    """One weft line of a roll.

    Attributes
    ----------
    roll : str
        Which roll.
    at_m : str
        Where on it, as it was written down.
    bow_percent, skew_percent : float
        In percent of the width. [%]
    """

    roll: str
    at_m: str
    bow_percent: float
    skew_percent: float


def bow_percent(depth_mm: float, width_mm: float) -> float:
    """Return bow: greatest distance of a weft from the straight line through its ends. [%].

    Examples
    --------
    >>> bow_percent(30, 1500)
    2.0
    """
    return _share(depth_mm, width_mm)


def skew_percent(offset_mm: float, width_mm: float) -> float:
    """Return skew: distance along the selvedge from the square line to the weft's end. [%].

    Examples
    --------
    >>> skew_percent(45, 1500)
    3.0
    """
    return _share(offset_mm, width_mm)


def read_lines(path: str | Path) -> tuple[LineReading, ...]:
    """Return bow and skew from a CSV table: ``width_mm``, ``bow_mm``, ``skew_mm``, and ``roll``, ``at_m``.

    Raises
    ------
    InputError
        Missing columns, lengths that cannot be.
    """
    found = []
    for where, row in read_csv(path, ("width_mm", "bow_mm", "skew_mm"))[1]:
        width = positive_mm(row["width_mm"], path, f"{where}, width_mm")
        bow = positive_mm(row["bow_mm"], path, f"{where}, bow_mm", or_zero=True)
        skew = positive_mm(row["skew_mm"].lstrip("+-"), path, f"{where}, skew_mm", or_zero=True)
        if max(bow, skew) >= width:
            raise InputError(
                "bow or skew reaches the width", path=path, where=where, expected="less than the width"
            )
        found.append(
            LineReading(
                row.get("roll") or "1",
                row.get("at_m", ""),
                bow_percent(bow, width),
                skew_percent(skew, width),
            )
        )
    return tuple(found)


def worst_lines(lines: Sequence[LineReading]) -> dict[str, tuple[float, float]]:
    """Return the greatest bow and skew of every roll. [%]."""
    worst: dict[str, tuple[float, float]] = {}
    for line in lines:
        bow, skew = worst.get(line.roll, (0.0, 0.0))
        worst[line.roll] = max(bow, line.bow_percent), max(skew, line.skew_percent)
    return worst


def _share(offset_mm: float, width_mm: float) -> float:
    if not (width_mm > 0 and 0 <= offset_mm < width_mm):
        raise InputError(
            "bow or skew cannot be",
            found=f"{offset_mm} mm of {width_mm} mm",
            expected="0 or more, less than the width",
        )
    return 100 * offset_mm / width_mm
