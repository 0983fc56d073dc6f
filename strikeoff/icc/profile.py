"""Profiles as header and tags: reading with every bound checked, writing with the same bytes every time."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from strikeoff.base.errors import InputError
from strikeoff.icc.header import (
    HEADER_SIZE,
    ID_BLANKS,
    Header,
    decode_header,
    encode_header,
    signature,
    signature_bytes,
)
from strikeoff.icc.layout import Layout, padded, part
from strikeoff.icc.tags.registry import decode_tag

_COUNT = Layout(("count", "I"))
_ENTRY = Layout(("signature", "4s"), ("offset", "I"), ("size", "I"))
_TABLE_START = HEADER_SIZE + _COUNT.size


@dataclass(frozen=True)
class Profile:
    """An ICC profile.

    Attributes
    ----------
    header : Header
    tags : mapping of str to bytes
        Tag data by signature, in file order; undecoded, so that unknown tags survive.
    """

    header: Header
    tags: Mapping[str, bytes]

    def decode(self, name: str) -> Any:
        """Return the record of one tag.

        Raises
        ------
        InputError
            When the tag is missing, of an unsupported type or damaged.
        """
        if name not in self.tags:
            raise InputError("profile lacks a tag", where=name, found=", ".join(self.tags))
        return decode_tag(self.tags[name], name)


def read_profile(data: bytes) -> Profile:
    """Return the profile in some bytes; bytes after its stated size are left alone.

    Raises
    ------
    InputError
        When the data are no profile, truncated, or the tag table has entries that repeat, overlap in part
        or point outside.
    """
    header, size = decode_header(data)
    data = part(data, 0, size, "header size")
    count = _COUNT.unpack(data, HEADER_SIZE, "tag table")["count"]
    part(data, _TABLE_START, count * _ENTRY.size, "tag table")
    first_free = _TABLE_START + count * _ENTRY.size
    extents: dict[tuple[int, int], bytes] = {}
    tags: dict[str, bytes] = {}
    for index in range(count):
        entry = _ENTRY.unpack(data, _TABLE_START + index * _ENTRY.size, "tag table")
        name, extent = signature(entry["signature"]), (entry["offset"], entry["size"])
        if name in tags:
            raise InputError("tag appears twice", where=name)
        if entry["offset"] < first_free:
            raise InputError("tag lies over the tag table", where=name, found=f"offset {entry['offset']}")
        if extent not in extents:
            extents[extent] = part(data, *extent, name)
        tags[name] = extents[extent]
    _check_overlaps(extents, tags)
    return Profile(header, MappingProxyType(tags))


def write_profile(profile: Profile) -> bytes:
    """Return a profile's bytes: tags 4-byte aligned in the order given, equal data stored once.

    The profile ID is the MD5 of clause 7.2.18 from version 4 on, and zero before. The same profile gives
    the same bytes.
    """
    position = _TABLE_START + len(profile.tags) * _ENTRY.size
    table = _COUNT.pack(count=len(profile.tags))
    offsets: dict[bytes, int] = {}
    blocks: list[bytes] = []
    for name, tag in profile.tags.items():
        if tag not in offsets:
            offsets[tag] = position
            blocks.append(padded(tag))
            position += len(blocks[-1])
        table += _ENTRY.pack(signature=signature_bytes(name), offset=offsets[tag], size=len(tag))
    rest = table + b"".join(blocks)
    head = encode_header(profile.header, position, bytes(16))
    if profile.header.major >= 4:
        head = encode_header(profile.header, position, profile_id(head + rest))
    return head + rest


def profile_id(data: bytes) -> bytes:
    """Return the MD5 that identifies a version 4 profile (ICC.1:2022 clause 7.2.18)."""
    blank = bytearray(data)
    for start, end in ID_BLANKS:
        blank[start:end] = bytes(end - start)
    return hashlib.md5(blank, usedforsecurity=False).digest()


def _check_overlaps(extents: Mapping[tuple[int, int], bytes], tags: Mapping[str, bytes]) -> None:
    end = 0
    for offset, size in sorted(extents):
        if size and offset < end:
            owner = next(name for name, tag in tags.items() if tag is extents[offset, size])
            raise InputError("tag overlaps another in part", where=owner, found=f"offset {offset}")
        end = max(end, offset + size)
