"""Artwork of pieces in whole press pixels: which cut of which press grid, turned how, lands where.

The whole artwork is laid on one press grid and pieces are cut from that grid at whole pixels, so that
neighbouring panels agree pixel by pixel where they overlap, and go on where they meet. A turn by 90 degrees
comes before the scaling, because the cloth changes differently along and across; the other turns and
mirrors change the order of finished pixels only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.finishing import printed_mm
from strikeoff.layout.placement import Layout, Placement


@dataclass(frozen=True)
class PressGrid:
    """One artwork on the roll's pixels.

    Attributes
    ----------
    artwork : str
        Its file.
    quarter : bool
        Whether it is turned by 90 degrees clockwise before it is scaled.
    width_px, height_px : int
        All of it, as it lies.
    """

    artwork: str
    quarter: bool
    width_px: int
    height_px: int


@dataclass(frozen=True)
class LyingPiece:
    """One piece in pixels.

    Attributes
    ----------
    grid : PressGrid
        What it is cut from.
    cut_px : tuple of int
        Left, top, right, bottom of the cut on the grid; beyond its edges by the bleed at most.
    flips : tuple of bool
        Whether the cut is mirrored left to right, and top to bottom.
    left_px, top_px : int
        First column and row of the piece from the corner of the cuttable cloth.
    """

    grid: PressGrid
    cut_px: tuple[int, int, int, int]
    flips: tuple[bool, bool]
    left_px: int
    top_px: int

    @property
    def width_px(self) -> int:
        """Columns."""
        return self.cut_px[2] - self.cut_px[0]

    @property
    def height_px(self) -> int:
        """Rows."""
        return self.cut_px[3] - self.cut_px[1]


def lying_piece(layout: Layout, piece: Placement, dpi_x: float, dpi_y: float) -> LyingPiece:
    """Return a piece in pixels.

    Parameters
    ----------
    layout : Layout
        Its roll; gives the dimensional change.
    piece : Placement
        A checked piece.
    dpi_x, dpi_y : float
        Addressability. [dots per inch]

    Examples
    --------
    >>> flag = Placement("A", 0, 0, 50, 100, turn_degrees=90, mirror=True)
    >>> found = lying_piece(Layout(500, 10, 0, 0, (flag,)), flag, 254, 508)
    >>> found.grid.quarter, found.cut_px, found.flips
    (True, (0, 0, 500, 2000), (False, True))
    """
    across = printed_mm(1.0, layout.weft_percent) * dpi_x / MM_PER_INCH
    along = printed_mm(1.0, layout.warp_percent) * dpi_y / MM_PER_INCH
    quarter = piece.turn_degrees % 180 == 90
    wide, high = piece.whole_mm
    left, top, right, bottom = _edges(piece)
    if quarter:
        # Clockwise: what was on the left is above, what was above is on the right.
        left, top, right, bottom = high - bottom, left, high - top, right
        wide, high = high, wide
    grid = PressGrid(piece.artwork, quarter, max(1, _near(wide * across)), max(1, _near(high * along)))
    x, y = grid.width_px / wide, grid.height_px / high
    cut = [_near(left * x), _near(top * y), _near(right * x), _near(bottom * y)]
    # Even the smallest piece has a pixel.
    cut[2], cut[3] = max(cut[2], cut[0] + 1), max(cut[3], cut[1] + 1)
    half = piece.turn_degrees >= 180
    flips = half ^ (piece.mirror and not quarter), half ^ (piece.mirror and quarter)
    return LyingPiece(
        grid,
        (cut[0], cut[1], cut[2], cut[3]),
        flips,
        _near(piece.x_mm * across),
        _near(piece.y_mm * along),
    )


def _edges(piece: Placement) -> tuple[float, float, float, float]:
    left, top, wide, high = piece.shown_mm
    return left, top, left + wide, top + high


def _near(value: float) -> int:
    """Round to the nearest, halves up: places that differ by whole pixels round alike."""
    return math.floor(value + 0.5)
