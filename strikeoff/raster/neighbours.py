"""Samples around a tile as its lattice continues it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.raster.bands import Band, BandSource
from strikeoff.raster.lattice import Lattice

Places = NDArray[np.int64]


def laid_out(
    source: BandSource, lattice: Lattice, y0: int, y1: int, places: Places
) -> tuple[Band, NDArray[np.int64]]:
    """Return rows ``y0`` to ``y1`` of the plane that a tile covers, and the column of each place in them.

    Parameters
    ----------
    source : BandSource
        The tile, cell (0, 0) of the plane.
    lattice : Lattice
        How it covers the plane. Where an offset falls between samples the values between are cubic ones.
    y0, y1 : int
        Rows; any integers.
    places : ndarray, shape (n,)
        Columns of the plane; any rising integers.

    Returns
    -------
    band : ndarray, shape (rows, columns, channels)
        Samples, line by line in memory.
    index : ndarray, shape (n,)
        Column of ``band`` that holds each place.
    """
    if lattice.repeats in ("along", "none"):
        places = np.clip(places, 0, source.width - 1)
    if lattice.offset == "brick":
        return np.ascontiguousarray(_bricks(source, lattice, y0, y1, places)), np.arange(len(places))
    turns, columns = np.divmod(places, source.width)
    body = _column_of_cells(source, lattice, 0, y0, y1)
    index = columns.copy()
    bands, width = [body], source.width
    for turn in np.unique(turns):
        if _same_as_first(lattice, int(turn)):
            continue
        there = turns == turn
        seen = columns[there]
        bands.append(_column_of_cells(source, lattice, int(turn), y0, y1)[:, seen])
        index[there] = np.arange(width, width + len(seen))
        width += len(seen)
    return np.ascontiguousarray(bands[0] if len(bands) == 1 else np.concatenate(bands, axis=1)), index


def _same_as_first(lattice: Lattice, turn: int) -> bool:
    plain = lattice.offset == "none" and not any(lattice.flips(turn, 0))
    return turn == 0 or (plain and not lattice.turned)


def _column_of_cells(source: BandSource, lattice: Lattice, turn: int, y0: int, y1: int) -> Band:
    """Read whole rows of one column of cells."""
    if lattice.offset != "drop":
        return _rows(source, lattice, turn, y0, y1)
    parts = lattice.share.denominator
    whole, part = divmod(-turn * lattice.share.numerator * source.height, parts)
    if not part:
        return _rows(source, lattice, turn, y0 + whole, y1 + whole)
    rows = y1 - y0
    band = _rows(source, lattice, turn, y0 + whole - 1, y1 + whole + 2)
    return _between([band[k : k + rows] for k in range(4)], part, parts)


def _rows(source: BandSource, lattice: Lattice, turn: int, y0: int, y1: int) -> Band:
    """Read rows of a column of cells, counted from the top of its cell in row 0."""
    height = source.height
    if lattice.repeats in ("across", "none"):
        inside = np.clip(np.arange(y0, y1), 0, height - 1)
        low, high = int(inside[0]), int(inside[-1]) + 1
        return _tile(source, lattice.flips(turn, 0), low, high)[inside - low]
    pieces = []
    while y0 < y1:
        row, y = divmod(y0, height)
        rows = min(height - y, y1 - y0)
        pieces.append(_tile(source, lattice.flips(turn, row), y, y + rows))
        y0 += rows
    return pieces[0] if len(pieces) == 1 else np.concatenate(pieces)


def _tile(source: BandSource, flips: tuple[bool, bool], y0: int, y1: int) -> Band:
    """Read rows of the tile as it stands in a cell."""
    across, along = flips
    band = source.read(source.height - y1, source.height - y0)[::-1] if along else source.read(y0, y1)
    return band[:, ::-1] if across else band


def _bricks(source: BandSource, lattice: Lattice, y0: int, y1: int, places: Places) -> Band:
    pieces = []
    height, parts = source.height, lattice.share.denominator
    while y0 < y1:
        row, y = divmod(y0, height)
        rows = min(height - y, y1 - y0)
        whole, part = divmod(-row * lattice.share.numerator * source.width, parts)
        if part:
            steps = [
                _row_of_cells(source, lattice, row, y, y + rows, places + whole + k) for k in range(-1, 3)
            ]
            pieces.append(_between(steps, part, parts))
        else:
            pieces.append(_row_of_cells(source, lattice, row, y, y + rows, places + whole))
        y0 += rows
    return pieces[0] if len(pieces) == 1 else np.concatenate(pieces)


def _row_of_cells(source: BandSource, lattice: Lattice, row: int, y0: int, y1: int, places: Places) -> Band:
    """Read places of a row of cells, counted from the left edge of its cell in column 0."""
    turns, columns = np.divmod(places, source.width)
    out = np.empty((y1 - y0, len(places), source.channels), source.dtype)
    flips = [lattice.flips(int(turn), row) for turn in turns]
    for kind in sorted(set(flips)):
        there = np.array([flip == kind for flip in flips])
        out[:, there] = _tile(source, kind, y0, y1)[:, columns[there]]
    return out


def _between(steps: list[Band], part: int, parts: int) -> Band:
    """Return cubic values ``part / parts`` of the way from the second to the third of four samples.

    Keys' kernel (1981) in whole numbers, the same on every machine.
    """
    p, k = part, parts
    q = k - p

    def inner(x: int) -> int:
        return 3 * x**3 - 5 * x * x * k + 2 * k**3

    def outer(x: int) -> int:
        return -(x**3) + 5 * x * x * k - 8 * x * k * k + 4 * k**3

    weights = (outer(k + p), inner(p), inner(q), outer(k + q))
    total = sum(w * step.astype(np.int64) for w, step in zip(weights, steps, strict=True))
    return np.asarray(np.clip((total + k**3) // (2 * k**3), 0, 65535), dtype=np.uint16)
