"""Layered pictures: the merged picture as a band source, its rows decoded when they are asked for."""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.decoded import Decoded, NamedChannel, decoding, plausible_dpi
from strikeoff.artwork.image_resources import ImageResources, parse_resources
from strikeoff.artwork.pixels import MappedSource, through_palette
from strikeoff.artwork.records import CHANNELS, FALLBACK_DPI, Kind
from strikeoff.artwork.samples import codes_of, lab_codes
from strikeoff.base.errors import InputError
from strikeoff.base.files import storage_errors
from strikeoff.base.problems import Problem
from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster.bands import Band, BandSource, check_rows

_BITMAP, _GREY, _INDEXED, _DUOTONE = 0, 1, 2, 8
_KINDS: dict[int, Kind] = {0: "grey", 1: "grey", 2: "grey", 3: "rgb", 4: "cmyk", 8: "grey", 9: "lab"}
_MODES = {7: "multichannel"}
_RAW, _RLE = 0, 1
_MOST_RESOURCES = 256 << 20
_MAX_CHANNELS = 56
_MAX_SIDE = {1: 30_000, 2: 300_000}


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


def read_psd(path: str) -> Decoded:
    """Open the merged picture of a layered file, large ones (version 2) too.

    Raises
    ------
    InputError
        When it is damaged, cut off, saved without a merged picture, or of a kind that is no artwork.

    References
    ----------
    The published description of the format (header, resources 1005-1077, image data).
    """
    with storage_errors(path), open(path, "rb") as stream:
        size = Path(path).stat().st_size
        version, channels, height, width, bits, mode = _header(stream, path)
        palette = _block(stream, path, size, 4, _MOST_RESOURCES)
        resources = parse_resources(_block(stream, path, size, 4, _MOST_RESOURCES))
        has_transparency = _layers(stream, path, size, 4 if version == 1 else 8)
        if not resources.has_picture:
            raise InputError(
                "layered picture without a merged one",
                path=path,
                where="resource 1057",
                advice="Save it again with maximum compatibility, or as TIFF",
            )
        source = _source(stream, path, size, (version, channels, height, width, bits))
    kind = _KINDS[mode]
    colours = 1 if mode == _INDEXED else CHANNELS[kind]
    if channels < colours:
        raise InputError("too few channels", path=path, where="header", found=channels, expected=colours)
    problems: list[Problem] = []
    named = _named(resources, channels - colours, colours, has_transparency, problems)
    if mode == _DUOTONE:
        problems.append(
            Problem("warning", "PSD", "duotone is read as its grey picture", advice="Convert it to RGB")
        )
    if bits == 32:
        problems.append(
            Problem("warning", "PSD", "samples below 0 or above 1 are cut", "32-bit float", "0-1")
        )
    plain = _codes(source, kind)
    if mode == _INDEXED:
        kind = "rgb"
        plain, named = _through(plain, palette, path), ()
    return Decoded(
        source=plain,
        kind=kind,
        alpha="matted" if has_transparency and channels > colours and mode != _INDEXED else "none",
        # Bits count ink in a bitmap; CMYK is stored as what is left of white.
        inverted=mode == _BITMAP or kind == "cmyk",
        profile=resources.profile,
        dpi=None if resources.dpi is None else plausible_dpi(*resources.dpi),
        named=named,
        problems=tuple(problems),
    )


