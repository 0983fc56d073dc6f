"""profileSequenceDescType (ICC.1:2022 clause 10.21): what a device link was made from; written only."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.icc.header import signature_bytes
from strikeoff.icc.layout import Layout, tag_bytes
from strikeoff.icc.tags import desc, mluc

KIND = b"pseq"

_COUNT = Layout(("count", "I"))
_HEAD = Layout(("manufacturer", "4s"), ("model", "4s"), ("attributes", "Q"), ("technology", "4s"))


@dataclass(frozen=True)
class SequenceEntry:
    """One profile of the sequence: signatures as in its header, descriptions as tag data.

    ``texts`` holds the data of two description tags: of the device's maker and of its model.
    """

    manufacturer: str
    model: str
    attributes: int
    technology: str
    texts: tuple[bytes, bytes]


@dataclass(frozen=True)
class Sequence:
    """The profiles in the order in which colours pass them."""

    entries: tuple[SequenceEntry, ...]


def plain_text(words: str, major_version: int) -> bytes:
    """Return a description's data in the type of a major version."""
    if major_version >= 4:
        return mluc.encode(mluc.Localised((("en", "US", words),)))
    return desc.encode(desc.TextDescription(words, "" if words.isascii() else words))


def encode(record: Sequence) -> bytes:
    """Return the tag's data."""
    data = _COUNT.pack(count=len(record.entries))
    for entry in record.entries:
        data += _HEAD.pack(
            manufacturer=signature_bytes(entry.manufacturer),
            model=signature_bytes(entry.model),
            attributes=entry.attributes,
            technology=signature_bytes(entry.technology),
        )
        data += b"".join(entry.texts)
    return tag_bytes(KIND, data)
