"""The demonstration repeat: a meadow by night, drawn for a half-drop.

Plants are placed on the half-drop torus: the tile whose neighbour columns are shifted by half its
height. A plant goes where nothing else stands and most room is left, large ones first, so the eye
finds no rows and no holes.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork import motif_plants as plants
from strikeoff.artwork.motif_plants import PALETTE
from strikeoff.artwork.motif_shapes import Drawing, Rng, Shape, bezier, mirrored, moved, stroke, tapered
from strikeoff.base.errors import InputError

_CELLS = 140  # placing grid across one repeat; even, for the half drop
_OVERSAMPLING = 3

#: What is planted: maker, size in repeats, how many, gap to the neighbours in repeats, turning range [rad].
_PLANTING: tuple[tuple[Callable[[Rng, float], Drawing], float, int, float, float], ...] = (
    (plants.flower_spray, 0.55, 1, 0.012, 0.5),
    (plants.rose_spray, 0.50, 1, 0.012, 0.9),
    (plants.daisy_spray, 0.43, 2, 0.012, 0.8),
    (plants.seed_head, 0.37, 1, 0.012, 0.7),
    (plants.moth, 0.16, 1, 0.014, 0.9),
    (plants.umbel, 0.36, 2, 0.010, 0.9),
    (plants.berry_sprig, 0.33, 3, 0.010, 1.4),
    (plants.seed_head, 0.29, 1, 0.010, 0.9),
    (plants.fern, 0.36, 2, 0.009, 3.1),
    (plants.fern, 0.24, 4, 0.009, 3.1),
    (plants.twig, 0.16, 7, 0.009, 3.1),
    (plants.floret, 0.036, 12, 0.011, 3.1),
    (plants.twig, 0.095, 14, 0.008, 3.1),
    (plants.floret, 0.02, 16, 0.010, 3.1),
    (plants.seeds, 0.013, 40, 0.009, 3.1),
)


def draw_repeat(size_px: int = 2520, seed: int = 11) -> NDArray[np.uint8]:
    """Draw the half-drop repeat.

    Parameters
    ----------
    size_px : int
        Width and height of the tile, even, 64-8192. [pixels]
    seed : int
        Another number gives another planting.

    Returns
    -------
    ndarray of uint8, shape (size_px, size_px, 3)
        sRGB. Rows join straight at top and bottom; columns join shifted by ``size_px / 2``.

    Raises
    ------
    InputError
        When the size is odd or out of bounds.
    """
    if size_px % 2 or not 64 <= size_px <= 8192:
        raise InputError("bad size of the repeat", found=size_px, expected="an even number, 64-8192")
    rng = np.random.default_rng(seed)
    drawing = _grass(rng)
    for plant in _planted(rng):
        drawing += plant
    return _painted(drawing, size_px)


def _grass(rng: Rng) -> Drawing:
    """Return short strokes barely lighter than the ground, evenly strewn."""
    drawing: Drawing = []
    rows = 26
    for row in range(rows):
        for column in range(rows):
            x, y = (column + rng.uniform(0.1, 0.9)) / rows, (row + rng.uniform(0.1, 0.9)) / rows
            lean, length = rng.uniform(-0.6, 0.6), rng.uniform(0.012, 0.026)
            path = bezier((0, 0), (0.0, -0.5 * length), (lean * length, -length), n=8)
            drawing += moved([stroke(path, tapered(8, 0.0032, 0.0008), "shadow")], 0.0, (x, y))
    return drawing


def _planted(rng: Rng) -> list[Drawing]:
    taken = np.zeros((_CELLS, 2 * _CELLS), np.bool_)
    result = []
    for make, size, count, gap, turning in _PLANTING:
        for _ in range(count):
            room, used = np.fft.rfft2(_room(taken)), np.fft.rfft2(taken)
            plant = make(rng, size)
            best: tuple[float, Drawing, NDArray[np.bool_]] | None = None
            for attempt in range(4 if size > 0.1 else 2):
                turned = moved(mirrored(plant) if attempt % 2 else plant, rng.uniform(-turning, turning))
                found = _place(turned, used, room, gap)
                if found is not None and (best is None or found[0] > best[0]):
                    best = found
            if best is not None:
                taken |= best[2]
                result.append(best[1])
    return result


def _room(taken: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return every free cell's distance to the nearest plant, on the torus of two columns."""
    from scipy import ndimage

    if not taken.any():
        return np.ones(taken.shape)
    around = ndimage.distance_transform_cdt(~np.tile(taken, (3, 3)), metric="chessboard")
    high, wide = taken.shape
    return np.asarray(around[high : 2 * high, wide : 2 * wide], dtype=np.float64)


