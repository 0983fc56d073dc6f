"""The samples of a TIFF page as a band source: strips or tiles are decoded when their rows are asked for."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.decoded import decoding
from strikeoff.artwork.records import FALLBACK_DPI
from strikeoff.base.errors import InputError
from strikeoff.base.files import storage_errors
from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster.bands import Band, check_rows


@dataclass(frozen=True)
class TiffSource:
    """The samples of one TIFF page, read in bands; see `BandSource`."""

    path: str
    height: int
    width: int
    channels: int
    dtype: np.dtype[Any]
    segment_height: int
    segment_width: int
    planar: bool
    offsets: tuple[int, ...]
    counts: tuple[int, ...]
    decode: Callable[[bytes, int], NDArray[Any]]
    raw_dtype: np.dtype[Any] | None
    _last: list[tuple[int, Band]] = field(default_factory=list, compare=False, repr=False)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch (across, along) [mm]; the artwork record knows the true one."""
        return MM_PER_INCH / FALLBACK_DPI, MM_PER_INCH / FALLBACK_DPI

    @property
    def across(self) -> int:
        """Segments side by side."""
        return -(-self.width // self.segment_width)

    @property
    def down(self) -> int:
        """Segments one below the other."""
        return -(-self.height // self.segment_height)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        band = np.empty((y1 - y0, self.width, self.channels), self.dtype)
        with storage_errors(self.path), open(self.path, "rb", buffering=0) as stream:
            for stripe in range(y0 // self.segment_height, -(-y1 // self.segment_height)):
                top = stripe * self.segment_height
                start, stop = max(y0, top), min(y1, top + self.segment_height)
                target = band[start - y0 : stop - y0]
                if self.raw_dtype is not None:
                    self._read_raw(stream.fileno(), stripe, start - top, target)
                else:
                    target[...] = self._stripe(stream.fileno(), stripe)[start - top : stop - top]
        return band

    def _read_raw(self, handle: int, stripe: int, skip: int, target: Band) -> None:
        assert self.raw_dtype is not None
        samples = 1 if self.planar else self.channels
        row = self.width * samples * self.dtype.itemsize
        for plane in range(self.channels if self.planar else 1):
            index = plane * self.down + stripe
            data = self._bytes(handle, self.offsets[index] + skip * row, len(target) * row, index)
            rows = np.frombuffer(data, self.raw_dtype).reshape(len(target), self.width, samples)
            if self.planar:
                target[..., plane] = rows[..., 0]
            else:
                target[...] = rows

    def _stripe(self, handle: int, stripe: int) -> Band:
        # The newest stripe is kept, since bands seldom end where strips and tiles do. Replacing the
        # list's content in one step keeps this safe from several threads.
        kept = self._last[:1]
        if kept and kept[0][0] == stripe:
            return kept[0][1]
        rows = min(self.segment_height, self.height - stripe * self.segment_height)
        result = np.empty((rows, self.width, self.channels), self.dtype)
        for plane in range(self.channels if self.planar else 1):
            for column in range(self.across):
                index = (plane * self.down + stripe) * self.across + column
                data = self._bytes(handle, self.offsets[index], self.counts[index], index)
                left = column * self.segment_width
                right = min(self.width, left + self.segment_width)
                piece = self._decoded(data, index, rows, right - left)
                if self.planar:
                    result[:, left:right, plane] = piece[..., 0]
                else:
                    result[:, left:right] = piece
        self._last[:] = [(stripe, result)]
        return result

    def _decoded(self, data: bytes, index: int, rows: int, columns: int) -> NDArray[Any]:
        where = f"strip or tile {index}"
        samples = 1 if self.planar else self.channels
        with decoding(self.path, where):
            piece = self.decode(data, index)
            if piece.shape[0] < rows or piece.shape[1] < columns or piece.shape[2] != samples:
                raise InputError(
                    "picture is damaged: too few pixels",
                    path=self.path,
                    where=where,
                    found=piece.shape,
                    expected=(rows, columns, samples),
                )
        return piece[:rows, :columns]

    def _bytes(self, handle: int, offset: int, count: int, index: int) -> bytes:
        parts, got = [], 0
        while got < count:
            part = os.pread(handle, count - got, offset + got)
            if not part:
                raise InputError(
                    "picture is cut off", path=self.path, where=f"strip or tile {index}", found=f"{got} bytes"
                )
            parts.append(part)
            got += len(part)
        return b"".join(parts)
