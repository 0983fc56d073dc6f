"""Tables from artwork codes to ink: the record, its use on pixels, and a plain reference."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import canonical_bytes, digest_bytes
from strikeoff.base.errors import InputError

MAX_INKS = 16
#: Code of a table of differences that stands for none; a step of it is two codes of ink.
NO_DIFFERENCE = 32768
_CODES = 65536
_LANES = 8
_PARALLEL_PIXELS = 1 << 16


@dataclass(frozen=True)
class InkTable:
    """Shaper curves and a grid of ink amounts, all integers.

    Attributes
    ----------
    shapers : ndarray of uint16, shape (channels, 65536)
        Per input channel, the table coordinate 0..65535 of each 16-bit code; 65535 is the last node.
    nodes : ndarray of uint16, shape (g,) * channels + (n_inks,)
        Calibrated ink at the grid nodes, 0 none to 65535 full tone; axes in channel order, g >= 2.

    Raises
    ------
    InputError
        When shapes or types disagree.
    """

    shapers: NDArray[np.uint16]
    nodes: NDArray[np.uint16]

    def __post_init__(self) -> None:
        for name in ("shapers", "nodes"):
            array: NDArray[Any] = getattr(self, name)
            if array.dtype != np.uint16:
                raise InputError(f"table {name} of the wrong type", found=array.dtype, expected="uint16")
            own = np.array(array, order="C")
            own.setflags(write=False)
            object.__setattr__(self, name, own)
        if self.shapers.ndim != 2 or self.shapers.shape[1] != _CODES:
            raise InputError("bad shaper shape", found=self.shapers.shape, expected=f"(channels, {_CODES})")
        if self.channels not in (1, 3, 4):
            raise InputError("bad number of table channels", found=self.channels, expected="1, 3 or 4")
        grid = self.nodes.shape[:-1]
        if len(grid) != self.channels or len(set(grid)) != 1 or not 2 <= grid[0] <= 256:
            raise InputError(
                "bad node shape",
                found=self.nodes.shape,
                expected=f"{self.channels} equal axes of 2-256, then inks",
            )
        if not 1 <= self.n_inks <= MAX_INKS:
            raise InputError("bad number of inks", found=self.n_inks, expected=f"1-{MAX_INKS}")

    @property
    def channels(self) -> int:
        """Input channels."""
        return int(self.shapers.shape[0])

    @property
    def grid(self) -> int:
        """Nodes along an axis."""
        return int(self.nodes.shape[0])

    @property
    def n_inks(self) -> int:
        """Inks."""
        return int(self.nodes.shape[-1])

    @cached_property
    def prepared_16_bit(self) -> tuple[NDArray[np.uint32], NDArray[np.uint16], NDArray[np.uint32]]:
        """Shapers as node and fraction, nodes with empty lanes, and strides: what the kernels take."""
        node, high = np.divmod(
            self.shapers.astype(np.uint32) * np.uint32(self.grid - 1), np.uint32(_CODES - 1)
        )
        # The last node belongs to the last cell.
        last = node == self.grid - 1
        places = (node - last) << 16 | np.where(last, _CODES - 1, high)
        spare = -self.n_inks % _LANES
        nodes = np.pad(self.nodes.reshape(-1, self.n_inks), ((0, 0), (0, spare)))
        strides = np.array([self.grid**axis for axis in range(self.channels)[::-1]]) * nodes.shape[1]
        return places.astype(np.uint32), nodes, strides.astype(np.uint32)

    @cached_property
    def prepared_8_bit(self) -> tuple[NDArray[np.uint32], NDArray[np.uint16], NDArray[np.uint32]]:
        """The same for codes of 8 bits."""
        places, nodes, strides = self.prepared_16_bit
        return np.ascontiguousarray(places[:, ::257]), nodes, strides

    @cached_property
    def digest(self) -> str:
        """Digest of shapes and values, the same on every machine."""
        head = canonical_bytes({"shapers": list(self.shapers.shape), "nodes": list(self.nodes.shape)})
        return digest_bytes(head + self.shapers.astype("<u2").tobytes() + self.nodes.astype("<u2").tobytes())


def straight_shapers(channels: int) -> NDArray[np.uint16]:
    """Return shapers that leave codes as they are, shape (channels, 65536)."""
    return np.tile(np.arange(_CODES, dtype=np.uint16), (channels, 1))


def spread_shaper(axis: NDArray[np.float64]) -> NDArray[np.uint16]:
    """Return the shaper that leads codes to nodes which lie at given values.

    Parameters
    ----------
    axis : ndarray, shape (grid,)
        Value of each node, rising from 0 to 1.

    Examples
    --------
    >>> spread_shaper(np.array([0.0, 0.25, 1.0]))[[0, 16384, 65535]].tolist()
    [0, 32768, 65535]
    """
    codes = np.arange(_CODES) / 65535.0
    place = np.interp(codes, axis, np.linspace(0.0, 1.0, len(axis)))
    return np.floor(place * 65535.0 + 0.5).astype(np.uint16)


def apply_table(pixels: NDArray[Any], table: InkTable, *, workers: int | None = None) -> NDArray[np.uint16]:
    """Send pixels through a table: linear, tetrahedral or four-dimensional simplex interpolation.

    Parameters
    ----------
    pixels : ndarray of uint8 or uint16, shape (rows, width, channels)
        Artwork codes; an 8-bit value v stands for the code 257 v.
    table : InkTable
        With as many channels.
    workers : int, optional
        Threads; default one per core. The bytes do not depend on it.

    Returns
    -------
    ndarray of uint16, shape (rows, width, n_inks)
        Ink, 0-65535; within half a code of exact interpolation.

    Raises
    ------
    InputError
        When type or channel count differ from the table's.

    Examples
    --------
    >>> ramp = np.array([[0], [65535]], np.uint16)
    >>> apply_table(np.array([[[0], [51], [255]]], np.uint8), InkTable(straight_shapers(1), ramp))[0, :, 0]
    array([    0, 13107, 65535], dtype=uint16)
    """
    from strikeoff.raster import kernels_tables as kernels

    _check(pixels, table)
    kernel = kernels.linear_1d if table.channels == 1 else kernels.simplex
    rows, width = pixels.shape[:2]
    flat = np.ascontiguousarray(pixels).reshape(rows * width, table.channels).view()
    flat.setflags(write=False)  # one compiled version serves both kinds of array
    if table.channels == 1:
        shapers = table.shapers if pixels.dtype == np.uint16 else _shapers_for_8_bit(table)
        prepared: tuple[Any, ...] = (shapers, table.nodes, table.grid)
    else:
        prepared = table.prepared_8_bit if pixels.dtype == np.uint8 else table.prepared_16_bit
    out = np.empty((rows * width, table.n_inks), np.uint16)
    count = min(workers or os.cpu_count() or 1, max(1, len(flat) // _PARALLEL_PIXELS))
    cuts = [len(flat) * i // count for i in range(count + 1)]

    def run(part: int) -> None:
        piece = slice(cuts[part], cuts[part + 1])
        kernel(flat[piece], *prepared, out[piece])

    if count == 1:
        run(0)
    else:
        with ThreadPoolExecutor(count) as pool:
            list(pool.map(run, range(count)))
    return out.reshape(rows, width, table.n_inks)


def apply_table_reference(pixels: NDArray[Any], table: InkTable) -> NDArray[np.float64]:
    """Return what `apply_table` approximates, in plain floating point and unrounded.

    The same parameters; the result has the same shape as `apply_table`'s, type float64.
    """
    _check(pixels, table)
    codes = pixels.astype(np.int64) * (257 if pixels.dtype == np.uint8 else 1)
    place = np.stack([table.shapers[c][codes[..., c]] for c in range(table.channels)], axis=-1)
    place = place / 65535.0 * (table.grid - 1)
    node = np.minimum(np.floor(place).astype(np.int64), table.grid - 2)
    fraction = place - node
    order = np.argsort(-fraction, axis=-1, kind="stable")
    ranked = np.take_along_axis(fraction, order, axis=-1)
    bounds = np.concatenate([np.ones_like(ranked[..., :1]), ranked, np.zeros_like(ranked[..., :1])], axis=-1)
    corner = node.copy()
    result = np.zeros((*pixels.shape[:-1], table.n_inks))
    for step in range(table.channels + 1):
        weight = bounds[..., step] - bounds[..., step + 1]
        result += weight[..., None] * table.nodes[tuple(np.moveaxis(corner, -1, 0))]
        if step < table.channels:
            axis = order[..., step : step + 1]
            np.put_along_axis(corner, axis, np.take_along_axis(corner, axis, axis=-1) + 1, axis=-1)
    return result


def _shapers_for_8_bit(table: InkTable) -> NDArray[np.uint16]:
    shapers = np.ascontiguousarray(table.shapers[:, ::257])
    shapers.setflags(write=False)
    return shapers


def _check(pixels: NDArray[Any], table: InkTable) -> None:
    if pixels.dtype not in (np.uint8, np.uint16):
        raise InputError("bad pixel type", found=pixels.dtype, expected="uint8 or uint16")
    if pixels.ndim != 3 or pixels.shape[2] != table.channels:
        raise InputError("bad pixel shape", found=pixels.shape, expected=f"(rows, width, {table.channels})")
