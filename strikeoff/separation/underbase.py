"""White under the other inks, drawn in or let out at their edges in millimetres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import Band, BandSource, FramedSource, check_rows

#: Most that an underbase is drawn in or let out. [mm]
MOST_MM = 20.0
# Distances are multiples of the pitch; a tie must not hang on the last bit.
_SLACK_MM = 1e-9


@dataclass(frozen=True)
class Underbase:
    """How white lies under the other inks.

    Attributes
    ----------
    ink : int
        Channel of the white ink.
    covered : tuple of int
        Channels that ask for white below them.
    level : float
        Amount of white, 0-1. [-]
    choke_mm : float
        How far white ends inside the edge of the other inks; below 0 it ends outside (spread). [mm]
    """

    ink: int
    covered: tuple[int, ...]
    level: float = 1.0
    choke_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.ink in self.covered or not self.covered:
            raise UsageError("an underbase lies under other inks than its own")
        if not 0 < self.level <= 1:
            raise UsageError(
                "amount of white is out of range",
                found=f"{self.level * 100:g} %",
                expected="above 0 to 100 %",
            )
        if not abs(self.choke_mm) <= MOST_MM:
            raise UsageError(
                "underbase is drawn in or let out too far",
                found=f"{self.choke_mm:g} mm",
                expected=f"at most {MOST_MM:g} mm",
            )


@dataclass(frozen=True)
class UnderbaseSource(FramedSource):
    """Ink planes with white laid under them; white of the artwork's own stays where it is more.

    A pixel is covered when any of the other inks is above none. White lies under the covered pixels that are
    farther than the choke from every open one, or, spread, within it of a covered one; distances are between
    centres of pixels. Beyond the edge of the image nothing is known, so nothing there chokes or spreads.

    Attributes
    ----------
    source : BandSource
        uint16 ink planes.
    underbase : Underbase
        What is laid.
    """

    source: BandSource
    underbase: Underbase

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return self.source.dtype

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        reach = int((abs(self.underbase.choke_mm) + _SLACK_MM) / self.pitch_mm[1])
        first, last = max(y0 - reach, 0), min(y1 + reach, self.height)
        band = self.source.read(first, last)
        covered = np.asarray((band[..., list(self.underbase.covered)] > 0).any(axis=2))
        under = shrunk(covered, self.underbase.choke_mm, self.pitch_mm)[y0 - first : y1 - first]
        out = np.array(band[y0 - first : y1 - first])
        white = out[..., self.underbase.ink]
        level = np.uint16(np.floor(self.underbase.level * 65535.0 + 0.5))
        white[under] = np.maximum(white[under], level)
        return out


def shrunk(covered: NDArray[np.bool_], choke_mm: float, pitch_mm: tuple[float, float]) -> NDArray[np.bool_]:
    """Return covered pixels drawn in by a distance, or let out where it is below 0.

    Parameters
    ----------
    covered : ndarray of bool, shape (rows, width)
        Where other inks are.
    choke_mm : float
        Distance from the centre of the nearest open pixel up to which white is taken away. [mm]
    pitch_mm : tuple of float
        Pixel pitch (across, along). [mm]

    Examples
    --------
    >>> shrunk(np.array([[0, 1, 1, 1, 1, 0]], bool), 0.1, (0.1, 0.1)).astype(int).tolist()
    [[0, 0, 1, 1, 0, 0]]
    >>> shrunk(np.array([[0, 0, 1, 0, 0, 0]], bool), -0.1, (0.1, 0.1)).astype(int).tolist()
    [[0, 1, 1, 1, 0, 0]]
    """
    from scipy.ndimage import distance_transform_edt

    if choke_mm == 0 or covered.all() or not covered.any():
        return covered
    sampling = (pitch_mm[1], pitch_mm[0])
    inside = covered if choke_mm > 0 else ~covered
    away = np.asarray(distance_transform_edt(inside, sampling=sampling)) > abs(choke_mm) + _SLACK_MM
    return away if choke_mm > 0 else ~away
