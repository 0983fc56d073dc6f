"""Rows of a lattice: each cell filled with the tile as it stands there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.layout.repeat import Repeat
from strikeoff.raster.resample import PeriodicTile

#: Rows of a tile that are made already: first row, number, and how they are mirrored.
Made = dict[tuple[int, int, tuple[bool, bool]], NDArray[np.uint16]]


def draw_cells(
    out: NDArray[np.uint16],
    tile: PeriodicTile,
    repeat: Repeat,
    row: int,
    start: int,
    made: Made | None = None,
) -> None:
    """Fill a window with a lattice; where it shows no tile the window stays as it is.

    Parameters
    ----------
    out : ndarray, shape (rows, columns, inks)
        The window.
    tile : PeriodicTile
        One repeat in press pixels.
    repeat : Repeat
        How it stands beside itself.
    row : int
        First row of the window, from the top of the cells of row 0; any integer.
    start : int
        Left edge of cell (0, 0) from the left edge of the window; any integer.
    made : dict, optional
        Takes what is made of the tile, for other windows on it in the same rows of a roll.
    """
    cells = _Cells(tile, repeat, {} if made is None else made)
    height = repeat.height_px
    if repeat.lattice.offset != "brick":
        cells.lay(out, row, start)
        return
    for top in _cuts(row, row + len(out), height):
        bottom = min(row + len(out), (top // height + 1) * height)
        cells.lay(out[top - row : bottom - row], top, start)


class _Cells:
    """Cells of the lattice for some rows; what was resampled for one cell serves its equals."""

    def __init__(self, tile: PeriodicTile, repeat: Repeat, made: Made) -> None:
        self._tile, self._repeat, self._made = tile, repeat, made

    def lay(self, out: NDArray[np.uint16], row: int, start: int) -> None:
        """Fill rows from ``row`` of the design; the first cell has its left edge at ``start``."""
        width = self._repeat.width_px
        # Rows of a brick stand in one row of cells.
        start += self._repeat.offset_px(0, row // self._repeat.height_px)[0]
        column = -(-start // width)
        for number in range(-column, (out.shape[1] - start) // width + 1):
            left = start + number * width
            first, last = max(0, left), min(out.shape[1], left + width)
            if first < last and self._repeat.lattice.shown(number, 0):
                self._fill(out[:, first:last], number, row, first - left)

    def _fill(self, out: NDArray[np.uint16], column: int, row: int, left: int) -> None:
        lattice, height = self._repeat.lattice, self._repeat.height_px
        row -= self._repeat.offset_px(column, 0)[1]
        columns = slice(left, left + out.shape[1])
        if lattice.mirror in ("none", "across") and not lattice.turned and lattice.repeats != "across":
            out[:] = self._rows(row % height, len(out), lattice.flips(column, 0))[:, columns]
            return
        for top in _cuts(row, row + len(out), height):
            bottom = min(row + len(out), (top // height + 1) * height)
            if lattice.shown(column, top // height):
                flips = lattice.flips(column, top // height)
                out[top - row : bottom - row] = self._rows(top % height, bottom - top, flips)[:, columns]

    def _rows(self, row: int, rows: int, flips: tuple[bool, bool]) -> NDArray[np.uint16]:
        if (row, rows, flips) not in self._made:
            across, along = flips
            top = self._repeat.height_px - row - rows if along else row
            made = self._tile.read(top, top + rows)[:: -1 if along else 1, :: -1 if across else 1]
            self._made[row, rows, flips] = made
        return self._made[row, rows, flips]


def _cuts(first: int, last: int, size: int) -> list[int]:
    """Return ``first`` and every multiple of ``size`` after it and before ``last``."""
    return [first, *range((first // size + 1) * size, last, size)]
