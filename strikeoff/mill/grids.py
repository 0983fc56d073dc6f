"""Finishing grids of the mill: marks printed at a known distance, measured after finishing.

The change of a specimen scatters about that of its lot, and each reading of a distance about the truth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from strikeoff.base.errors import InputError

#: Distance of the marks in the file. ISO 3759 asks for at least 350 mm. [mm]
MARKS_MM = 500.0

_MARK_PAIRS = 3
_MARK_READING_SD_MM = 0.3
_HEADING = "direction,lot,specimen,file_mm,finished_mm"


@dataclass(frozen=True)
class FinishingGrid:
    """Distances between marks as printed by the file and as measured on finished cloth.

    Attributes
    ----------
    file_mm : float
        Distance in the file, both ways. [mm]
    warp_mm, weft_mm : tuple of float
        Finished distances, one per pair of marks. [mm]
    """

    file_mm: float
    warp_mm: tuple[float, ...]
    weft_mm: tuple[float, ...]

    @property
    def change_percent(self) -> tuple[float, float]:
        """Mean dimensional change (warp, weft) in percent, shrinkage negative."""
        warp, weft = (100 * (float(np.mean(d)) / self.file_mm - 1) for d in (self.warp_mm, self.weft_mm))
        return warp, weft


@dataclass(frozen=True)
class Specimen:
    """A grid and the cloth that it was printed on."""

    lot: str
    name: str
    grid: FinishingGrid


def read_grid(change_percent: tuple[float, float], rng: np.random.Generator) -> FinishingGrid:
    """Return the grid of a specimen of known change (warp, weft) as a person reads it, to 0.1 mm."""

    def distances(change: float) -> tuple[float, ...]:
        exact = MARKS_MM * (1 + change / 100)
        return tuple(round(float(exact + rng.normal(0, _MARK_READING_SD_MM)), 1) for _ in range(_MARK_PAIRS))

    return FinishingGrid(MARKS_MM, *map(distances, change_percent))


def finished_specimens(
    lot_changes_percent: Sequence[tuple[float, float]],
    specimen_sd_percent: tuple[float, float],
    *,
    specimens: int,
    seed: int,
) -> tuple[Specimen, ...]:
    """Finish several specimens of several lots and read their grids.

    Parameters
    ----------
    lot_changes_percent : sequence of tuple of float
        True change (warp, weft) of each lot, shrinkage negative. [%]
    specimen_sd_percent : tuple of float
        Scatter of specimens about their lot (warp, weft). [%]
    specimens : int
        Of each lot.
    seed : int
        Same seed, same readings.

    Raises
    ------
    InputError
        Without lots or specimens.
    """
    if specimens < 1 or not len(lot_changes_percent):
        raise InputError(
            "bad plan for finishing grids",
            found=f"{len(lot_changes_percent)} lots, {specimens} specimens of each",
            expected="one of each or more",
        )
    rng = np.random.default_rng([seed, 3])
    found = []
    for number, lot in enumerate(lot_changes_percent, 1):
        for name in range(1, specimens + 1):
            warp, weft = rng.normal(lot, specimen_sd_percent)
            grid = read_grid((float(warp), float(weft)), rng)
            found.append(Specimen(f"simulated lot {number}", str(name), grid))
    return tuple(found)


def grid_table(specimens: Sequence[Specimen]) -> str:
    """Return readings of grids as CSV, a row for every pair of marks.

    Examples
    --------
    >>> print(grid_table([Specimen("A", "1", FinishingGrid(500.0, (472.5,), (485.1,)))]), end="")
    direction,lot,specimen,file_mm,finished_mm
    warp,A,1,500,472.5
    weft,A,1,500,485.1
    """
    rows = [
        f"{direction},{s.lot},{s.name},{s.grid.file_mm:g},{value:.1f}"
        for s in specimens
        for direction, values in (("warp", s.grid.warp_mm), ("weft", s.grid.weft_mm))
        for value in values
    ]
    return "\n".join([_HEADING, *rows, ""])
