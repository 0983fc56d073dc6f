"""One clean tile out of a swatch: the mean of its repeats, without a seam."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from strikeoff.artwork.swatch_lattice import SwatchRepeat

FloatArray = NDArray[np.float64]


def cut_tile(
    picture: NDArray[Any], repeat: SwatchRepeat, size_px: tuple[int, int] | None = None
) -> NDArray[Any]:
    """Return one tile, upright, each pixel the weighted mean of its places in all repeats.

    Parameters
    ----------
    picture : ndarray of uint8 or uint16, shape (h, w, channels)
        The swatch; samples are averaged as codes.
    repeat : SwatchRepeat
        Its repeat, in the same pixels.
    size_px : tuple of int, optional
        Width and height of the tile; `tile_size` by default.

    Returns
    -------
    ndarray, shape (size_px[1], size_px[0], channels)
        Of the same type.

    Notes
    -----
    Weights fall to nothing at the edges of the swatch, so that no pixel enters or leaves the mean with a
    jump; they are the same for all places that the lattice makes equal, hence the edges meet.
    """
    height, width, channels = picture.shape
    wide, high = size_px or tile_size(repeat)
    across, along = np.array(repeat.across), np.array(repeat.along)
    column, row = np.array(repeat.next_column), np.array(repeat.next_row)
    right, down = (np.arange(wide) + 0.5) / wide, (np.arange(high) + 0.5) / high
    places = right[None, :, None] * across + down[:, None, None] * along
    inverse = np.linalg.inv(np.array([column, row]))
    corners = np.array([[0, 0], [width, 0], [0, height], [width, height]]) @ inverse
    low, most = np.floor(corners.min(axis=0)).astype(int) - 2, np.ceil(corners.max(axis=0)).astype(int) + 2
    planes = [
        ndimage.spline_filter(picture[..., c].astype(np.float64), 3, mode="reflect") for c in range(channels)
    ]
    total, sums = np.zeros((high, wide)), np.zeros((high, wide, channels))
    for i in range(low[0], most[0] + 1):
        for j in range(low[1], most[1] + 1):
            x, y = np.moveaxis(places + i * column + j * row, 2, 0)
            inside_x = np.minimum(x, width - x) / width
            inside_y = np.minimum(y, height - y) / height
            weight = np.clip(inside_x, 0, None) * np.clip(inside_y, 0, None)
            if not weight.any():
                continue
            total += weight
            for c, plane in enumerate(planes):
                at = np.stack([y - 0.5, x - 0.5])
                value = ndimage.map_coordinates(plane, at, order=3, mode="reflect", prefilter=False)
                sums[..., c] += weight * value
    full = np.iinfo(picture.dtype).max
    return np.clip(np.rint(sums / total[..., None]), 0, full).astype(picture.dtype)


def tile_size(repeat: SwatchRepeat) -> tuple[int, int]:
    """Return whole pixels (across, along) for a tile, divisible as its offset needs."""
    lattice = repeat.lattice
    wide = lattice.width_parts * max(1, round(repeat.width_px / lattice.width_parts))
    high = lattice.height_parts * max(1, round(repeat.height_px / lattice.height_parts))
    return wide, high
