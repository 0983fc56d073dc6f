"""One pass over artwork: a small picture, the edges in full, and how much neighbours differ inside."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.raster.bands import BandSource

FloatArray = NDArray[np.float64]

#: Pixels kept along each edge.
EDGE = 64
_LONGER_PX = 900
_BAND_BYTES = 8 << 20
_PAIRS = 64


@dataclass(frozen=True)
class Survey:
    """What one pass over artwork tells; samples 0-1 as in the artwork.

    Attributes
    ----------
    small : ndarray, shape (h, w, channels)
        Mean of ``step`` x ``step`` pixels; the last row and column may have fewer.
    step : int
        Pixels of the artwork to one of ``small``.
    left, right : ndarray, shape (height, EDGE, channels)
        Columns at the edges.
    top, bottom : ndarray, shape (EDGE, width, channels)
        Rows at the edges.
    across_jumps, along_jumps : ndarray
        Mean difference between neighbouring columns, and rows, inside the picture. [-]
    """

    small: FloatArray
    step: int
    left: NDArray[Any]
    right: NDArray[Any]
    top: NDArray[Any]
    bottom: NDArray[Any]
    across_jumps: FloatArray
    along_jumps: FloatArray


def survey(
    source: BandSource,
    progress: Callable[[float], None] = lambda fraction: None,
    *,
    longer_px: int = _LONGER_PX,
) -> Survey:
    """Read a band source once from top to bottom.

    Parameters
    ----------
    source : BandSource
        uint8 or uint16.
    progress : callable
        Told the fraction done, 0-1.
    longer_px : int
        Most pixels of the longer side of the small picture.
    """
    height, width, channels = source.height, source.width, source.channels
    full = float(np.iinfo(source.dtype).max)
    step = max(1, math.ceil(max(height, width) / longer_px))
    edge_x, edge_y = min(EDGE, width), min(EDGE, height)
    row_bytes = width * channels * source.dtype.itemsize
    rows = max(1, _BAND_BYTES // (row_bytes * step)) * step
    pairs = (
        np.unique(np.linspace(0, max(0, width - 2), _PAIRS).astype(int)) if width > 1 else np.zeros(0, int)
    )
    small = []
    left = np.empty((height, edge_x, channels), source.dtype)
    right = left.copy()
    across, along = np.zeros(len(pairs)), []
    top, bottom = source.read(0, edge_y), source.read(height - edge_y, height)
    for y0 in range(0, height, rows):
        y1 = min(height, y0 + rows)
        band = source.read(y0, y1)
        small.append(_shrunk(band, step))
        left[y0:y1], right[y0:y1] = band[:, :edge_x], band[:, width - edge_x :]
        across += np.abs(band[:, pairs].astype(np.float32) - band[:, pairs + (width > 1)]).sum(axis=(0, 2))
        for y in np.unique(np.linspace(0, max(0, y1 - y0 - 2), 8).astype(int)):
            if y + 1 < y1 - y0:
                along.append(float(np.abs(band[y].astype(np.float32) - band[y + 1]).mean()) / full)
        progress(y1 / height)
    return Survey(
        small=np.concatenate(small) / full,
        step=step,
        left=left / full,
        right=right / full,
        top=top / full,
        bottom=bottom / full,
        across_jumps=across / (height * channels * full),
        along_jumps=np.asarray(along),
    )


def _shrunk(band: NDArray[Any], step: int) -> FloatArray:
    if step == 1:
        return band.astype(np.float64)
    rows, columns = (np.arange(0, size, step) for size in band.shape[:2])
    sums = np.add.reduceat(np.add.reduceat(band, columns, axis=1, dtype=np.float64), rows, axis=0)
    down, over = (
        np.diff(np.append(starts, size)) for starts, size in zip((rows, columns), band.shape, strict=False)
    )
    return np.asarray(sums / (down[:, None] * over[None])[..., None])
