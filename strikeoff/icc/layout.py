"""Big-endian binary layouts as named fields, and bounds-checked reading."""

from __future__ import annotations

import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError


def part(data: bytes, offset: int, size: int, where: str) -> bytes:
    """Return ``size`` bytes at ``offset``.

    Raises
    ------
    InputError
        When they do not lie inside the data; nothing is allocated before the check.
    """
    if offset < 0 or size < 0 or offset + size > len(data):
        raise InputError(
            "data ends too early",
            where=where,
            found=f"{len(data)} bytes",
            expected=f"{size} bytes at offset {offset}",
            advice="The profile is truncated or damaged; get a fresh copy",
        )
    return data[offset : offset + size]


def numbers(data: bytes, offset: int, count: int, dtype: str, where: str) -> NDArray[Any]:
    """Return ``count`` numbers of a big-endian numpy type at ``offset`` as a view, size checked first."""
    return np.frombuffer(part(data, offset, count * np.dtype(dtype).itemsize, where), dtype)


class Layout:
    r"""A fixed run of named big-endian fields, each with a ``struct`` code.

    Examples
    --------
    >>> pair = Layout(("kind", "4s"), ("count", "I"))
    >>> pair.pack(kind=b"curv", count=3)
    b'curv\x00\x00\x00\x03'
    >>> pair.unpack(b"curv\x00\x00\x00\x03", 0, "here")
    {'kind': b'curv', 'count': 3}
    """

    def __init__(self, *fields: tuple[str, str]) -> None:
        self._names = tuple(name for name, _ in fields)
        self._struct = struct.Struct(">" + "".join(code for _, code in fields))
        self.size = self._struct.size

    def unpack(self, data: bytes, offset: int, where: str) -> dict[str, Any]:
        """Return the fields found at ``offset``; InputError when the data end before."""
        values = self._struct.unpack(part(data, offset, self.size, where))
        return dict(zip(self._names, values, strict=True))

    def pack(self, **values: Any) -> bytes:
        """Return the bytes of the fields."""
        return self._struct.pack(*(values[name] for name in self._names))


#: How every tag's data begin.
TAG_HEAD = Layout(("type", "4s"), ("reserved", "I"))


def tag_body(data: bytes, kind: bytes, where: str) -> bytes:
    """Return what follows the eight bytes with which every tag begins, after checking its type.

    Raises
    ------
    InputError
        When the tag is of another type or too short.
    """
    found = TAG_HEAD.unpack(data, 0, where)["type"]
    if found != kind:
        raise InputError("wrong tag type", where=where, found=repr(found), expected=repr(kind))
    return data[TAG_HEAD.size :]


def tag_bytes(kind: bytes, body: bytes) -> bytes:
    """Return a tag's data: type, four zero bytes, body."""
    return TAG_HEAD.pack(type=kind, reserved=0) + body


def padded(data: bytes) -> bytes:
    """Return the data with zero bytes added up to a multiple of four."""
    return data + bytes(-len(data) % 4)
