"""Large PNG pictures as band sources: unpacked as far as is asked for, never held."""

from __future__ import annotations

import os
import threading
import zlib
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.records import FALLBACK_DPI
from strikeoff.base.errors import InputError
from strikeoff.base.files import storage_errors
from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster.bands import Band, check_rows

_BLOCK_BYTES = 16 << 20
_PIECE_BYTES = 1 << 18


@dataclass(frozen=True)
class _Mark:
    """A place to go on from: the unpacker there, input not yet used, where more lies, the row above."""

    unpacker: Any
    rest: bytes
    chunk: int
    at: int
    above: NDArray[np.uint8]


@dataclass(frozen=True)
class PngSource:
    """Rows of a PNG without interlacing, 8 or 16 bits; see `BandSource`.

    Attributes
    ----------
    path : str
        The file.
    height, width, channels, bits : int
        As the header says; indexed pictures have one channel.
    chunks : tuple of tuple of int
        Offset and length of the data in each image data chunk.
    """

    path: str
    height: int
    width: int
    channels: int
    bits: int
    chunks: tuple[tuple[int, int], ...]
    _marks: dict[int, _Mark] = field(default_factory=dict, compare=False, repr=False)
    _kept: list[tuple[int, Band]] = field(default_factory=list, compare=False, repr=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, compare=False, repr=False)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint8 if self.bits == 8 else np.uint16)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch (across, along) [mm]; the artwork record knows the true one."""
        return MM_PER_INCH / FALLBACK_DPI, MM_PER_INCH / FALLBACK_DPI

    @property
    def row_bytes(self) -> int:
        """Bytes of a row, its filter number left out."""
        return self.width * self.channels * self.bits // 8

    @property
    def block_rows(self) -> int:
        """Rows that are unpacked together."""
        return max(1, min(self.height, _BLOCK_BYTES // (self.row_bytes + 1)))

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        band = np.empty((y1 - y0, self.width, self.channels), self.dtype)
        size = self.block_rows
        for block in range(y0 // size, -(-y1 // size)):
            top = block * size
            start, stop = max(y0, top), min(y1, top + size)
            band[start - y0 : stop - y0] = self._block(block)[start - top : stop - top]
        return band

    def _block(self, block: int) -> Band:
        with self._lock:
            if self._kept and self._kept[0][0] == block:
                return self._kept[0][1]
            # From the nearest place that was passed before; one is left at the start of each block.
            known = max((at for at in self._marks if at <= block), default=None)
            if known is None:
                known = 0
                self._marks[0] = _Mark(zlib.decompressobj(), b"", 0, 0, np.zeros(self.row_bytes, np.uint8))
            for at in range(known, block + 1):
                rows = self._unpacked(at)
            samples = rows.view(np.dtype(">u2")) if self.bits == 16 else rows
            pixels = samples.reshape(len(rows), self.width, self.channels).astype(self.dtype)
            self._kept[:] = [(block, pixels)]
            return pixels

    def _unpacked(self, block: int) -> NDArray[np.uint8]:
        from strikeoff.artwork.kernels import unfilter

        mark = self._marks[block]
        count = min(self.block_rows, self.height - block * self.block_rows)
        unpacker, rest, chunk, at = mark.unpacker.copy(), mark.rest, mark.chunk, mark.at
        wanted = count * (self.row_bytes + 1)
        packed = bytearray()
        with storage_errors(self.path), open(self.path, "rb", buffering=0) as stream:
            while len(packed) < wanted:
                if not rest:
                    rest, chunk, at = self._more(stream.fileno(), chunk, at)
                try:
                    packed += unpacker.decompress(rest, wanted - len(packed))
                except zlib.error as error:
                    raise self._damaged(block, str(error)) from error
                rest = unpacker.unconsumed_tail
                if unpacker.eof and len(packed) < wanted:
                    raise self._damaged(block, "the data end too early")
        rows = np.frombuffer(packed, np.uint8).reshape(count, self.row_bytes + 1)
        plain = np.empty((count, self.row_bytes), np.uint8)
        bad = unfilter(rows, mark.above, self.channels * self.bits // 8, plain)
        if bad >= 0:
            raise self._damaged(block, f"row {block * self.block_rows + bad} has filter {rows[bad, 0]}")
        if block * self.block_rows + count < self.height:
            self._marks[block + 1] = _Mark(unpacker, rest, chunk, at, plain[-1].copy())
        return plain

    def _more(self, handle: int, chunk: int, at: int) -> tuple[bytes, int, int]:
        while chunk < len(self.chunks) and at >= self.chunks[chunk][1]:
            chunk, at = chunk + 1, 0
        if chunk == len(self.chunks):
            raise InputError("picture is cut off", path=self.path, where="IDAT")
        offset, length = self.chunks[chunk]
        data = os.pread(handle, min(_PIECE_BYTES, length - at), offset + at)
        if not data:
            raise InputError("picture is cut off", path=self.path, where="IDAT", found=f"byte {offset + at}")
        return data, chunk, at + len(data)

    def _damaged(self, block: int, found: str) -> InputError:
        return InputError(
            "picture is damaged and cannot be decoded",
            path=self.path,
            where=f"rows from {block * self.block_rows}",
            found=found[:200],
            advice="Ask for the file again, or open and save it in the program that made it",
        )
