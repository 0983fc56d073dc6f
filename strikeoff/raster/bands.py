"""Band sources: images that are read a few rows at a time and never held whole."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from strikeoff.raster.packing import pack_levels

Band = NDArray[Any]

# What repeats after fewer rows is of little use: neither a strip of a file nor a mask goes into it.
_SHORT_ROWS = 64
_MOST_PERIODS = 8


class BandSource(Protocol):
    """An image of ``height`` rows that is read in bands.

    ``read(y0, y1)`` returns an array of shape ``(y1 - y0, width, channels)`` and type ``dtype``
    that the caller may keep and must not change. Reading is repeatable, in any order, and safe
    from several threads.
    """

    @property
    def height(self) -> int:
        """Rows."""

    @property
    def width(self) -> int:
        """Pixels in a row."""

    @property
    def channels(self) -> int:
        """Samples in a pixel."""

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch (across, along) [mm]."""

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""


class PeriodicSource(BandSource, Protocol):
    """A band source whose rows repeat; ``canonical_row`` names the first equal row."""

    @property
    def row_block(self) -> int:
        """Rows that repeat together: repeats start at multiples of it. 0 when nothing repeats."""

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that is known to hold the same samples as row ``y``.

        A source may have the answer for all rows as an array, ``row_map``: faster for long rolls.
        """


class PackedSource(BandSource, Protocol):
    """A band source of drop levels that also gives them packed, several to a byte."""

    def read_packed(self, y0: int, y1: int, bits: int = 1) -> Band:
        """Return uint8, shape ``(channels, y1 - y0, ceil(width * bits / 8))``, first pixel topmost."""


def by_line(band: Band) -> Band:
    """Return a band, shape ``(rows, width, channels)``, as contiguous lines ``(rows, channels, width)``.

    Steps that work line by line and ink by ink return such memory, seen pixel by pixel: then nothing moves.

    Examples
    --------
    >>> lines = np.zeros((2, 7, 100), np.uint16)
    >>> np.shares_memory(by_line(np.moveaxis(lines, 1, 2)), lines)
    True
    """
    return np.ascontiguousarray(np.moveaxis(band, 2, 1))


@dataclass(frozen=True)
class ArraySource:
    """A band source over an array in memory, shape ``(height, width, channels)``."""

    array: Band
    pitch_mm: tuple[float, float] = (25.4 / 72, 25.4 / 72)

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.array.shape[0])

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return int(self.array.shape[1])

    @property
    def channels(self) -> int:
        """Samples in a pixel."""
        return int(self.array.shape[2])

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return self.array.dtype

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        return self.array[y0:y1]


@dataclass(frozen=True)
class FramedSource:
    """What a source made from another, pixel by pixel, takes over from it; subclasses add what they change.

    Attributes
    ----------
    source : BandSource
        What it is made from.
    """

    source: BandSource

    @property
    def height(self) -> int:
        """Rows."""
        return self.source.height

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return self.source.width

    @property
    def channels(self) -> int:
        """Samples in a pixel."""
        return self.source.channels

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch, across and along, in millimetres."""
        return self.source.pitch_mm


@dataclass(frozen=True)
class RepeatingSource(FramedSource):
    """The same where equal rows of the source stay equal rows."""

    @property
    def row_block(self) -> int:
        """Rows that repeat together; 0 when nothing repeats."""
        return int(getattr(self.source, "row_block", 0))

    @cached_property
    def row_map(self) -> NDArray[np.int64]:
        """Canonical row of every row."""
        return canonical_rows(self.source)


@dataclass(frozen=True)
class ChannelSource(RepeatingSource):
    """One channel of a source."""

    channel: int

    @property
    def channels(self) -> int:
        """One."""
        return 1

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return self.source.dtype

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, 1)``."""
        return self.source.read(y0, y1)[..., self.channel : self.channel + 1]

    def read_packed(self, y0: int, y1: int, bits: int = 1) -> Band:
        """Return rows packed, shape ``(1, y1 - y0, ceil(width * bits / 8))``."""
        reader = getattr(self.source, "read_packed", None)
        if reader is None:
            return pack_levels(self.read(y0, y1), bits)
        return np.asarray(reader(y0, y1, bits)[self.channel : self.channel + 1])


def check_rows(source: BandSource, y0: int, y1: int) -> None:
    """Raise IndexError unless ``0 <= y0 <= y1 <= height``."""
    if not 0 <= y0 <= y1 <= source.height:
        raise IndexError(f"rows {y0}..{y1} outside 0..{source.height}")


def repeat_of_rows(source: BandSource) -> tuple[int, int]:
    """Return how many rows lie between the first row that repeats an earlier one and that, and the latter.

    Both 0 when nothing repeats. Where stretches of several periods follow each other, the period that goes
    into all of them, unless it is very short: then the one by which most rows repeat.
    """
    return repeat_of_map(canonical_rows(source))


def repeat_of_map(rows: NDArray[np.int64]) -> tuple[int, int]:
    """Return the same for canonical rows.

    Examples
    --------
    >>> repeat_of_map(np.array([0, 1, 1, 3, 4, 3, 4, 3, 4, 9, 10, 11, 9, 10, 11]))
    (2, 3)
    """
    repeated = np.flatnonzero(rows != np.arange(len(rows)))
    if not len(repeated):
        return 0, 0
    start = int(rows[repeated[0]])
    # Rows with marks may hide whole repeats; rows before the first may be bare ones.
    later = repeated[rows[repeated] >= start]
    whole = later - rows[later]
    period = int(np.gcd.reduce(whole))
    if period >= _SHORT_ROWS:
        return period, start
    order = np.argsort(rows, kind="stable")
    steps = np.diff(order)[np.diff(rows[order]) == 0]
    found, counts = np.unique(steps, return_counts=True)
    likely = np.argsort(-counts, kind="stable")[:_MOST_PERIODS].tolist()

    def gain(k: int) -> tuple[int, int, int]:
        # Very short periods are taken several at a time.
        taken = found[k] * -(-_SHORT_ROWS // found[k]) if found[k] < _SHORT_ROWS else found[k]
        return int(np.count_nonzero(whole % taken == 0)), int(counts[k]), -k

    period = int(found[max(likely, key=gain)])
    return period, int(rows[later[whole % period == 0][0]])


def canonical_rows(source: BandSource) -> NDArray[np.int64]:
    """Return the canonical row of every row of a source; each row itself when nothing is known to repeat."""
    known: NDArray[np.int64] | None = getattr(source, "row_map", None)
    if known is not None:
        return known
    canonical = getattr(source, "canonical_row", None)
    if canonical is None:
        return np.arange(source.height, dtype=np.int64)
    return np.fromiter((canonical(y) for y in range(source.height)), dtype=np.int64, count=source.height)
