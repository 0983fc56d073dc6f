"""The kernels between ink planes and drops as one record, which sources take: compiled, or plain.

Every function works on a band in memory as lines, ``(rows, inks, width)``, and returns whole numbers that
do not depend on who computed them. Another compiler or processor is another record.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.inks.guard import InkGuard, laid_down_plain
from strikeoff.inks.spaces import InkSpaces
from strikeoff.raster.packing import pack_levels

Lines = NDArray[np.uint16]
Levels = NDArray[np.uint8]
Tables = tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]

_LANES = 8
_ONE_BITS = 14


@dataclass(frozen=True)
class PixelKernels:
    """One way to compute the steps between planes and drops.

    Attributes
    ----------
    name : str
        What it is called.
    lay_down : callable
        Lines of calibrated ink, the spaces, their guard and a row of counts to lines of laid-down ink. The
        counts become the pixels of each row from which the guard took more than rounding explains.
    levels : callable
        Lines of laid-down ink, limits ``(inks, levels, h, w)`` and the row of the limits for each row to the
        number of limits below each sample, in lines.
    packed : callable
        The same and bits, 1 or 2, to packed planes ``(inks, rows, bytes)``; limits of one level or of three.
    diffuse : callable
        Lines of laid-down ink, errors above them ``(groups, places + 2, 8)``, shares, limits and amounts in
        groups of eight inks, first row and bits to packed planes; the errors become those below.
    """

    name: str
    lay_down: Callable[[Lines, InkSpaces, InkGuard, NDArray[np.int64]], Lines]
    levels: Callable[[Lines, Lines, NDArray[np.int64]], Levels]
    packed: Callable[[Lines, Lines, NDArray[np.int64], int], Levels]
    diffuse: Callable[[Lines, NDArray[np.int32], Tables, int, int], Levels]


def _lay_down(lines: Lines, spaces: InkSpaces, guard: InkGuard, touched: NDArray[np.int64]) -> Lines:
    from strikeoff.inks.kernels import lay_down

    out = np.empty((lines.shape[0], len(spaces.inks), lines.shape[2]), np.uint16)
    tables = np.zeros((0, 0), np.uint16) if spaces.is_straight else spaces.tables
    source = np.array(spaces.source)
    lay_down(
        lines, source, tables, guard.loads, guard.spared, guard.limit, guard.slack, out, touched
    )  # fmt: skip
    return out


def _levels(lines: Lines, limits: Lines, mask_rows: NDArray[np.int64]) -> Levels:
    from strikeoff.screening.kernels import levels_bytes

    out = np.empty(lines.shape, np.uint8)
    levels_bytes(lines, limits, mask_rows, out)
    return out


def _packed(lines: Lines, limits: Lines, mask_rows: NDArray[np.int64], bits: int) -> Levels:
    from strikeoff.screening.kernels import levels_packed, threshold_packed

    rows, inks, width = lines.shape
    out = np.empty((inks, rows, -(-width * bits // 8)), np.uint8)
    (threshold_packed if bits == 1 else levels_packed)(lines, limits, mask_rows, out)
    return out


def _diffuse(lines: Lines, errors: NDArray[np.int32], tables: Tables, y0: int, bits: int) -> Levels:
    from strikeoff.screening.kernels_diffusion import diffuse_rows

    rows, inks, width = lines.shape
    out = np.empty((inks, rows, -(-width * bits // 8)), np.uint8)
    diffuse_rows(lines, errors, *tables, y0, bits, out)
    return out


def _lay_down_plain(lines: Lines, spaces: InkSpaces, guard: InkGuard, touched: NDArray[np.int64]) -> Lines:
    held, took = laid_down_plain(np.moveaxis(lines, 1, 2), spaces)
    touched[:] = took.sum(axis=1)
    return np.ascontiguousarray(np.moveaxis(held, 2, 1))


def _levels_plain(lines: Lines, limits: Lines, mask_rows: NDArray[np.int64]) -> Levels:
    x = np.arange(lines.shape[2]) % limits.shape[3]
    # (inks, levels, rows, width) against (inks, 1, rows, width).
    own = limits[:, :, mask_rows][..., x]
    found = np.moveaxis(lines, 1, 0)[:, None] > own
    return np.moveaxis(found.sum(axis=1).astype(np.uint8), 0, 1)


def _packed_plain(lines: Lines, limits: Lines, mask_rows: NDArray[np.int64], bits: int) -> Levels:
    return pack_levels(np.moveaxis(_levels_plain(lines, limits, mask_rows), 1, 2), bits)


def _diffuse_plain(lines: Lines, errors: NDArray[np.int32], tables: Tables, y0: int, bits: int) -> Levels:
    shares, limits, amounts = tables
    rows, inks, width = lines.shape
    out = np.zeros((rows, width, inks), np.uint8)
    for ink in range(inks):
        group, lane = divmod(ink, _LANES)
        packed = shares[group, lane].tolist()
        of_ink = [(share >> 16, share & 0xFFFF) for share in packed]
        edges, steps = limits[group, :, lane].tolist(), amounts[group, :, lane].tolist()
        left = errors[group, :, lane].tolist()
        for y in range(rows):
            line = lines[y, ink].tolist() + [0] * (len(left) - 2 - width)
            left, made = diffuse_line(line, left, of_ink, edges, steps, backward=(y0 + y) % 2 == 1)
            out[y, :, ink] = made[:width]
        errors[group, :, lane] = left
    return pack_levels(out, bits)


def diffuse_line(
    line: list[int],
    left: list[int],
    shares: list[tuple[int, int]],
    limits: list[int],
    amounts: list[int],
    *,
    backward: bool,
) -> tuple[list[int], list[int]]:
    """Diffuse one line of one ink by the definition; return the errors below it and its levels.

    Parameters
    ----------
    line : list of int
        Ink, 0-65535.
    left : list of int
        Errors above: one place more at either end.
    shares : list of (int, int)
        By tone in 256ths: part of the error that goes ahead, and below behind. [1/16384]
    limits, amounts : list of int
        Ink and error above which each further level falls; ink that it brings.
    backward : bool
        From the last pixel to the first.
    """
    places = len(line)
    turn = -1 if backward else 1
    made, levels = [0] * (places + 2), [0] * places
    ahead = 0
    for x in range(places - 1, -1, -1) if backward else range(places):
        value = min(max(line[x] + ahead + left[x + 1], -65536), 131071)
        value = line[x] if line[x] in (0, 65535) else value
        levels[x] = sum(value > limit for limit in limits)
        error = value - sum(amounts[: levels[x]])
        share = shares[line[x] >> 8]
        ahead, behind = error * share[0] >> _ONE_BITS, error * share[1] >> _ONE_BITS
        made[x + 1 - turn] += behind
        made[x + 1] += error - ahead - behind
    last, end = (1, places) if backward else (places, 1)
    made[last] += ahead
    made[end] += made[places + 1 if backward else 0]
    return made, levels


#: Kernels compiled on first use.
COMPILED = PixelKernels("compiled", _lay_down, _levels, _packed, _diffuse)
#: The definitions, slow.
PLAIN = PixelKernels("plain", _lay_down_plain, _levels_plain, _packed_plain, _diffuse_plain)
