"""Copies of one piece in a grid that fills the width: how many there will be, where, which way up."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from strikeoff.base.errors import InputError, UsageError
from strikeoff.layout.finishing import printed_mm

TURNS = ("none", "rows", "columns")
MOST_COPIES = 1_000_000

_LONGEST_MM = 200_000.0


@dataclass(frozen=True)
class CopyGrid:
    """A grid of copies; sizes are finished. [mm].

    Attributes
    ----------
    size_mm, bleed_mm, gap_mm : tuple of float, float, tuple of float
        Trimmed copy (across, along); artwork beyond its edge; cloth between bleeds (across, along).
    across, rows, count : int
        Copies side by side, rows, and copies in all.
    turn : str
        ``rows`` or ``columns``: every other one stands on its head, so that drift of the cutter does not
        add up; ``none``.
    length_mm, left_over_mm : tuple of float
        Length of the grid, and width beyond it (printed, finished). [mm]
    """

    size_mm: tuple[float, float]
    bleed_mm: float
    gap_mm: tuple[float, float]
    across: int
    rows: int
    count: int
    turn: str
    length_mm: tuple[float, float]
    left_over_mm: tuple[float, float]

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Finished distance from copy to copy (across, along)."""
        across, along = (s + 2 * self.bleed_mm + g for s, g in zip(self.size_mm, self.gap_mm, strict=True))
        return across, along

    def copies(self) -> Iterator[tuple[float, float, bool]]:
        """Yield each copy, row by row: finished left and upper trim edge, and whether it is on its head."""
        pitch = self.pitch_mm
        for k in range(self.count):
            row, column = divmod(k, self.across)
            odd = {"rows": row, "columns": column}.get(self.turn, 0) % 2
            yield self.bleed_mm + column * pitch[0], self.bleed_mm + row * pitch[1], bool(odd)


def plan_copies(
    size_mm: tuple[float, float],
    count: int,
    *,
    cuttable_mm: float,
    warp_percent: float,
    weft_percent: float,
    bleed_mm: float = 0.0,
    gap_mm: tuple[float, float] = (0.0, 0.0),
    turn: str = "none",
    fill: bool = False,
) -> CopyGrid:
    """Return the grid that holds as many copies across as the width allows.

    Parameters
    ----------
    size_mm : tuple of float
        Finished size of a copy (across, along). [mm]
    count : int
        Copies wanted.
    cuttable_mm : float
        Width that can be used, before finishing. [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across. [%]
    bleed_mm : float
        Finished artwork beyond the edge of each copy. [mm]
    gap_mm : tuple of float
        Finished cloth between bleeds (across, along). [mm]
    turn : {"none", "rows", "columns"}
        Which ones stand on their heads.
    fill : bool
        Fill the last row with spare copies instead of stopping at the count.

    Raises
    ------
    UsageError
        Unknown turn.
    InputError
        Sizes or counts that cannot be, a copy wider than the cloth; RangeError for the dimensional change.

    Examples
    --------
    >>> grid = plan_copies((450, 450), 10, cuttable_mm=1400, warp_percent=-5, weft_percent=-3, fill=True)
    >>> grid.across, grid.rows, grid.count
    (3, 4, 12)
    """
    if turn not in TURNS:
        raise UsageError("unknown turn", found=turn, expected=", ".join(TURNS))
    if not 1 <= count <= MOST_COPIES:
        raise InputError("number of copies cannot be", found=count, expected=f"1 to {MOST_COPIES:,}")
    if not all(1 <= v <= _LONGEST_MM for v in (*size_mm, cuttable_mm)):
        raise InputError(
            "size of a copy or the cuttable width cannot be",
            found=f"{size_mm[0]:g} x {size_mm[1]:g} mm on {cuttable_mm:g} mm",
            expected="1 to 200,000 mm",
        )
    if not all(0 <= v <= 1000 for v in (bleed_mm, *gap_mm)):
        raise InputError(
            "bleed or gap cannot be",
            found=f"{bleed_mm:g}, {gap_mm[0]:g}, {gap_mm[1]:g} mm",
            expected="0 to 1,000 mm",
        )
    widest = cuttable_mm / printed_mm(1.0, weft_percent)
    cell = size_mm[0] + 2 * bleed_mm, size_mm[1] + 2 * bleed_mm
    fitting = math.floor((widest + gap_mm[0]) / (cell[0] + gap_mm[0]) * (1 + 1e-9))
    if fitting < 1:
        raise InputError(
            "copy is wider than the cloth",
            found=f"{cell[0]:g} mm finished with bleed",
            expected=f"at most {widest:g} mm",
            advice="Turn it by 90 degrees if the grain allows, or split it into panels",
        )
    across = fitting if fill else min(fitting, count)
    rows = math.ceil(count / across)
    length = rows * cell[1] + (rows - 1) * gap_mm[1]
    left = max(0.0, widest - across * cell[0] - (across - 1) * gap_mm[0])
    return CopyGrid(
        size_mm=size_mm,
        bleed_mm=bleed_mm,
        gap_mm=gap_mm,
        across=across,
        rows=rows,
        count=rows * across if fill else count,
        turn=turn,
        length_mm=(printed_mm(length, warp_percent), length),
        left_over_mm=(printed_mm(left, weft_percent), left),
    )