def _place(
    plant: Drawing, used: NDArray[np.complex128], room: NDArray[np.complex128], gap: float
) -> tuple[float, Drawing, NDArray[np.bool_]] | None:
    """Return score, plant and footprint at the roomiest free place, or None.

    ``used`` and ``room`` are spectra on a torus of two columns, the second half a height lower, so
    that one Fourier transform tests every place of the half-drop lattice.
    """
    own, wide = _footprint(plant, gap)
    if own.sum() * 2 != _both_columns(own).sum():
        return None  # it would touch itself in the next column
    clash = np.rint(np.fft.irfft2(used * np.conj(np.fft.rfft2(wide)), s=own.shape))
    score = np.fft.irfft2(room * np.conj(np.fft.rfft2(own)), s=own.shape) / own.sum()
    score = np.where(clash[:, :_CELLS] == 0, np.round(score[:, :_CELLS], 6), -np.inf)
    row, column = np.unravel_index(int(np.argmax(score)), score.shape)
    if not np.isfinite(score[row, column]):
        return None
    at = (float(column) / _CELLS, float(row) / _CELLS)
    placed = _both_columns(np.roll(own, (int(row), int(column)), axis=(0, 1)))
    return float(score[row, column]), moved(plant, 0.0, at), placed


def _both_columns(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(mask | np.roll(mask, (_CELLS // 2, _CELLS), axis=(0, 1)))


def _footprint(plant: Drawing, gap: float) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return the cells that a plant covers, bare and with a gap round it, folded on the torus."""
    from PIL import Image, ImageDraw
    from scipy import ndimage

    reach = round(gap * _CELLS)
    points = np.concatenate([shape.points for shape in plant])
    low = np.floor(points.min(axis=0) * _CELLS) - reach - 1
    high = np.ceil(points.max(axis=0) * _CELLS) + reach + 1
    canvas = Image.new("1", (int(high[0] - low[0]) + 1, int(high[1] - low[1]) + 1))
    pen = ImageDraw.Draw(canvas)
    for shape in plant:
        pen.polygon((shape.points * _CELLS - low).ravel().tolist(), fill=1, outline=1)
    mask = np.asarray(canvas)
    rows = (np.arange(mask.shape[0]) + int(low[1])) % _CELLS
    columns = (np.arange(mask.shape[1]) + int(low[0])) % (2 * _CELLS)
    own, wide = np.zeros((2, _CELLS, 2 * _CELLS), np.bool_)
    np.logical_or.at(own, np.ix_(rows, columns), mask)
    spread = ndimage.binary_dilation(mask, np.ones((2 * reach + 1, 2 * reach + 1), np.bool_))
    np.logical_or.at(wide, np.ix_(rows, columns), spread)
    return own, wide


def _painted(drawing: Drawing, size_px: int) -> NDArray[np.uint8]:
    from PIL import Image, ImageDraw

    side = size_px * _OVERSAMPLING
    image = Image.new("RGB", (side, side), PALETTE["ground"])
    pen = ImageDraw.Draw(image)
    for shape in drawing:
        for points in _copies(shape):
            pen.polygon((points * side).ravel().tolist(), fill=PALETTE[shape.colour])
    return np.array(image.reduce(_OVERSAMPLING), dtype=np.uint8)


def _copies(shape: Shape) -> list[NDArray[np.float64]]:
    """Return the copies of an outline on the half-drop lattice that touch the tile 0-1 x 0-1."""
    low, high = shape.points.min(axis=0), shape.points.max(axis=0)
    result = []
    for column in range(int(np.floor(-high[0])), int(np.ceil(1 - low[0])) + 1):
        for row in range(int(np.floor(-high[1] - column / 2)), int(np.ceil(1 - low[1] - column / 2)) + 1):
            shift = np.array([column, row + column / 2])
            if ((high + shift > 0) & (low + shift < 1)).all():
                result.append(shape.points + shift)
    return result
