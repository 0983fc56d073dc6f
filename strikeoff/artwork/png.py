"""PNG pictures: small ones are decoded in one piece by libpng, large ones in bands."""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import BinaryIO

import numpy as np

from strikeoff.artwork.decoded import Decoded, check_whole_size, decoding, plausible_dpi
from strikeoff.artwork.pixels import MappedSource, through_palette
from strikeoff.artwork.png_source import PngSource
from strikeoff.artwork.records import Kind
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes, storage_errors
from strikeoff.base.problems import Problem
from strikeoff.raster.bands import ArraySource, BandSource

_MAX_BYTES = 4 << 30
# From here rows are unpacked as they are asked for. [bytes]
_LARGE_BYTES = 256 << 20
_MAX_SIDE = 1 << 24
_MAX_CHUNKS = 4_000_000
_MAX_PROFILE_BYTES = 64 << 20
# No deflate stream holds more than 1032 bytes to the byte.
_DEFLATE_LIMIT = 1032
_SRGB_GAMMA = 45455
_INDEXED = 3
_SAMPLES = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_TOLD = {b"iCCP", b"gAMA", b"pHYs", b"PLTE", b"tRNS"}


def read_png(path: str) -> Decoded:
    """Decode a PNG of any type; 16 bits stay 16, palettes become RGB, fewer than 8 bits become 8.

    Raises
    ------
    InputError
        When it is cut off, damaged, or larger than its bytes can hold.

    References
    ----------
    W3C, Portable Network Graphics (PNG) Specification (Third Edition), clauses 5 and 11; ISO/IEC 15948.
    """
    size = Path(path).stat().st_size
    with storage_errors(path), open(path, "rb") as stream:
        width, height, depth, kind_code, is_woven = _header(stream.read(33), path)
        chunks = _chunks(stream, size)
        bodies = [
            (name, _body(stream, offset, length, name)) for name, offset, length in chunks if name != b"IDAT"
        ]
    if height * ((width * _SAMPLES[kind_code] * depth + 7) // 8) > _DEFLATE_LIMIT * size:
        raise InputError(
            "PNG states more pixels than its bytes can hold",
            path=path,
            where="IHDR",
            found=f"{width} x {height} pixels in {size} bytes",
        )
    picture = tuple((offset, length) for name, offset, length in chunks if name == b"IDAT")
    is_large = height * width * _SAMPLES[kind_code] * depth // 8 > _LARGE_BYTES
    if is_large and depth >= 8 and not is_woven:
        source = _in_bands(path, size, (width, height, depth, kind_code), picture, dict(bodies))
    else:
        source = _whole(path, width, height)
    problems: list[Problem] = []
    profile: bytes | None = None
    says_srgb = False
    dpi: tuple[float, float] | None = None
    ended = False
    for name, body in bodies:
        if name == b"iCCP":
            profile = _profile(body, problems)
        elif name == b"sRGB":
            says_srgb = True
        elif name == b"gAMA" and len(body) == 4 and abs(int.from_bytes(body, "big") - _SRGB_GAMMA) > 500:
            problems.append(
                Problem(
                    "warning",
                    "gAMA",
                    "an encoding other than sRGB is stated without a profile and not used",
                    found=f"{int.from_bytes(body, 'big') / 1e5:g}",
                    expected="1/2.2",
                    advice="Save with an embedded profile",
                )
            )
        elif name == b"cICP":
            problems.append(Problem("warning", "cICP", "video colour code is not used"))
        elif name == b"acTL":
            problems.append(Problem("warning", "acTL", "animation: the first picture is taken"))
        elif name == b"pHYs" and len(body) == 9 and body[8] == 1:
            dpi = plausible_dpi(*(int.from_bytes(body[i : i + 4], "big") * 0.0254 for i in (0, 4)))
        elif name == b"IEND":
            ended = True
    if not ended:
        problems.append(Problem("warning", "PNG", "the end chunk is missing; the pixels are complete"))
    kind: Kind = "grey" if source.channels in (1, 2) else "rgb"
    return Decoded(
        source=source,
        kind=kind,
        alpha="straight" if source.channels in (2, 4) else "none",
        profile=profile,
        says_srgb=says_srgb,
        dpi=dpi,
        problems=tuple(problems),
    )


def _whole(path: str, width: int, height: int) -> ArraySource:
    import imagecodecs

    check_whole_size(width, height, path, "Save it as TIFF, or without interlacing")
    data = read_bytes(path, _MAX_BYTES)
    with decoding(path, "PNG"):
        array = np.asarray(imagecodecs.png_decode(data))
    return ArraySource(array.reshape(height, width, -1))


def _in_bands(
    path: str,
    size: int,
    shape: tuple[int, int, int, int],
    picture: tuple[tuple[int, int], ...],
    bodies: dict[bytes, bytes],
) -> BandSource:
    width, height, depth, kind_code = shape
    if not picture or sum(picture[-1]) > size or width > _MAX_SIDE or height > _MAX_SIDE:
        raise InputError(
            "PNG is cut off or its size is out of bounds",
            path=path,
            where="IDAT",
            found=f"{width} x {height} pixels in {size} bytes",
        )
    source = PngSource(path, height, width, _SAMPLES[kind_code], depth, picture)
    if kind_code != _INDEXED:
        return source
    colours = np.frombuffer(bodies.get(b"PLTE", b""), np.uint8)
    if len(colours) % 3 or not 3 <= len(colours) <= 768:
        raise InputError("palette of the wrong size", path=path, where="PLTE", found=len(colours))
    palette = np.zeros((256, 3), np.uint8)
    palette[: len(colours) // 3] = colours.reshape(-1, 3)
    if b"tRNS" in bodies:
        cover = np.frombuffer(bodies[b"tRNS"][:256], np.uint8)
        palette = np.concatenate([palette, np.full((256, 1), 255, np.uint8)], axis=1)
        palette[: len(cover), 3] = cover
    channels = palette.shape[1]
    return MappedSource(
        source, lambda band: through_palette(band, palette), channels, np.dtype(np.uint8), source.pitch_mm
    )


def _header(data: bytes, path: str) -> tuple[int, int, int, int, bool]:
    if len(data) < 33 or data[12:16] != b"IHDR":
        raise InputError("PNG is cut off", path=path, where="IHDR", found=f"{len(data)} bytes")
    width, height = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    if data[25] not in _SAMPLES or data[24] not in (1, 2, 4, 8, 16):
        raise InputError(
            "PNG of an unknown kind", path=path, where="IHDR", found=f"type {data[25]}, {data[24]} bits"
        )
    if width < 1 or height < 1:
        raise InputError("picture is empty", path=path, found=f"{width} x {height} pixels")
    return width, height, data[24], data[25], data[28] != 0


def _chunks(stream: BinaryIO, size: int) -> list[tuple[bytes, int, int]]:
    """Return name, place and length of each chunk, up to where the file is cut off."""
    found: list[tuple[bytes, int, int]] = []
    at = 8
    while at + 12 <= size and len(found) < _MAX_CHUNKS:
        stream.seek(at)
        head = stream.read(8)
        length = int.from_bytes(head[:4], "big")
        if at + 12 + length > size:
            break
        found.append((head[4:8], at + 8, length))
        at += 12 + length
    return found


def _body(stream: BinaryIO, offset: int, length: int, name: bytes) -> bytes:
    if name not in _TOLD:
        return b""
    stream.seek(offset)
    return stream.read(min(length, _MAX_PROFILE_BYTES))


def _profile(body: bytes, problems: list[Problem]) -> bytes | None:
    packed = body.partition(b"\0")[2][1:]
    unpacker = zlib.decompressobj()
    try:
        profile = unpacker.decompress(packed, _MAX_PROFILE_BYTES)
    except zlib.error as error:
        problems.append(Problem("warning", "iCCP", "profile is damaged and ignored", found=str(error)))
        return None
    if unpacker.unconsumed_tail:
        problems.append(Problem("warning", "iCCP", "profile is too large and ignored"))
        return None
    return profile
