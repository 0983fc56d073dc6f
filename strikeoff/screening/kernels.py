"""Compiled inner loops of screening: mask making and thresholding."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

_DOT = 1 << 60


@njit(cache=True, nogil=True)
def _set_dot(energy: NDArray[np.int64], window: NDArray[np.int64], cell: int, sign: int) -> None:
    rows, columns = energy.shape
    y, x = cell // columns, cell % columns
    reach = window.shape[0] // 2
    for dy in range(window.shape[0]):
        line = energy[(y - reach + dy) % rows]
        for dx in range(window.shape[1]):
            line[(x - reach + dx) % columns] += sign * window[dy, dx]
    energy[y, x] += sign * _DOT


@njit(cache=True, nogil=True)
def place_dots(energy: NDArray[np.int64], window: NDArray[np.int64], cells: NDArray[np.int64]) -> None:
    """Set a dot in each of the flat ``cells``: add the energy around it."""
    for i in range(cells.shape[0]):
        _set_dot(energy, window, cells[i], 1)


@njit(cache=True, nogil=True)
def move_dots(energy: NDArray[np.int64], window: NDArray[np.int64], count: int, sign: int) -> Any:
    """Take away the dot in the tightest cluster (sign -1) or set one in the largest void (sign 1).

    Done ``count`` times; returns the flat cells in order. A dot's own cell carries _DOT, more than
    all energies together: the greatest value is the tightest cluster of dots, the least the largest void.
    """
    cells = np.empty(count, np.int64)
    flat = energy.reshape(energy.size)
    for number in range(count):
        best = flat[0]
        if sign > 0:
            for i in range(flat.shape[0]):
                best = min(best, flat[i])
        else:
            for i in range(flat.shape[0]):
                best = max(best, flat[i])
        cell = 0
        while flat[cell] != best:
            cell += 1
        _set_dot(energy, window, cell, sign)
        cells[number] = cell
    return cells


@njit(cache=True, nogil=True)
def threshold_packed(
    samples: NDArray[np.uint16],
    masks: NDArray[np.uint16],
    curves: NDArray[np.uint16],
    y0: int,
    out: NDArray[np.uint8],
) -> None:
    """Compare samples (rows, width, inks) with the masks (inks, h, w) and pack eight drops to a byte.

    ``out`` is (inks, rows, ceil(width / 8)); ``curves`` (inks, 65536), or (0, 0) for none;
    ``y0`` is the roll's row of the first row. Inks stay interleaved until the bits are packed:
    both inner loops then run over neighbours in memory.
    """
    rows, width, inks = samples.shape
    _, high, wide = masks.shape
    length = out.shape[2]
    total = width * inks
    span = wide * inks
    limits = np.empty(span, np.uint16)
    toned = np.empty(total if curves.shape[0] else 0, np.uint16)
    drops = np.zeros(length * 8 * inks, np.uint8)
    packed = np.zeros(length * inks, np.uint8)
    lines = samples.reshape(rows, total)
    for r in range(rows):
        for x in range(wide):
            for c in range(inks):
                limits[x * inks + c] = masks[c, (y0 + r) % high, x]
        line = lines[r]
        if curves.shape[0]:
            for x in range(width):
                for c in range(inks):
                    toned[x * inks + c] = curves[c, line[x * inks + c]]
            line = toned
        for start in range(0, total, span):
            piece = line[start : min(start + span, total)]
            target = drops[start : start + piece.shape[0]]
            for i in range(piece.shape[0]):
                target[i] = piece[i] > limits[i]
        for i in range(length):
            eight = drops[i * 8 * inks : (i + 1) * 8 * inks]
            byte = packed[i * inks : (i + 1) * inks]
            for c in range(inks):
                high_half = eight[c] << 7 | eight[c + inks] << 6 | eight[c + 2 * inks] << 5
                high_half |= eight[c + 3 * inks] << 4
                low_half = eight[c + 4 * inks] << 3 | eight[c + 5 * inks] << 2 | eight[c + 6 * inks] << 1
                byte[c] = high_half | low_half | eight[c + 7 * inks]
        for c in range(inks):
            row = out[c, r]
            for i in range(length):
                row[i] = packed[i * inks + c]
