"""What whole press pixels do to the sizes of the pieces of a roll."""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.finishing import finished_mm
from strikeoff.layout.lying import LyingArea, LyingPiece
from strikeoff.layout.placement import Layout


def piece_snapping_mm(
    layout: Layout, pieces: Sequence[LyingPiece | LyingArea], dpi: tuple[float, float]
) -> list[float]:
    """Return how far the artwork of a piece is off its finished size at most, whole and as it lies.

    Parameters
    ----------
    layout : Layout
        Pieces and areas; areas of a repeat do not count here.
    pieces : sequence
        The same in press pixels.
    dpi : tuple of float
        Addressability (across, along). [dots per inch]

    Returns
    -------
    list of float
        Across, along, with their sign; 0 without pieces. [mm]
    """
    worst = [0.0, 0.0]
    for placement, piece in zip(layout.placements, pieces, strict=True):
        if isinstance(piece, LyingArea):
            continue
        wide, high = placement.whole_mm
        wanted = (high, wide) if piece.grid.quarter else (wide, high)
        reached = (
            finished_mm(piece.grid.width_px * MM_PER_INCH / dpi[0], layout.weft_percent),
            finished_mm(piece.grid.height_px * MM_PER_INCH / dpi[1], layout.warp_percent),
        )
        for axis in (0, 1):
            worst[axis] = max(worst[axis], reached[axis] - wanted[axis], key=abs)
    return [round(error, 6) + 0.0 for error in worst]


def piece_snapping_line(error_mm: Sequence[float]) -> str:
    """Return what a person reads of `piece_snapping_mm`; shrink spread is never mixed with it."""
    return (
        f"snapping to press pixels: artwork is off by {error_mm[0]:+.4f} x {error_mm[1]:+.4f} mm at most; "
        "shrink spread is apart: finishing risk tells it"
    )
