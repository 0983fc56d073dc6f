"""Compiled inner loops of mask making: void-and-cluster over several inks at once. Whole numbers only."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

#: Columns whose extreme is kept; after a dot only the segments under its window are looked at again.
SEGMENT = 16
_DOT = 1 << 60


@njit(cache=True, nogil=True)
def _add(
    field: NDArray[np.int64], dirty: NDArray[np.uint8], window: NDArray[np.int64], cell: int, sign: int
) -> None:
    """Add a window around a cell of a field that joins itself on all sides; mark what it touches."""
    rows, columns = field.shape
    high, wide = window.shape
    row, left = cell // columns - high // 2, cell % columns - wide // 2
    row = row + rows if row < 0 else row
    left = left + columns if left < 0 else left
    first = min(wide, columns - left)
    # Segments of the part before the right edge, and of the part that goes on at the left.
    start, end = left // SEGMENT, (left + first - 1) // SEGMENT + 1
    again = (wide - first + SEGMENT - 1) // SEGMENT
    for dy in range(high):
        line, marks, values = field[row], dirty[row], window[dy]
        for dx in range(first):
            line[left + dx] += sign * values[dx]
        for dx in range(first, wide):
            line[left + dx - columns] += sign * values[dx]
        for s in range(start, end):
            marks[s] = 3
        for s in range(again):
            marks[s] = 3
        marks[marks.shape[0] - 1] = 3
        row = row + 1 if row + 1 < rows else 0


@njit(cache=True, nogil=True)
def _set_dot(
    fields: NDArray[np.int64],
    dirty: NDArray[np.uint8],
    own: NDArray[np.int64],
    cross: NDArray[np.int64],
    ink: int,
    cell: int,
    sign: int,
) -> None:
    """Add or take away the energy of one dot: ``own`` in its ink, ``cross`` in all others."""
    inks, _, columns = fields.shape
    for k in range(inks):
        if k == ink:
            _add(fields[k], dirty[k], own, cell, sign)
        elif cross.size:
            _add(fields[k], dirty[k], cross, cell, sign)
    fields[ink, cell // columns, cell % columns] += sign * _DOT


@njit(cache=True, nogil=True)
def _extreme(
    field: NDArray[np.int64], dirty: NDArray[np.uint8], best: NDArray[np.int64], first_row: int, sign: int
) -> int:
    """Return the flat cell of the least (sign 1) or greatest (sign -1) value from ``first_row`` on.

    ``best`` holds the extremes of the segments of each row and, last, of the row; ``dirty`` tells which
    are to be found again, by bit 1 for the least and bit 2 for the greatest.
    """
    rows, columns = field.shape
    segments = dirty.shape[1] - 1
    bit = np.uint8(1 if sign > 0 else 2)
    found = np.int64(0)
    row = -1
    for y in range(first_row, rows):
        if dirty[y, segments] & bit:
            dirty[y, segments] &= ~bit
            for s in range(segments):
                if dirty[y, s] & bit:
                    dirty[y, s] &= ~bit
                    piece = field[y, s * SEGMENT : min(columns, (s + 1) * SEGMENT)]
                    value = piece[0]
                    if sign > 0:
                        for i in range(piece.shape[0]):
                            value = min(value, piece[i])
                    else:
                        for i in range(piece.shape[0]):
                            value = max(value, piece[i])
                    best[y, s] = value
            value = best[y, 0]
            for s in range(1, segments):
                value = min(value, best[y, s]) if sign > 0 else max(value, best[y, s])
            best[y, segments] = value
        value = best[y, segments]
        if row < 0 or (value < found if sign > 0 else value > found):
            row, found = y, value
    x = 0
    while field[row, x] != found:
        x += 1
    return int(row * columns + x)


@njit(cache=True, nogil=True)
def place_dots(
    fields: NDArray[np.int64], own: NDArray[np.int64], cross: NDArray[np.int64], ink: int, cells: NDArray[Any]
) -> None:
    """Set a dot of one ink in each of the flat ``cells``."""
    dirty = np.zeros((fields.shape[0], fields.shape[1], -(-fields.shape[2] // SEGMENT) + 1), np.uint8)
    for i in range(cells.shape[0]):
        _set_dot(fields, dirty, own, cross, ink, cells[i], 1)


@njit(cache=True, nogil=True)
def settle(
    fields: NDArray[np.int64], own: NDArray[np.int64], cross: NDArray[np.int64], first_row: int, most: int
) -> int:
    """Move each ink's tightest dot to its largest void until none moves, or ``most`` rounds are done.

    Returns the number of rounds.
    """
    inks, rows, columns = fields.shape
    parts = -(-columns // SEGMENT) + 1
    dirty = np.full((inks, rows, parts), 3, np.uint8)
    low = np.empty((inks, rows, parts), np.int64)
    high = np.empty((inks, rows, parts), np.int64)
    for number in range(most):
        moved = False
        for k in range(inks):
            tight = _extreme(fields[k], dirty[k], high[k], first_row, -1)
            _set_dot(fields, dirty, own, cross, k, tight, -1)
            void = _extreme(fields[k], dirty[k], low[k], first_row, 1)
            _set_dot(fields, dirty, own, cross, k, void, 1)
            if void != tight:
                moved = True
        if not moved:
            return number
    return most


@njit(cache=True, nogil=True)
def walk(
    fields: NDArray[np.int64],
    own: NDArray[np.int64],
    cross: NDArray[np.int64],
    first_row: int,
    sign: int,
    due_counts: NDArray[np.int64],
    due: NDArray[np.int64],
) -> Any:
    """Set (sign 1) or take away (sign -1) dots of all inks in turn; return the chosen cells (inks, steps).

    Step i of each ink follows ``due_counts[i]`` given dots of ``due`` (inks, n) above ``first_row``, then
    chooses one from there on. A dot's own cell carries _DOT, more than all energies together: the
    greatest value is the tightest cluster, the least the largest void.
    """
    inks, rows, columns = fields.shape
    parts = -(-columns // SEGMENT) + 1
    dirty = np.full((inks, rows, parts), 3, np.uint8)
    best = np.empty((inks, rows, parts), np.int64)
    chosen = np.empty((inks, due_counts.shape[0]), np.int64)
    given = 0
    for i in range(due_counts.shape[0]):
        for k in range(inks):
            for j in range(due_counts[i]):
                _set_dot(fields, dirty, own, cross, k, due[k, given + j], sign)
            cell = _extreme(fields[k], dirty[k], best[k], first_row, sign)
            _set_dot(fields, dirty, own, cross, k, cell, sign)
            chosen[k, i] = cell
        given += due_counts[i]
    return chosen
