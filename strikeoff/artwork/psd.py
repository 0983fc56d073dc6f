"""Layered pictures as artwork: what their header and resources say of the merged picture."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import BinaryIO

import numpy as np

from strikeoff.artwork.decoded import Decoded, NamedChannel, decoding, plausible_dpi
from strikeoff.artwork.image_resources import ImageResources, parse_resources
from strikeoff.artwork.pixels import MappedSource, through_palette
from strikeoff.artwork.psd_source import PsdSource, merged_source
from strikeoff.artwork.records import CHANNELS, Kind
from strikeoff.artwork.samples import codes_of, lab_codes
from strikeoff.base.errors import InputError
from strikeoff.base.files import storage_errors
from strikeoff.base.problems import Problem
from strikeoff.raster.bands import Band, BandSource

_BITMAP, _GREY, _INDEXED, _DUOTONE = 0, 1, 2, 8
_KINDS: dict[int, Kind] = {0: "grey", 1: "grey", 2: "grey", 3: "rgb", 4: "cmyk", 8: "grey", 9: "lab"}
_MODES = {7: "multichannel"}
_MOST_RESOURCES = 256 << 20
_MAX_CHANNELS = 56
_MAX_SIDE = {1: 30_000, 2: 300_000}


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
        source = merged_source(stream, path, size, (version, channels, height, width, bits))
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
