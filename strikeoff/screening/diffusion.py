"""Error diffusion with coefficients that change with the tone: the second screening method.

References
----------
V. Ostromoukhov, A Simple and Efficient Error-Diffusion Algorithm, Proc. SIGGRAPH 2001, 567-572; the
coefficients are those of its appendix. R. W. Floyd, L. Steinberg, An adaptive algorithm for spatial grey
scale, Proc. SID 17 (1976), 75-77 (the principle).
"""

from __future__ import annotations

import csv
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import Band, BandSource, FramedSource, by_line, check_rows
from strikeoff.raster.packing import unpack_levels
from strikeoff.screening.pixel_kernels import COMPILED, PixelKernels, diffuse_line
from strikeoff.screening.void_cluster import shuffled

_FULL = 65535
_ONE = 1 << 14
_LANES = 8
_LEVELS = 3
_BLOCK_ROWS = 32
_KEPT_BLOCKS = 24
_NEVER = 1 << 20


@lru_cache(maxsize=1)
def ostromoukhov_2001() -> NDArray[np.int64]:
    """Return the published coefficients, shape (128, 3): ahead, below behind, below.

    Examples
    --------
    >>> ostromoukhov_2001()[[0, 127]].tolist()
    [[13, 0, 5], [4, 1, 1]]
    """
    text = files("strikeoff.screening").joinpath("ostromoukhov_2001.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = [[int(cell) for cell in row] for row in list(csv.reader(lines))[1:]]
    table = np.array(rows, dtype=np.int64)[:, 1:]
    table.setflags(write=False)
    return table


@dataclass(frozen=True)
class DiffusionTables:
    """Where drops fall and where errors go, for each ink.

    Attributes
    ----------
    shares : ndarray of int32, shape (inks, 256, 2)
        By tone in 256ths: part of the error that goes ahead, and below behind. [1/16384]
    limits, amounts : ndarray of int32, shape (inks, 3)
        Ink and error above which each further level falls; ink that it brings, 65535 in all.
    """

    shares: NDArray[np.int32]
    limits: NDArray[np.int32]
    amounts: NDArray[np.int32]


def diffusion_tables(volumes: Sequence[Sequence[float]]) -> DiffusionTables:
    """Return the tables of inks from their drop volumes.

    Parameters
    ----------
    volumes : sequence of sequence of float
        For each ink the volumes of its drops, rising, 1 to 3 of them; the unit does not matter.

    Raises
    ------
    UsageError
        When there are more, or they do not rise.

    Notes
    -----
    Between two sizes of drops the coefficients are those of the tone within that step: the pattern of the
    larger drops among the smaller ones is that of drops on bare cloth.
    """
    table = ostromoukhov_2001() / ostromoukhov_2001().sum(axis=1, keepdims=True)
    shares = np.zeros((len(volumes), 256, 2), np.int32)
    limits = np.full((len(volumes), _LEVELS), _NEVER, np.int32)
    amounts = np.zeros((len(volumes), _LEVELS), np.int32)
    tones = np.arange(256) * 257 + 128
    for ink, drops in enumerate(volumes):
        if not 1 <= len(drops) <= _LEVELS or not (np.diff([0.0, *drops]) > 0).all():
            raise UsageError("drop volumes cannot be diffused", found=drops, expected="1 to 3, rising")
        edges = np.rint(np.array([0.0, *drops]) / drops[-1] * _FULL).astype(np.int64)
        amounts[ink, : len(drops)] = np.diff(edges)
        limits[ink, : len(drops)] = (edges[1:] + edges[:-1]) // 2
        step = np.clip(np.searchsorted(edges, tones, side="right") - 1, 0, len(drops) - 1)
        grey = np.clip((tones - edges[step]) * 255 // np.diff(edges)[step], 0, 255)
        shares[ink] = np.rint(table[np.minimum(grey, 255 - grey), :2] * _ONE)
    return DiffusionTables(shares, limits, amounts)


def first_errors(inks: int, width: int) -> NDArray[np.int32]:
    """Return what a row above the first would have left, shape (inks, places + 2).

    Zeros would put the first drops of a light tone all into one row; a different error in every place
    spreads them. Places are the width up to a multiple of eight.
    """
    places = -(-width // _LANES) * _LANES
    found = np.zeros((inks, places + 2), np.int32)
    for ink in range(inks):
        found[ink, 1:-1] = shuffled(places, ink + 1) * _FULL // places - _FULL // 2
    return found


@dataclass(frozen=True)
class DiffusedSource(FramedSource):
    """Drop levels of a roll by error diffusion, uint8, read in bands.

    Rows depend on all rows above: reading goes downward; a jump back before what is still held starts
    from the top again. Rows that repeat in the planes do not repeat in the drops.

    Parameters
    ----------
    source : BandSource
        Laid-down planes, uint16.
    tables : DiffusionTables
        One entry for each ink.
    bits : {1, 2}
        Of a drop; two for up to three levels.
    kernels : PixelKernels
        Who computes them.
    """

    source: BandSource
    tables: DiffusionTables
    bits: int = 1
    kernels: PixelKernels = field(default=COMPILED, repr=False)
    _progress: _Progress = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.source.dtype != np.uint16 or len(self.tables.shares) != self.source.channels:
            raise UsageError(
                "planes do not fit the diffusion tables",
                found=f"{self.source.channels} channels of {self.source.dtype}",
                expected=f"{len(self.tables.shares)} of uint16",
            )
        most = int((self.tables.amounts > 0).sum(axis=1).max())
        if self.bits not in (1, 2) or most > 2**self.bits - 1:
            raise UsageError("levels do not fit the bits", found=f"{most} levels in {self.bits} bits")
        object.__setattr__(self, "_progress", _Progress())

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint8)

    def read_packed(self, y0: int, y1: int, bits: int = 1) -> NDArray[np.uint8]:
        """Return levels packed, first one topmost, shape ``(channels, y1 - y0, ceil(width * bits / 8))``."""
        if bits != self.bits:
            raise UsageError("diffused for another number of bits", found=bits, expected=self.bits)
        check_rows(self, y0, y1)
        out = np.empty((self.channels, y1 - y0, -(-self.width * bits // 8)), np.uint8)
        for number in range(y0 // _BLOCK_ROWS, -(-y1 // _BLOCK_ROWS)):
            top = number * _BLOCK_ROWS
            first, last = max(y0, top), min(y1, top + _BLOCK_ROWS)
            out[:, first - y0 : last - y0] = self._block(number)[:, first - top : last - top]
        return out

    def read(self, y0: int, y1: int) -> Band:
        """Return levels, shape ``(y1 - y0, width, channels)``."""
        return unpack_levels(self.read_packed(y0, y1, self.bits), self.width, self.bits)

    @cached_property
    def grouped(self) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]:
        """Tables in groups of eight inks; the spare ones never print."""
        spare = -self.channels % _LANES
        packed = self.tables.shares[..., 0] << 16 | self.tables.shares[..., 1]
        shares = np.pad(packed, ((0, spare), (0, 0))).reshape(-1, _LANES, 256)
        limits = np.pad(self.tables.limits, ((0, spare), (0, 0)), constant_values=_NEVER)
        amounts = np.pad(self.tables.amounts, ((0, spare), (0, 0)))

        def by_level(values: NDArray[np.int32]) -> NDArray[np.int32]:
            return np.ascontiguousarray(values.reshape(-1, _LANES, _LEVELS).swapaxes(1, 2))

        return shares.astype(np.int32), by_level(limits), by_level(amounts)

    def start(self) -> NDArray[np.int32]:
        """Return the errors above the first row, in groups of eight inks."""
        spare = -self.channels % _LANES
        errors = np.pad(first_errors(self.channels, self.width), ((0, spare), (0, 0)))
        return np.ascontiguousarray(errors.reshape(-1, _LANES, errors.shape[1]).swapaxes(1, 2))

    def _block(self, number: int) -> NDArray[np.uint8]:
        """Return a block of packed rows, made after all blocks above it."""
        progress = self._progress
        with progress.lock:
            if number not in progress.blocks and number < progress.done:
                progress.restart()
            while progress.done <= number:
                if progress.errors is None:
                    progress.errors = self.start()
                y0 = progress.done * _BLOCK_ROWS
                y1 = min(y0 + _BLOCK_ROWS, self.height)
                band = by_line(self.source.read(y0, y1))
                progress.keep(self.kernels.diffuse(band, progress.errors, self.grouped, y0, self.bits))
            return progress.blocks[number]


class _Progress:
    """How far down a source has been diffused, and the last blocks of it."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.restart()

    def restart(self) -> None:
        self.done = 0
        self.errors: NDArray[np.int32] | None = None
        self.blocks: OrderedDict[int, NDArray[np.uint8]] = OrderedDict()

    def keep(self, block: NDArray[np.uint8]) -> None:
        self.blocks[self.done] = block
        self.done += 1
        while len(self.blocks) > _KEPT_BLOCKS:
            self.blocks.popitem(last=False)


def diffuse_plain(samples: Band, tables: DiffusionTables) -> NDArray[np.uint8]:
    """Diffuse an image, shape ``(rows, width, inks)``, by the definition: the reference of the fast path."""
    rows, width, inks = samples.shape
    out = np.zeros((rows, width, inks), np.uint8)
    start = first_errors(inks, width)
    places = start.shape[1] - 2
    for ink in range(inks):
        left = start[ink].tolist()
        shares = [(int(ahead), int(behind)) for ahead, behind in tables.shares[ink]]
        limits, amounts = tables.limits[ink].tolist(), tables.amounts[ink].tolist()
        for y in range(rows):
            line = [int(v) for v in samples[y, :, ink]] + [0] * (places - width)
            left, levels = diffuse_line(line, left, shares, limits, amounts, backward=y % 2 == 1)
            out[y, :, ink] = levels[:width]
    return out
