"""Tag tables of TIFF and BigTIFF files: bytes to values and back, nothing about pixels.

References
----------
TIFF Revision 6.0, 1992, section 2 (structure) and section 16 (separated images); BigTIFF, 2007.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from typing import BinaryIO, Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError

IMAGE_WIDTH = 256
IMAGE_LENGTH = 257
BITS_PER_SAMPLE = 258
COMPRESSION = 259
PHOTOMETRIC = 262
FILL_ORDER = 266
IMAGE_DESCRIPTION = 270
STRIP_OFFSETS = 273
ORIENTATION = 274
SAMPLES_PER_PIXEL = 277
ROWS_PER_STRIP = 278
STRIP_BYTE_COUNTS = 279
X_RESOLUTION = 282
Y_RESOLUTION = 283
PLANAR_CONFIGURATION = 284
RESOLUTION_UNIT = 296
SOFTWARE = 305
PREDICTOR = 317
TILE_WIDTH = 322
INK_SET = 332
INK_NAMES = 333
NUMBER_OF_INKS = 334
EXTRA_SAMPLES = 338
SAMPLE_FORMAT = 339

NAMES = {
    value: name.title().replace("_", "")
    for name, value in list(globals().items())
    if name.isupper() and isinstance(value, int)
}

#: Written, never read here.
ICC_PROFILE = 34675

ASCII, SHORT, LONG, RATIONAL, UNDEFINED, LONG8 = 2, 3, 4, 5, 7, 16
_TYPES = {1: "u1", 2: "u1", 3: "u2", 4: "u4", 5: "u4", 6: "i1", 7: "u1", 16: "u8", 17: "i8", 18: "u8"}
_MAX_TAGS = 1024
#: Longest value of a tag that is read; tags without a name here are skipped unread.
_MAX_BYTES = {STRIP_OFFSETS: 64 << 20, STRIP_BYTE_COUNTS: 64 << 20, IMAGE_DESCRIPTION: 16 << 20}
_MAX_OTHER_BYTES = 64 << 10

Values = NDArray[np.unsignedinteger]


@dataclass(frozen=True)
class Tag:
    """A tag to be written: type code and values (a rational is two values)."""

    code: int
    kind: int
    values: Sequence[int] | Values | bytes


def tag_name(code: int) -> str:
    """Return how a tag is spoken of in a message.

    Examples
    --------
    >>> tag_name(256), tag_name(60000)
    ('tag ImageWidth (256)', 'tag 60000')
    """
    return f"tag {NAMES[code]} ({code})" if code in NAMES else f"tag {code}"


def header_bytes(big: bool, directory_offset: int = 0) -> bytes:
    """Return the little-endian file header that points at the tag table."""
    if big:
        return struct.pack("<2sHHHQ", b"II", 43, 8, 0, directory_offset)
    return struct.pack("<2sHI", b"II", 42, directory_offset)


def directory_bytes(tags: Sequence[Tag], offset: int, big: bool) -> bytes:
    """Return one tag table, with its long values behind it, to be placed at an even ``offset``."""
    inline = 8 if big else 4
    entry, count_format = ("<HHQ", "<Q") if big else ("<HHI", "<H")
    table_size = struct.calcsize(count_format) + len(tags) * (20 if big else 12) + inline
    extra = bytearray()
    table = bytearray(struct.pack(count_format, len(tags)))
    for tag in sorted(tags, key=lambda item: item.code):
        if isinstance(tag.values, bytes):
            data, count = tag.values, len(tag.values)
        else:
            data = np.asarray(tag.values, dtype="<" + _TYPES[tag.kind]).tobytes()
            count = len(tag.values) // (2 if tag.kind == RATIONAL else 1)
        table += struct.pack(entry, tag.code, tag.kind, count)
        if len(data) <= inline:
            table += data.ljust(inline, b"\0")
        else:
            table += (offset + table_size + len(extra)).to_bytes(inline, "little")
            extra += data + b"\0" * (-len(data) % 8)
    return bytes(table) + b"\0" * inline + bytes(extra)


@dataclass(frozen=True)
class Directory:
    """The first tag table of a file: values by tag code, byte order (``<`` or ``>``)."""

    values: dict[int, Values]
    order: str


def read_directory(stream: BinaryIO, size: int, path: object) -> Directory:
    """Read the first tag table of a TIFF or BigTIFF file of ``size`` bytes.

    Every length is compared with the file before anything is allocated.

    Raises
    ------
    InputError
        When it is not a TIFF file, or a table or value lies outside the file.
    """
    head = stream.read(16)
    order = {b"II": "<", b"MM": ">"}.get(head[:2])
    magic = struct.unpack(order + "H", head[2:4])[0] if order and len(head) >= 8 else 0
    if order is None or magic not in (42, 43) or (magic == 43 and len(head) < 16):
        raise InputError(
            "not a TIFF file",
            path=path,
            found=repr(head[:8]) if head else "an empty file",
            expected="II or MM and 42 or 43",
        )
    big = magic == 43
    offset = struct.unpack(order + ("Q" if big else "I"), head[8:16] if big else head[4:8])[0]
    count_size, entry_size, inline = (8, 20, 8) if big else (2, 12, 4)
    count = int.from_bytes(_piece(stream, size, offset, count_size, "tag table", path), _word(order))
    if not 1 <= count <= _MAX_TAGS:
        raise InputError("damaged tag table", path=path, found=f"{count} tags", expected=f"1 to {_MAX_TAGS}")
    table = _piece(stream, size, offset + count_size, count * entry_size, "tag table", path)
    values: dict[int, Values] = {}
    for start in range(0, len(table), entry_size):
        code, kind = struct.unpack_from(order + "HH", table, start)
        number = struct.unpack_from(order + ("Q" if big else "I"), table, start + 4)[0]
        if kind not in _TYPES or code not in NAMES:
            continue
        dtype = np.dtype(order + _TYPES[kind])
        length = number * dtype.itemsize * (2 if kind == RATIONAL else 1)
        field = table[start + entry_size - inline : start + entry_size]
        if length <= inline:
            data = field[:length]
        else:
            where = int.from_bytes(field, _word(order))
            limit = _MAX_BYTES.get(code, _MAX_OTHER_BYTES)
            data = _piece(stream, size, where, length, tag_name(code), path, limit)
        values[code] = np.frombuffer(data, dtype)
    return Directory(values, order)


def _word(order: str) -> Literal["little", "big"]:
    return "little" if order == "<" else "big"


def _piece(
    stream: BinaryIO,
    size: int,
    offset: int,
    length: int,
    what: str,
    path: object,
    limit: int = _MAX_OTHER_BYTES,
) -> bytes:
    if offset + length > size or length > limit:
        raise InputError(
            "truncated or damaged TIFF: value lies beyond the end of the file or is too long",
            path=path,
            where=what,
            found=f"bytes {offset} to {offset + length}",
            expected=f"within {size} bytes, at most {limit} long",
            advice="Write or copy the file again",
        )
    stream.seek(offset)
    data = stream.read(length)
    if len(data) < length:
        raise InputError("truncated TIFF", path=path, where=what)
    return data
