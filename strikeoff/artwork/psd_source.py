"""The merged picture of a layered file as a band source: its rows are decoded when they are asked for."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.decoded import decoding
from strikeoff.artwork.records import FALLBACK_DPI
from strikeoff.base.errors import InputError
from strikeoff.base.files import storage_errors
from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster.bands import Band, check_rows

_RAW, _RLE = 0, 1


@dataclass(frozen=True)
class PsdSource:
    """Planes of a merged picture as stored; see `BandSource`."""

    path: str
    height: int
    width: int
    channels: int
    bits: int
    start: int
    counts: NDArray[np.int64] | None
    offsets: NDArray[np.int64]

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type as stored."""
        return np.dtype({1: "u1", 8: "u1", 16: ">u2", 32: ">f4"}[self.bits])

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch (across, along) [mm]; the artwork record knows the true one."""
        return MM_PER_INCH / FALLBACK_DPI, MM_PER_INCH / FALLBACK_DPI

    @property
    def row_bytes(self) -> int:
        """Bytes of one row of one channel."""
        return -(-self.width * self.bits // 8)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        band = np.empty((y1 - y0, self.width, self.channels), self.dtype)
        if y0 == y1:
            return band
        with storage_errors(self.path), open(self.path, "rb", buffering=0) as stream:
            for channel in range(self.channels):
                rows = self._rows(stream.fileno(), channel, y0, y1)
                if self.bits == 1:
                    band[..., channel] = np.unpackbits(rows, axis=1, count=self.width)
                else:
                    band[..., channel] = rows.view(self.dtype)
        return band

    def _rows(self, handle: int, channel: int, y0: int, y1: int) -> NDArray[np.uint8]:
        first = channel * self.height
        if self.counts is None:
            offset = self.start + (first + y0) * self.row_bytes
            data = self._bytes(handle, offset, (y1 - y0) * self.row_bytes)
            return np.frombuffer(data, np.uint8).reshape(y1 - y0, self.row_bytes)
        import imagecodecs

        counts = self.counts[first + y0 : first + y1]
        data = self._bytes(handle, self.start + int(self.offsets[first + y0]), int(counts.sum()))
        rows = np.empty((y1 - y0, self.row_bytes), np.uint8)
        at = 0
        with decoding(self.path, f"channel {channel + 1}"):
            for row, count in enumerate(counts):
                unpacked = imagecodecs.packbits_decode(data[at : at + int(count)])
                if len(unpacked) != self.row_bytes:
                    raise InputError(
                        "picture is damaged: row of the wrong length",
                        path=self.path,
                        where=f"channel {channel + 1}, row {y0 + row}",
                        found=len(unpacked),
                        expected=self.row_bytes,
                    )
                rows[row] = np.frombuffer(unpacked, np.uint8)
                at += int(count)
        return rows

    def _bytes(self, handle: int, offset: int, count: int) -> bytes:
        parts, got = [], 0
        while got < count:
            part = os.pread(handle, count - got, offset + got)
            if not part:
                raise InputError("picture is cut off", path=self.path, found=f"{offset + got} bytes")
            parts.append(part)
            got += len(part)
        return b"".join(parts)


def merged_source(stream: BinaryIO, path: str, size: int, shape: tuple[int, int, int, int, int]) -> PsdSource:
    """Return the merged picture that begins where a stream stands.

    Parameters
    ----------
    stream : binary file
        Open at the number that says how rows are packed.
    path : str
        The file.
    size : int
        Its bytes.
    shape : tuple of int
        Version of the format, channels, height, width, bits of a sample.

    Returns
    -------
    PsdSource

    Raises
    ------
    InputError
        Rows packed in another way, too long, or not all there.
    """
    version, channels, height, width, bits = shape
    word = stream.read(2)
    code = int.from_bytes(word, "big")
    if len(word) < 2 or code not in (_RAW, _RLE):
        raise InputError(
            "merged picture is packed in a way that is not read",
            path=path,
            where=f"byte {stream.tell()}",
            found=code if len(word) == 2 else "end of file",
            expected="0 (raw) or 1 (run lengths)",
            advice="Save it again, or as TIFF",
        )
    rows = channels * height
    counts: NDArray[np.int64] | None = None
    offsets = np.zeros(0, np.int64)
    row_bytes = -(-width * bits // 8)
    if code == _RLE:
        digits = 2 if version == 1 else 4
        if stream.tell() + rows * digits > size:
            raise InputError("merged picture is cut off", path=path, where="row lengths")
        counts = np.frombuffer(stream.read(rows * digits), f">u{digits}").astype(np.int64)
        offsets = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
        total, most = int(offsets[-1]), 2 * row_bytes + 128
        if len(counts) != rows or int(counts.max()) > most:
            raise InputError(
                "row of the merged picture is longer than it can be",
                path=path,
                where=f"row {int(counts.argmax()) % height}",
                found=int(counts.max()),
                expected=f"at most {most} bytes",
            )
    else:
        total = rows * row_bytes
    start = stream.tell()
    if start + total > size:
        raise InputError(
            "merged picture is cut off", path=path, found=f"{size} bytes", expected=f"{start + total}"
        )
    return PsdSource(path, height, width, channels, bits, start, counts, offsets)
