"""A condition in one file: a ZIP of JSON, plain arrays, the readings and the profiles.

Members stand in fixed order with a fixed date, so that equal conditions are equal bytes.
"""

from __future__ import annotations

import io
import struct
import tokenize
import zipfile
import zlib
from pathlib import Path

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes, write_bytes
from strikeoff.condition.members import condition_from_members, condition_members
from strikeoff.condition.record import Condition

_DATE = (1980, 1, 1, 0, 0, 0)
_LIMIT = 256 << 20
_MEMBERS = 64
_DAMAGE = (
    KeyError,
    ValueError,
    TypeError,
    IndexError,
    EOFError,
    zipfile.BadZipFile,
    NotImplementedError,
    zlib.error,
    tokenize.TokenError,
    SyntaxError,
    RecursionError,
    AttributeError,
    struct.error,
)


def condition_bytes(condition: Condition) -> bytes:
    """Return the bytes of a condition file."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in condition_members(condition).items():
            entry = zipfile.ZipInfo(name, _DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, data)
    return out.getvalue()


def write_condition(path: str | Path, condition: Condition) -> str:
    """Write a condition file whole or not at all; return its digest."""
    data = condition_bytes(condition)
    write_bytes(path, data)
    return digest_bytes(data)


def _found(data: bytes) -> str:
    """Return what bytes are that are no condition."""
    if data[:4] == b"PK\x03\x04":
        return "an archive that is cut off, changed or of another kind"
    if data[36:40] == b"acsp":
        return "an ICC profile"
    line = data.split(b"\n", 1)[0][:32].strip()
    if line.isascii() and line.decode().isprintable() and line:
        return f"text that begins with '{line.decode()}'"
    return f"a file that begins with {data[:12]!r}" if data else "an empty file"


def read_condition(path: str | Path) -> tuple[Condition, str]:
    """Read a condition file; return the condition and the file's digest.

    Raises
    ------
    StorageError
        When the file cannot be read.
    InputError
        When it is not a condition, damaged, or made by a later version.
    """
    data = read_bytes(path, _LIMIT)
    try:
        return condition_from_members(_unpacked(data)), digest_bytes(data)
    except InputError as error:
        error.path = error.path or str(path)
        raise
    except _DAMAGE as error:
        raise InputError(
            "not a condition file, or damaged",
            path=path,
            found=_found(data),
            expected="a file written by 'condition build'",
            advice="Build the condition again from its readings",
        ) from error


def _unpacked(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        entries = archive.infolist()
        if len(entries) > _MEMBERS or sum(entry.file_size for entry in entries) > _LIMIT:
            raise InputError("condition file unpacks to too much", expected=f"at most {_LIMIT} bytes")
        return {entry.filename: archive.read(entry) for entry in entries}
