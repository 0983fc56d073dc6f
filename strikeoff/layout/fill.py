"""A piece that is filled with a repeat: an area of cloth, beside pieces that show their artwork once."""

from __future__ import annotations

import math
from dataclasses import dataclass

from strikeoff.base.errors import InputError
from strikeoff.raster.lattice import STRAIGHT, Lattice

LEAST_REPEAT_MM, MOST_REPEAT_MM = 1.0, 100_000.0

_FARTHEST_MM = 200_000.0


@dataclass(frozen=True)
class RepeatFill:
    """The repeat of an area.

    Attributes
    ----------
    size_mm : tuple of float
        One repeat as it lies, finished (across, along). [mm]
    lattice : Lattice
        How repeats stand beside each other.
    origin_mm : tuple of float, optional
        Left upper corner of one repeat, the first of the lattice, on the cuttable cloth, finished; it may
        lie outside the area. The area's own corner when None. Areas of one repeat and one origin go on
        in each other. [mm]
    """

    size_mm: tuple[float, float]
    lattice: Lattice = STRAIGHT
    origin_mm: tuple[float, float] | None = None


def check_fill(code: str, fill: RepeatFill) -> None:
    """Find repeats that cannot be.

    Parameters
    ----------
    code : str
        Name of the area.
    fill : RepeatFill
        Its repeat.

    Raises
    ------
    InputError
        A size or an origin that cannot be.

    Examples
    --------
    >>> check_fill("cloth", RepeatFill((640, 0.5)))
    Traceback (most recent call last):
    strikeoff.base.errors.InputError: cloth: repeat of an area cannot be so large (found 640 x 0.5 mm; \
expected 1 to 100,000 mm across and along, finished)
    """
    if not all(LEAST_REPEAT_MM <= size <= MOST_REPEAT_MM for size in fill.size_mm):
        raise InputError(
            "repeat of an area cannot be so large",
            where=code,
            found=f"{fill.size_mm[0]:g} x {fill.size_mm[1]:g} mm",
            expected=f"{LEAST_REPEAT_MM:g} to {MOST_REPEAT_MM:,.0f} mm across and along, finished",
        )
    origin = fill.origin_mm or (0.0, 0.0)
    if not all(math.isfinite(place) and abs(place) <= _FARTHEST_MM for place in origin):
        raise InputError(
            "origin of a repeat cannot be",
            where=code,
            found=f"{origin[0]:g}, {origin[1]:g} mm",
            expected=f"at most {_FARTHEST_MM:,.0f} mm from the corner of the cuttable cloth",
        )
