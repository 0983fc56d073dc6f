"""Artwork of a layout in whole press pixels: which cut of which press grid, turned how, lands where.

The whole artwork is laid on one press grid and pieces are cut from that grid at whole pixels, so that
neighbouring panels agree pixel by pixel where they overlap, and go on where they meet. A turn by 90 degrees
comes before the scaling, because the cloth changes differently along and across; the other turns and
mirrors change the order of finished pixels only.

An area that is filled with a repeat is a window on the lattice of a tile in whole press pixels. The lattice
hangs on its origin on the cloth, so that windows of one repeat and one origin go on in each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.finishing import printed_mm
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.repeat import Repeat, snap_repeat


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


@dataclass(frozen=True)
class LyingArea:
    """One area that is filled with a repeat, in pixels.

    Attributes
    ----------
    grid : PressGrid
        The tile.
    repeat : Repeat
        How it stands beside itself, and what whole pixels make of its size.
    flips : tuple of bool
        Whether the tile is mirrored left to right, and top to bottom, before the lattice is laid.
    left_px, top_px : int
        First column and row of the area from the corner of the cuttable cloth.
    width_px, height_px : int
        Its size.
    origin_px : tuple of int
        Left upper corner of the first tile from the corner of the cuttable cloth (across, along).
    """

    grid: PressGrid
    repeat: Repeat
    flips: tuple[bool, bool]
    left_px: int
    top_px: int
    width_px: int
    height_px: int
    origin_px: tuple[int, int]

    @property
    def period_rows(self) -> int:
        """Rows after which the window shows the same again; 0 where the tile stands once along."""
        return 0 if self.repeat.lattice.repeats in ("across", "none") else self.repeat.period_rows


def lying(layout: Layout, piece: Placement, dpi_x: float, dpi_y: float) -> LyingPiece | LyingArea:
    """Return a piece or an area in pixels; see `lying_piece` and `lying_area`."""
    if piece.repeat is None:
        return lying_piece(layout, piece, dpi_x, dpi_y)
    return lying_area(layout, piece, dpi_x, dpi_y)


def lying_area(layout: Layout, area: Placement, dpi_x: float, dpi_y: float) -> LyingArea:
    """Return an area that is filled with a repeat in pixels; areas that touch neither overlap nor part.

    Parameters
    ----------
    layout : Layout
        Its roll; gives the dimensional change.
    area : Placement
        A checked placement with a repeat.
    dpi_x, dpi_y : float
        Addressability. [dots per inch]

    Raises
    ------
    ValueError
        A piece without a repeat.

    Examples
    --------
    >>> from strikeoff.layout.fill import RepeatFill
    >>> cloth = Placement("A", 10, 0, 50, 100, repeat=RepeatFill((20, 20), origin_mm=(0, -5)))
    >>> found = lying_area(Layout(500, 10, 0, 0, (cloth,)), cloth, 254, 254)
    >>> found.left_px, found.width_px, found.origin_px, found.repeat.width_px
    (100, 500, (0, -50), 200)
    """
    if area.repeat is None:
        raise ValueError(f"{area.code} is not filled with a repeat")
    fill = area.repeat
    repeat = snap_repeat(
        *fill.size_mm,
        warp_percent=layout.warp_percent,
        weft_percent=layout.weft_percent,
        dpi_x=dpi_x,
        dpi_y=dpi_y,
        kind=fill.lattice,
    )
    across = printed_mm(1.0, layout.weft_percent) * dpi_x / MM_PER_INCH
    along = printed_mm(1.0, layout.warp_percent) * dpi_y / MM_PER_INCH
    left, top = _near(area.x_mm * across), _near(area.y_mm * along)
    right, bottom = _near((area.x_mm + area.width_mm) * across), _near((area.y_mm + area.height_mm) * along)
    x, y = fill.origin_mm or (area.x_mm, area.y_mm)
    return LyingArea(
        PressGrid(area.artwork, area.turn_degrees % 180 == 90, repeat.width_px, repeat.height_px),
        repeat,
        _flips(area),
        left,
        top,
        # Even the smallest area has a pixel.
        max(1, right - left),
        max(1, bottom - top),
        (_near(x * across), _near(y * along)),
    )


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
    return LyingPiece(
        grid,
        (cut[0], cut[1], cut[2], cut[3]),
        _flips(piece),
        _near(piece.x_mm * across),
        _near(piece.y_mm * along),
    )


def _flips(piece: Placement) -> tuple[bool, bool]:
    """Return what is left to mirror after the quarter turn: left to right, top to bottom."""
    quarter, half = piece.turn_degrees % 180 == 90, piece.turn_degrees >= 180
    return half ^ (piece.mirror and not quarter), half ^ (piece.mirror and quarter)


def _edges(piece: Placement) -> tuple[float, float, float, float]:
    left, top, wide, high = piece.shown_mm
    return left, top, left + wide, top + high


def _near(value: float) -> int:
    """Round to the nearest, halves up: places that differ by whole pixels round alike."""
    return math.floor(value + 0.5)
