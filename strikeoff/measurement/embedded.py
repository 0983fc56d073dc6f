"""Characterisation data that other packages carry inside ICC profiles."""

from __future__ import annotations

import importlib.metadata
import re
import struct
import zlib
from pathlib import Path

from strikeoff.base.errors import InputError, StorageError
from strikeoff.base.files import read_bytes

_MAX_PROFILE = 64 << 20
_MAX_LIBRARY = 512 << 20
_MAX_TAGS = 200
_HEADER = 128
_ZLIB_START = re.compile(rb"\x78[\x01\x5e\x9c\xda]")
_DEMO_PACKAGE = "pyvips-binary"
_DEMO_ADVICE = "pip install strikeoff[demo]"


def find_icc_profiles(data: bytes) -> list[bytes]:
    """Return every ICC profile inside some bytes, stored plainly or deflated, in order of place.

    Parameters
    ----------
    data : bytes
        A profile, a program library, any file.

    Returns
    -------
    list of bytes
        Whole profiles, each at most 64 MiB.

    References
    ----------
    ICC.1:2022, 7.2: size at byte 0, device class at 12, signature ``acsp`` at 36.
    """
    found: list[tuple[int, bytes]] = []
    for match in re.finditer(b"acsp", data):
        start = match.start() - 36
        size = _profile_size(data[max(start, 0) : start + _HEADER]) if start >= 0 else 0
        if size and start + size <= len(data):
            found.append((start, data[start : start + size]))
    view = memoryview(data)
    for match in _ZLIB_START.finditer(data):
        size = _profile_size(_inflate(view[match.start() : match.start() + 4096], _HEADER))
        if size:
            profile = _inflate(view[match.start() :], size)
            if len(profile) == size:
                found.append((match.start(), profile))
    return [profile for _, profile in sorted(found, key=lambda item: item[0])]


def _inflate(data: memoryview, limit: int) -> bytes:
    try:
        return zlib.decompressobj().decompress(data, limit)
    except zlib.error:
        return b""


def _profile_size(header: bytes) -> int:
    if len(header) < _HEADER or header[36:40] != b"acsp":
        return 0
    size = int(struct.unpack_from(">I", header)[0])
    plausible = _HEADER < size <= _MAX_PROFILE and 1 <= header[8] <= 5
    return size if plausible and re.fullmatch(rb"[A-Za-z ]{4}", header[12:16]) else 0


def targ_text(profile: bytes) -> str:
    """Return the characterisation data (tag ``targ``) of an ICC profile.

    Parameters
    ----------
    profile : bytes
        A whole profile.

    Returns
    -------
    str
        Text as stored, without the closing NUL.

    Raises
    ------
    InputError
        When the profile is damaged or has no such tag.

    References
    ----------
    ICC.1:2022, 9.2.14 (charTargetTag), 10.24 (textType).
    """
    if len(profile) < _HEADER + 4:
        raise InputError("profile is too short", found=f"{len(profile)} bytes", expected="132 or more")
    count = min(int(struct.unpack_from(">I", profile, _HEADER)[0]), _MAX_TAGS)
    for index in range(count):
        place = _HEADER + 4 + 12 * index
        if place + 12 > len(profile):
            break
        name, offset, size = struct.unpack_from(">4sII", profile, place)
        if name == b"targ":
            if size < 8 or offset + size > len(profile) or profile[offset : offset + 4] != b"text":
                raise InputError(
                    "tag targ of the profile is damaged", where=f"byte {offset}", expected="text"
                )
            return profile[offset + 8 : offset + size].rstrip(b"\0").decode("latin-1")
    raise InputError("profile carries no characterisation data", expected="tag targ")


def measured_cmyk_profile() -> bytes:
    """Return the CMYK profile with measured readings that the optional demo package carries.

    Raises
    ------
    StorageError
        When the package is not installed or holds no such profile.
    """
    try:
        files = importlib.metadata.files(_DEMO_PACKAGE) or []
    except importlib.metadata.PackageNotFoundError:
        raise StorageError(
            "package with the measured readings is not installed", path=_DEMO_PACKAGE, advice=_DEMO_ADVICE
        ) from None
    libraries = [Path(str(file.locate())) for file in files if ".so" in file.name or ".d" in file.suffix]
    for path in sorted(libraries, key=lambda item: -item.stat().st_size if item.exists() else 0):
        for profile in find_icc_profiles(read_bytes(path, _MAX_LIBRARY)):
            if profile[12:20] == b"prtrCMYK" and b"targ" in profile[_HEADER : _HEADER + 12 * _MAX_TAGS]:
                return profile
    raise StorageError(
        "package holds no CMYK profile with readings",
        path=_DEMO_PACKAGE,
        advice=f"Install it anew: {_DEMO_ADVICE}",
    )


def measured_cmyk_text() -> str:
    """Return the measured spectral CMYK readings of the optional demo package as ISO 28178-like text.

    Raises
    ------
    StorageError
        When the package is not installed or holds no such data.
    """
    return targ_text(measured_cmyk_profile())
