"""The kernels between artwork and ink planes as one record, which sources take: compiled, or plain.

What stands lower in the layers than screening has its record here; `strikeoff.screening.pixel_kernels` has
that of the steps between planes and drops.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.raster.tables import InkTable, apply_table, apply_table_reference

Lines = NDArray[np.uint16]
Taps = tuple[NDArray[np.int64], NDArray[np.float32]]


@dataclass(frozen=True)
class ArtworkKernels:
    """One way to compute the steps between artwork and planes.

    Attributes
    ----------
    name : str
        What it is called.
    interpolate : callable
        Pixels ``(rows, width, channels)``, an InkTable and the number of threads or None to ink, uint16.
    resample : callable
        Source rows ``(rows, places, channels)``, first row and weights of each row made, source column of
        each place, first place and weights of each pixel made, most of each channel (float32), most of all
        together, and the lines ``(rows, channels, width)`` to fill. Pixels and channels of the arguments may
        go on to a whole number of eight.
    """

    name: str
    interpolate: Callable[[NDArray[Any], InkTable, int | None], NDArray[np.uint16]]
    resample: Callable[[Lines, Taps, NDArray[np.int64], Taps, NDArray[np.float32], int, Lines], None]


def _interpolate(pixels: NDArray[Any], table: InkTable, workers: int | None) -> NDArray[np.uint16]:
    return apply_table(pixels, table, workers=workers)


def _resample(
    source: Lines, rows: Taps, index: NDArray[np.int64], columns: Taps, caps: NDArray[np.float32],
    total: int, out: Lines,
) -> None:  # fmt: skip
    from strikeoff.raster.kernels_resample import resample_rows

    resample_rows(source, *rows, index, *columns, caps, total, out)


def _interpolate_plain(pixels: NDArray[Any], table: InkTable, workers: int | None) -> NDArray[np.uint16]:
    return np.floor(apply_table_reference(pixels, table) + 0.5).astype(np.uint16)


def _resample_plain(
    source: Lines, rows: Taps, index: NDArray[np.int64], columns: Taps, caps: NDArray[np.float32],
    total: int, out: Lines,
) -> None:  # fmt: skip
    """Weigh in single precision, tap by tap, along and then down: the order is part of the definition."""
    channels, width = out.shape[1:]
    row_start, row_weights = rows
    column_start, column_weights = columns
    places = source[:, index].astype(np.float32)
    along = np.zeros((len(source), width, channels), np.float32)
    for k in range(column_weights.shape[1]):
        along += column_weights[:width, k, None] * places[:, column_start[:width] + k]
    made = np.zeros((len(row_start), width, channels), np.float32)
    for k in range(row_weights.shape[1]):
        made += row_weights[:, k, None, None] * along[row_start + k]
    held = np.minimum(np.maximum(made, np.float32(0)), caps[:channels]) + np.float32(0.5)
    whole = held.astype(np.uint16).astype(np.int64)
    heavy = whole.sum(axis=2, keepdims=True)
    whole = np.where(heavy > total, whole * total // np.maximum(heavy, 1), whole)
    out[:] = np.moveaxis(whole, 2, 1)


#: Kernels compiled on first use.
COMPILED = ArtworkKernels("compiled", _interpolate, _resample)
#: The definitions, slow.
PLAIN = ArtworkKernels("plain", _interpolate_plain, _resample_plain)
