"""Where patches stand: pages, rows and columns, in the order in which an instrument reads them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import RangeError, UsageError

FloatArray = NDArray[np.float64]

#: Room for the letters of a row. [mm]
LABEL_MM = 9.0
_HEADER_MM = 12.0
_EDGE_MM = 10.0
_BLOCK_GAP_MM = 6.0
_SPREAD_TRIES = 40
#: Most pages of a chart.
MOST_PAGES = 500
_MOST_MM = 200_000.0


@dataclass(frozen=True)
class Instrument:
    """What a way of reading asks of the page.

    Attributes
    ----------
    name : str
        As on the command line.
    patch_mm : float
        Side of a patch when nothing else is asked for. [mm]
    smallest_mm : float
        Smallest side that can be read. [mm]
    gap_mm : float
        Between the patches of a row. [mm]
    row_gap_mm : float
        Between rows. [mm]
    longest_mm : float
        Longest row. [mm]
    order : str
        In which order patches are read, for people.
    serpentine : bool
        Whether every second row is read from right to left.
    separators : bool
        Whether thin lines part the patches of a row.
    """

    name: str
    patch_mm: float
    smallest_mm: float
    gap_mm: float
    row_gap_mm: float
    longest_mm: float
    order: str
    serpentine: bool = False
    separators: bool = False


#: Sizes are common practice for apertures of 2 to 8 mm, no source.
INSTRUMENTS = {
    "hand": Instrument(
        "hand", 14.0, 8.0, 2.0, 2.0, math.inf, "row by row, each from left to right, patch by patch"
    ),
    "strip": Instrument(
        "strip", 12.0, 7.0, 0.0, 3.0, 300.0, "row by row, each from left to right in one stroke",
        separators=True,
    ),
    "table": Instrument(
        "table", 8.0, 5.0, 0.0, 0.0, math.inf,
        "row by row, the odd rows from left to right, the even ones from right to left", serpentine=True,
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Placed:
    """Places of patches, in reading order.

    Attributes
    ----------
    patch : ndarray of int, shape (n,)
        Row of the patch set that stands there.
    page, row, column : ndarray of int, shape (n,)
        From 1; rows count from the top, columns from the left.
    x_mm, y_mm : ndarray, shape (n,)
        Left upper corner on its page. [mm]
    patch_mm : float
        Side. [mm]
    page_mm : tuple of float
        Width and height of a page. [mm]
    pages : int
        How many.
    instrument : Instrument
        Way of reading.
    """

    patch: NDArray[np.int64]
    page: NDArray[np.int64]
    row: NDArray[np.int64]
    column: NDArray[np.int64]
    x_mm: FloatArray
    y_mm: FloatArray
    patch_mm: float
    page_mm: tuple[float, float]
    pages: int
    instrument: Instrument


def place_patches(
    recipes: FloatArray,
    page_mm: tuple[float, float],
    *,
    instrument: str = "hand",
    patch_mm: float | None = None,
    seed: int = 0,
    shuffle: bool = True,
) -> Placed:
    """Give every patch a place: seeded random positions, equal recipes far apart.

    Parameters
    ----------
    recipes : ndarray, shape (n, n_inks)
        All patches, repeats included. [-]
    page_mm : tuple of float
        Width and height of the cloth or paper. [mm]
    instrument : {"hand", "strip", "table"}
        Way of reading.
    patch_mm : float, optional
        Side of a patch; by default what the instrument likes. [mm]
    seed : int
        Equal seeds give equal places.
    shuffle : bool
        False keeps the order of the set.

    Raises
    ------
    UsageError
        Unknown instrument, patch too small for it, no room on the page, too many pages.
    """
    tool = find_instrument(instrument)
    side = tool.patch_mm if patch_mm is None else patch_mm
    if not (math.isfinite(side) and side >= tool.smallest_mm):
        raise UsageError(
            f"patch is too small to be read by {tool.name}",
            found=f"{side:g} mm",
            expected=f"{tool.smallest_mm:g} mm or more",
        )
    check_page(page_mm)
    columns, rows = _grid(tool, side, page_mm)
    if columns < 1 or rows < 1:
        raise UsageError(
            "not one patch fits on the page",
            found=f"{page_mm[0]:g}x{page_mm[1]:g} mm, patches of {side:g} mm",
            advice="Take smaller patches or a larger page",
        )
    count = len(recipes)
    stroke = LABEL_MM + columns * (side + tool.gap_mm) - tool.gap_mm
    # Strokes are short: on wide cloth they stand side by side, in blocks of equal height.
    blocks = max(1, int((page_mm[0] - 2 * _EDGE_MM + _BLOCK_GAP_MM + 1e-9) / (stroke + _BLOCK_GAP_MM)))
    pages = -(-count // (columns * rows * blocks))
    if pages == 1:
        rows = -(-count // (columns * blocks))
    if pages > MOST_PAGES:
        raise UsageError("chart needs too many pages", found=pages, expected=f"at most {MOST_PAGES}")
    slot = np.arange(count)
    page, rest = np.divmod(slot, columns * rows * blocks)
    row, column = np.divmod(rest, columns)
    block, level = np.divmod(row, rows)
    if tool.serpentine:
        column = np.where(row % 2 == 1, columns - 1 - column, column)
    x = _EDGE_MM + block * (stroke + _BLOCK_GAP_MM) + LABEL_MM + column * (side + tool.gap_mm)
    y = _EDGE_MM + _HEADER_MM + level * (side + tool.row_gap_mm)
    patch = np.arange(count)
    if shuffle:
        patch = _spread(recipes, page, x, y, max(page_mm), np.random.default_rng(seed))
    return Placed(patch, page + 1, row + 1, column + 1, x, y, side, page_mm, pages, tool)


def height_of(
    count: int, page_mm: tuple[float, float], *, instrument: str = "hand", patch_mm: float | None = None
) -> float:
    """Return the least height [mm] of a page of a given width that holds all patches, at most the page's.

    Parameters
    ----------
    count : int
        Patches, repeats included.
    page_mm : tuple of float
        Width and most height. [mm]
    instrument, patch_mm
        As for `place_patches`.

    Examples
    --------
    >>> height_of(24, (297.0, 420.0)), height_of(4000, (297.0, 420.0))
    (62.0, 414.0)
    """
    tool = find_instrument(instrument)
    side = tool.patch_mm if patch_mm is None else patch_mm
    columns, rows = _grid(tool, side, page_mm)
    if columns < 1 or rows < 1:
        return page_mm[1]
    needed = min(rows, -(-count // columns))
    return min(page_mm[1], 2 * _EDGE_MM + _HEADER_MM + needed * (side + tool.row_gap_mm) - tool.row_gap_mm)


def find_instrument(name: str) -> Instrument:
    """Return an instrument by name, or name the choices."""
    if name not in INSTRUMENTS:
        raise UsageError("unknown instrument", found=name, expected=", ".join(INSTRUMENTS))
    return INSTRUMENTS[name]


def check_page(page_mm: tuple[float, float]) -> None:
    """Refuse pages that cannot be."""
    if not all(math.isfinite(v) and 0 < v <= _MOST_MM for v in page_mm):
        raise RangeError("page size cannot be", found=f"{page_mm[0]:g}x{page_mm[1]:g} mm")


def _grid(tool: Instrument, side: float, page_mm: tuple[float, float]) -> tuple[int, int]:
    """Return columns and rows of a page."""
    width = min(page_mm[0] - 2 * _EDGE_MM - LABEL_MM, tool.longest_mm)
    height = page_mm[1] - 2 * _EDGE_MM - _HEADER_MM
    columns = int((width + tool.gap_mm + 1e-9) / (side + tool.gap_mm)) if width > 0 else 0
    rows = int((height + tool.row_gap_mm + 1e-9) / (side + tool.row_gap_mm)) if height > 0 else 0
    return columns, rows


def _spread(
    recipes: FloatArray,
    page: NDArray[np.int64],
    x: FloatArray,
    y: FloatArray,
    page_far: float,
    rng: np.random.Generator,
) -> NDArray[np.int64]:
    """Return which patch stands in which slot: random, repeats of a recipe far from each other."""
    count = len(recipes)
    order = rng.permutation(count)
    _, group = np.unique(recipes.round(6), axis=0, return_inverse=True)
    group = group.reshape(-1)
    sizes = np.bincount(group)
    place = np.stack([x, y + page * 4.0 * page_far], axis=1)
    where = np.empty(count, dtype=np.int64)
    where[order] = np.arange(count)
    settled: dict[int, list[int]] = {}
    # The largest groups choose first; a patch that moves changes places with a patch without repeats.
    for item in sorted(np.flatnonzero(sizes[group] > 1), key=lambda i: (-sizes[group[i]], i)):
        mates = settled.setdefault(int(group[item]), [])
        if mates:
            options = rng.integers(0, count, _SPREAD_TRIES)
            options = options[sizes[group[order[options]]] == 1]
            options = np.append(options, where[item])
            far = ((place[options][:, None] - place[mates][None]) ** 2).sum(axis=2).min(axis=1)
            target = int(options[far.argmax()])
            other, old = int(order[target]), int(where[item])
            order[target], order[old] = item, other
            where[item], where[other] = target, old
        mates.append(int(where[item]))
    return np.asarray(order, dtype=np.int64)


def row_label(row: int) -> str:
    """Return the letters of a row, from 1: A to Z, AA and on.

    Examples
    --------
    >>> row_label(1), row_label(26), row_label(27), row_label(703)
    ('A', 'Z', 'AA', 'AAA')
    """
    text = ""
    while row > 0:
        row, rest = divmod(row - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def places(placed: Placed) -> Sequence[str]:
    """Return the place of each patch as read on the page, such as ``B7``."""
    return [f"{row_label(int(r))}{int(c)}" for r, c in zip(placed.row, placed.column, strict=True)]
