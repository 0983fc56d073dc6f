"""A roll of pieces and of areas of a repeat as a band source, with marks in the waste."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import gcd
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.units import MM_PER_INCH, pixels
from strikeoff.inks.roles import darkest_ink
from strikeoff.layout.cells import Made, draw_cells
from strikeoff.layout.leader import Leader, check_leader
from strikeoff.layout.lying import LyingArea, LyingPiece, PressGrid, lying
from strikeoff.layout.marked import draw_mark, unmarked_rows
from strikeoff.layout.marks_raster import DrawnMark, MarkDots
from strikeoff.layout.placement import Layout
from strikeoff.layout.shared_rows import Standing, shared_rows
from strikeoff.raster.bands import BandSource, check_rows, repeat_of_map
from strikeoff.raster.flipped import flipped
from strikeoff.raster.lattice import ONCE, Lattice
from strikeoff.raster.planes_tiff import block_rows
from strikeoff.raster.resample import InkLimits, PeriodicTile

_TILES = 128

Key = tuple[PressGrid, int, int, int, int]
Filling = tuple[PressGrid, Lattice, tuple[bool, bool]]


@dataclass(frozen=True)
class Sheet:
    """Artwork of one grid: its planes, turned already where the grid is, and the most ink of a pixel."""

    planes: BandSource
    limits: InkLimits


@dataclass(frozen=True)
class LaidRoll:
    """The ink planes of a roll of pieces and areas, uint16, read in bands.

    Attributes
    ----------
    pieces : tuple of LyingPiece or LyingArea
        In the order in which they are drawn: where two share a pixel after rounding, the later one shows.
    sheets : mapping
        Artwork of every grid.
    leader : Leader
        Strip and slug.
    marks : tuple of MarkDots
        Full tone of the darkest ink; never on a piece.
    leader_px, design_px, tail_px : int
        Rows before the pieces, of them, and after them.
    """

    pieces: tuple[LyingPiece | LyingArea, ...]
    sheets: Mapping[PressGrid, Sheet]
    leader: Leader
    marks: tuple[MarkDots | DrawnMark, ...]
    leader_px: int
    design_px: int
    tail_px: int

    @property
    def height(self) -> int:
        """Rows."""
        return self.leader_px + self.design_px + self.tail_px

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return self.leader.printable_px + 2 * self.leader.margin_px

    @property
    def channels(self) -> int:
        """Inks."""
        return len(self.leader.ink_names)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint16)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch, across and along, in millimetres."""
        return MM_PER_INCH / self.leader.dpi_x, MM_PER_INCH / self.leader.dpi_y

    @property
    def row_block(self) -> int:
        """Rows that repeat together; 0 when nothing repeats."""
        # The leader holds whole strips of planes; strips of drops must not become longer than those by much.
        return gcd(self.leader_px, self.period_rows) if self.period_rows else 0

    @cached_property
    def row_map(self) -> NDArray[np.int64]:
        """Canonical row of every row: equal ones are one, but for those that hold a mark."""
        marked = np.zeros(self.height, bool)
        for top, bottom in zip(self._mark_tops, self._mark_ends, strict=True):
            marked[top:bottom] = True
        return unmarked_rows(self._rows, marked)

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that is known to hold the same samples as row ``y``."""
        return int(self.row_map[y])

    @cached_property
    def period_rows(self) -> int:
        """Rows after which most equal rows come again; 0 when none do."""
        return repeat_of_map(self._rows)[0]

    @cached_property
    def _rows(self) -> NDArray[np.int64]:
        """Canonical rows without marks."""
        things = [_standing(piece, self.leader_px) for piece in self.pieces]
        return shared_rows(self.height, things)

    @cached_property
    def _tops(self) -> NDArray[np.int64]:
        return np.array([p.top_px + self.leader_px for p in self.pieces], np.int64)

    @cached_property
    def _ends(self) -> NDArray[np.int64]:
        return self._tops + np.array([p.height_px for p in self.pieces], np.int64)

    @cached_property
    def _mark_tops(self) -> NDArray[np.int64]:
        return np.array([max(0, m.top_px + self.leader_px) for m in self.marks], np.int64)

    @cached_property
    def _mark_ends(self) -> NDArray[np.int64]:
        return np.array([max(0, m.top_px + self.leader_px + m.height_px) for m in self.marks], np.int64)

    @cached_property
    def _tile(self) -> Any:
        @lru_cache(maxsize=_TILES)
        def tile(grid: PressGrid, left: int, right: int) -> PeriodicTile:
            sheet = self.sheets[grid]
            return PeriodicTile(
                sheet.planes, grid.height_px, grid.width_px, ONCE, sheet.limits, columns=(left, right)
            )

        return tile

    @cached_property
    def _filling(self) -> Any:
        @lru_cache(maxsize=_TILES)
        def tile(grid: PressGrid, lattice: Lattice, flips: tuple[bool, bool]) -> PeriodicTile:
            sheet = self.sheets[grid]
            source = flipped(sheet.planes, flips)
            return PeriodicTile(source, grid.height_px, grid.width_px, lattice, sheet.limits)

        return tile

    def read(self, y0: int, y1: int) -> NDArray[np.uint16]:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, inks)``, in memory line by line."""
        check_rows(self, y0, y1)
        out = np.moveaxis(np.zeros((y1 - y0, self.channels, self.width), np.uint16), 1, 2)
        if y0 < self.leader_px:
            self.leader.draw(out, y0)
        # Pieces come last: no mark ever stands on one.
        ink = out[..., darkest_ink(self.leader.ink_names)]
        for k in np.flatnonzero((self._mark_tops < y1) & (self._mark_ends > y0)).tolist():
            draw_mark(ink, self.marks[k], self.leader_px - y0, self.leader.margin_px)
        made: dict[Key, NDArray[np.uint16]] = {}
        filled: dict[Filling, Made] = {}
        for k in np.flatnonzero((self._tops < y1) & (self._ends > y0)).tolist():
            piece, top = self.pieces[k], int(self._tops[k])
            first, last = max(0, y0 - top), min(piece.height_px, y1 - top)
            left = piece.left_px + self.leader.margin_px
            # What rounding pushed over the edge is not printed.
            right = min(left + piece.width_px, self.width - self.leader.margin_px)
            if left >= right:
                continue
            window = out[top + first - y0 : top + last - y0, left:right]
            if isinstance(piece, LyingArea):
                key = piece.grid, piece.repeat.lattice, piece.flips
                self._draw_area(window, piece, first, filled.setdefault(key, {}))
            else:
                self._draw_piece(window, piece, first, made)
        return out

    def _draw_piece(
        self, window: NDArray[np.uint16], piece: LyingPiece, first: int, made: dict[Key, NDArray[np.uint16]]
    ) -> None:
        rows = _places(piece.cut_px[1], piece.cut_px[3], piece.flips[1], piece.grid.height_px)
        rows = rows[first : first + len(window)]
        columns = _places(piece.cut_px[0], piece.cut_px[2], piece.flips[0], piece.grid.width_px)
        columns = columns[: window.shape[1]]
        y, x = (int(rows.min()), int(rows.max()) + 1), (int(columns.min()), int(columns.max()) + 1)
        key = piece.grid, *x, *y
        if key not in made:
            made[key] = self._tile(piece.grid, *x).read(*y)
        band = made[key]
        window[:] = _taken(_taken(band, rows - y[0], 0), columns - x[0], 1)

    def _draw_area(self, window: NDArray[np.uint16], area: LyingArea, first: int, made: Made) -> None:
        if area.repeat.lattice.repeats != "both":
            window[:] = 0
        row = area.top_px + first - area.origin_px[1]
        start = area.origin_px[0] - area.left_px
        tile = self._filling(area.grid, area.repeat.lattice, area.flips)
        draw_cells(window, tile, area.repeat, row, start, made)


