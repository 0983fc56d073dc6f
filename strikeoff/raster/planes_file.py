"""A file of ink planes as a band source."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.files import storage_errors
from strikeoff.raster.bands import Band, check_rows
from strikeoff.raster.packing import unpack_levels
from strikeoff.raster.strip_cache import StripCache
from strikeoff.raster.tiff_codecs import decode_strip


@dataclass(frozen=True)
class PlanesFile:
    """Ink planes or drops in a file, read in bands; only the tag table is held.

    Attributes
    ----------
    path : Path
        The file.
    height, width, channels : int
        Size in pixels and number of inks.
    bits : int
        16 (planes), 8, 2 or 1 (drops; ``read`` then gives levels as uint8).
    pitch_mm : tuple of float
        Pixel pitch (across, along). [mm]
    ink_names : tuple of str
        One per channel.
    info : dict
        The JSON document of ImageDescription; empty when there is none.
    rows_per_strip : int
        Rows of a strip.
    """

    path: Path
    height: int
    width: int
    channels: int
    bits: int
    pitch_mm: tuple[float, float]
    ink_names: tuple[str, ...]
    info: dict[str, Any]
    rows_per_strip: int
    _compression: str
    _predictor: int
    _order: str
    _offsets: NDArray[np.uint64]
    _counts: NDArray[np.uint64]
    _first: NDArray[np.int64]
    _identity: tuple[int, int]
    _cache: StripCache = field(repr=False, compare=False)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint16 if self.bits == 16 else np.uint8)

    @property
    def row_block(self) -> int:
        """Rows that repeat together; 0 when no strip is stored for two places."""
        return self.rows_per_strip if (self._first != np.arange(len(self._first))).any() else 0

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that the file stores in the same place as row ``y``."""
        strip, row = divmod(y, self.rows_per_strip)
        return int(self._first[strip]) * self.rows_per_strip + row

    @property
    def row_map(self) -> NDArray[np.int64]:
        """Canonical row of every row."""
        strip, row = np.divmod(np.arange(self.height, dtype=np.int64), self.rows_per_strip)
        return self._first[strip] * self.rows_per_strip + row

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, channels)``."""
        if self.bits < 8:
            return unpack_levels(self.read_packed(y0, y1, self.bits), self.width, self.bits)
        if self._planes > 1:
            return np.stack([self._rows(plane, y0, y1) for plane in range(self.channels)], axis=2)
        return self._rows(0, y0, y1)

    @property
    def _planes(self) -> int:
        return len(self._offsets)

    def read_packed(self, y0: int, y1: int, bits: int = 1) -> NDArray[np.uint8]:
        """Return rows of a file of drops, shape ``(channels, rows, ceil(width * bits / 8))``."""
        if self.bits != bits or bits > 2:
            raise InputError(
                "not a file of packed drops",
                path=self.path,
                found=f"{self.bits} bits",
                expected=f"{bits} bits",
            )
        return np.stack([self._rows(plane, y0, y1) for plane in range(self.channels)])

    def _rows(self, plane: int, y0: int, y1: int) -> Band:
        check_rows(self, y0, y1)
        size = self.rows_per_strip
        if y0 == y1:
            return self._strip(plane, 0)[:0]
        pieces = []
        for strip in range(y0 // size, -(-y1 // size)):
            start = strip * size
            pieces.append(self._strip(plane, strip)[max(0, y0 - start) : y1 - start])
        return pieces[0] if len(pieces) == 1 else np.concatenate(pieces)

    def _strip(self, plane: int, strip: int) -> Band:
        strip = int(self._first[strip])
        key = self.path, self._identity, plane, strip
        found = self._cache.get(key)
        if found is None:
            found = self._decode(plane, strip)
            self._cache.put(key, found)
        return found

    def _decode(self, plane: int, strip: int) -> Band:
        offset, count = int(self._offsets[plane, strip]), int(self._counts[plane, strip])
        where = f"strip {strip}" + (f" of plane {plane}" if self._planes > 1 else "")
        with storage_errors(self.path), open(self.path, "rb") as stream:
            if file_identity(stream.fileno()) != self._identity:
                raise InputError("file changed while it was being read", path=self.path)
            stream.seek(offset)
            data = stream.read(count)
        rows = min(self.rows_per_strip, self.height - strip * self.rows_per_strip)
        shape: tuple[int, ...] = (rows, self.width, self.channels)
        if self.bits < 8:
            shape = (rows, -(-self.width * self.bits // 8))
        elif self._planes > 1:
            shape = (rows, self.width)
        dtype = self.dtype.newbyteorder("<" if self._order == "<" else ">")
        try:
            return decode_strip(data, self._compression, self._predictor, shape, dtype)
        except ValueError as error:
            raise InputError(
                f"damaged strip: {error}", path=self.path, where=where, advice="Write or copy the file again"
            ) from error


def file_identity(handle: int) -> tuple[int, int]:
    """Return size and time of an open file: what a change of it changes."""
    status = os.fstat(handle)
    return status.st_size, status.st_mtime_ns
