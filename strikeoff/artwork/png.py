"""PNG pictures, decoded in one piece; chunks are read here, pixels by libpng."""

from __future__ import annotations

import zlib
from collections.abc import Iterator

import numpy as np

from strikeoff.artwork.decoded import Decoded, check_whole_size, decoding, plausible_dpi
from strikeoff.artwork.records import Kind
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem
from strikeoff.raster.bands import ArraySource

_MAX_BYTES = 4 << 30
_MAX_PROFILE_BYTES = 64 << 20
# No deflate stream holds more than 1032 bytes to the byte.
_DEFLATE_LIMIT = 1032
_SRGB_GAMMA = 45455


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
    import imagecodecs

    data = read_bytes(path, _MAX_BYTES)
    width, height, depth, samples = _header(data, path)
    check_whole_size(width, height, path, "Save it as TIFF, which is read in bands")
    if height * ((width * samples * depth + 7) // 8) > _DEFLATE_LIMIT * len(data):
        raise InputError(
            "PNG states more pixels than its bytes can hold",
            path=path,
            where="IHDR",
            found=f"{width} x {height} pixels in {len(data)} bytes",
        )
    with decoding(path, "PNG"):
        array = np.asarray(imagecodecs.png_decode(data))
    array = array.reshape(height, width, -1)
    problems: list[Problem] = []
    profile: bytes | None = None
    says_srgb = False
    dpi: tuple[float, float] | None = None
    ended = False
    for name, body in _chunks(data):
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
    colours = {1: "grey", 2: "grey", 3: "rgb", 4: "rgb"}
    kind: Kind = "grey" if colours[array.shape[2]] == "grey" else "rgb"
    return Decoded(
        source=ArraySource(array),
        kind=kind,
        alpha="straight" if array.shape[2] in (2, 4) else "none",
        profile=profile,
        says_srgb=says_srgb,
        dpi=dpi,
        problems=tuple(problems),
    )


def _header(data: bytes, path: str) -> tuple[int, int, int, int]:
    if len(data) < 33 or data[12:16] != b"IHDR":
        raise InputError("PNG is cut off", path=path, where="IHDR", found=f"{len(data)} bytes")
    width, height = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    samples = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}.get(data[25])
    if samples is None or data[24] not in (1, 2, 4, 8, 16):
        raise InputError(
            "PNG of an unknown kind", path=path, where="IHDR", found=f"type {data[25]}, {data[24]} bits"
        )
    return width, height, data[24], samples


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 8
    while at + 12 <= len(data):
        size = int.from_bytes(data[at : at + 4], "big")
        if at + 12 + size > len(data):
            return
        name = data[at + 4 : at + 8]
        yield name, b"" if name == b"IDAT" else data[at + 8 : at + 8 + size]
        at += 12 + size


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