def lay_roll(
    layout: Layout,
    sheets: Mapping[PressGrid, Sheet],
    *,
    leader: Leader,
    leader_mm: float = 0.0,
    tail_mm: float = 20.0,
    marks: Sequence[MarkDots | DrawnMark] = (),
) -> LaidRoll:
    """Return the planes of a roll of pieces.

    Parameters
    ----------
    layout : Layout
        Checked pieces.
    sheets : mapping
        Artwork of every grid that `press_grids` names.
    leader : Leader
        Strip and slug, addressability, margins and inks.
    leader_mm, tail_mm : float
        Printed waste before and after the pieces, marks there included; the leader becomes a little longer
        where rows of pieces repeat. [mm]
    marks : sequence of MarkDots
        From the corner of the cuttable cloth at the first row of the pieces.

    Raises
    ------
    InputError
        No pieces, or artwork with other inks than the leader.
    UsageError
        Strip and slug need a longer leader.
    """
    if not layout.placements:
        raise InputError("layout has no pieces", expected="at least one")
    for grid, sheet in sheets.items():
        if sheet.planes.channels != len(leader.ink_names) or sheet.planes.dtype != np.uint16:
            raise InputError(
                "planes of a piece have other inks",
                path=grid.artwork,
                found=f"{sheet.planes.channels} of {sheet.planes.dtype}",
                expected=f"{len(leader.ink_names)} of uint16",
            )
    check_leader(leader, leader_mm)
    pieces = tuple(lying(layout, p, leader.dpi_x, leader.dpi_y) for p in layout.placements)
    rows = max(p.top_px + p.height_px for p in pieces)
    ends = pixels(leader_mm, leader.dpi_y), pixels(tail_mm, leader.dpi_y)
    roll = LaidRoll(pieces, sheets, leader, tuple(marks), ends[0], rows, ends[1])
    if roll.period_rows == 0:
        return roll
    # Pieces begin at a multiple of the strip's rows, so that equal strips are stored once.
    block = block_rows(roll.period_rows, 2 * roll.width * roll.channels)
    return replace(roll, leader_px=-(-ends[0] // block) * block)


def press_grids(layout: Layout, dpi_x: float, dpi_y: float) -> tuple[PressGrid, ...]:
    """Return the grids that pieces are cut from and areas filled with, each once."""
    return tuple(dict.fromkeys(lying(layout, p, dpi_x, dpi_y).grid for p in layout.placements))


def _standing(piece: LyingPiece | LyingArea, leader_px: int) -> Standing:
    """Return what stands in the rows of a roll, for whoever looks for equal ones."""
    top = piece.top_px + leader_px
    end = top + piece.height_px
    if isinstance(piece, LyingPiece):
        return Standing((piece.grid, piece.cut_px, piece.flips, piece.left_px), top, end)
    across = piece.left_px, piece.width_px, piece.origin_px[0]
    down = piece.origin_px[1] + leader_px
    content = piece.grid, piece.repeat.lattice, piece.flips, across
    if not piece.period_rows:
        return Standing((*content, down - top), top, end)
    return Standing(content, top, end, piece.period_rows, down)


def _places(first: int, last: int, flipped: bool, size: int) -> NDArray[np.int64]:
    """Return the pixel of a grid for every pixel of a cut; beyond an edge stands the mirror image."""
    places = np.arange(first, last)
    places = np.where(places < 0, -1 - places, np.where(places >= size, 2 * size - 1 - places, places))
    return np.clip(places[::-1] if flipped else places, 0, size - 1)


def _taken(band: NDArray[np.uint16], places: NDArray[np.int64], axis: int) -> NDArray[np.uint16]:
    """Return lines of a band in the order of ``places``; whole runs are not copied."""
    count = len(places)
    if count == band.shape[axis]:
        steps = np.diff(places)
        if (steps == 1).all():
            return band
        if (steps == -1).all():
            return band[::-1] if axis == 0 else band[:, ::-1]
    return np.take(band, places, axis=axis)