def _header(stream: BinaryIO, path: str) -> tuple[int, int, int, int, int, int]:
    data = stream.read(26)
    if len(data) < 26:
        raise InputError("layered picture is cut off", path=path, where="header", found=f"{len(data)} bytes")
    version, channels, height, width, bits, mode = struct.unpack(">4xH6xHIIHH", data)
    if version not in (1, 2):
        raise InputError("unknown version", path=path, where="header", found=version, expected="1 or 2")
    most = _MAX_SIDE[version]
    if not (1 <= width <= most and 1 <= height <= most and 1 <= channels <= _MAX_CHANNELS):
        raise InputError(
            "picture size out of bounds",
            path=path,
            where="header",
            found=f"{width} x {height} pixels, {channels} channels",
            expected=f"1 to {most} a side, 1 to {_MAX_CHANNELS} channels",
        )
    if mode not in _KINDS or bits not in (1, 8, 16, 32) or (bits == 1) != (mode == _BITMAP):
        raise InputError(
            "layered picture of a kind that is not read",
            path=path,
            where="header",
            found=f"{_MODES.get(mode, f'mode {mode}')}, {bits} bits",
            expected="grey, indexed, RGB, CMYK or Lab with 8, 16 or 32 bits",
            advice="Convert it to RGB or CMYK with spot channels",
        )
    if bits == 32 and mode not in (_GREY, 3):
        raise InputError("floating-point samples in this colour mode", path=path, where="header", found=mode)
    return version, channels, height, width, bits, mode


def _length(stream: BinaryIO, path: str, size: int, digits: int) -> int:
    data = stream.read(digits)
    value = int.from_bytes(data, "big")
    if len(data) < digits or stream.tell() + value > size:
        raise InputError(
            "layered picture is cut off",
            path=path,
            where=f"byte {stream.tell()}",
            found=f"a block of {value} bytes in a file of {size}",
        )
    return value


def _block(stream: BinaryIO, path: str, size: int, digits: int, most: int) -> bytes:
    length = _length(stream, path, size, digits)
    if length > most:
        raise InputError("block is too large", path=path, found=f"{length} bytes", expected=f"at most {most}")
    return stream.read(length)


def _layers(stream: BinaryIO, path: str, size: int, digits: int) -> bool:
    """Go past the layers; return whether the first extra channel is the picture's transparency."""
    length = _length(stream, path, size, digits)
    end = stream.tell() + length
    head = stream.read(min(length, digits + 2))
    stream.seek(end)
    return len(head) == digits + 2 and int.from_bytes(head[-2:], "big", signed=True) < 0


def _source(stream: BinaryIO, path: str, size: int, shape: tuple[int, int, int, int, int]) -> PsdSource:
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


def _named(
    resources: ImageResources, extra: int, colours: int, has_transparency: bool, problems: list[Problem]
) -> tuple[NamedChannel, ...]:
    spots = resources.spots(extra)
    if has_transparency and extra:
        spots.pop(0, None)
        problems.append(
            Problem(
                "note", "PSD", "transparent places are bare cloth; elsewhere the merged picture is printed"
            )
        )
    others = extra - len(spots) - bool(has_transparency and extra)
    if others > 0:
        problems.append(
            Problem("warning", "PSD", "channels that are no spot colours are not printed", str(others))
        )
    # A spot channel is stored as what is left of white, whatever the colour mode.
    return tuple(NamedChannel(name, colours + at, True) for at, name in sorted(spots.items()))


def _codes(source: PsdSource, kind: Kind) -> BandSource:
    bits = source.bits

    def change(band: Band) -> Band:
        with decoding(source.path, "samples"):
            codes = codes_of(band, bits)
            if kind == "lab" and bits == 16:
                codes[..., :3] = lab_codes(codes[..., :3], signed=False, full_l=65535)
        return codes

    dtype = np.dtype(np.uint8 if bits <= 8 else np.uint16)
    return MappedSource(source, change, source.channels, dtype, source.pitch_mm)


def _through(source: BandSource, palette: bytes, path: str) -> MappedSource:
    if len(palette) != 768:
        raise InputError("palette of the wrong size", path=path, found=len(palette), expected=768)
    table = np.ascontiguousarray(np.frombuffer(palette, np.uint8).reshape(3, 256).T)
    return MappedSource(
        source, lambda band: through_palette(band, table), 3, np.dtype(np.uint8), source.pitch_mm
    )
