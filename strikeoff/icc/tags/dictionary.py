"""dictType, used for the metadata tag `meta` (ICC.1:2022 clause 10.9): named texts."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.base.errors import InputError
from strikeoff.icc.layout import TAG_HEAD, Layout, padded, part, tag_body, tag_bytes

KIND = b"dict"

_HEAD = Layout(("count", "I"), ("record_size", "I"))
_RECORD = Layout(("name_at", "I"), ("name_size", "I"), ("value_at", "I"), ("value_size", "I"))
# Records may go on with places of localised names and values, which are left alone.
_RECORD_SIZES = (_RECORD.size, _RECORD.size + 8, _RECORD.size + 16)
#: Texts may share bytes; a file whose texts add up to more than this many times its size is hostile.
_SHARING = 8


@dataclass(frozen=True)
class Dictionary:
    """Names with their values, in file order."""

    entries: tuple[tuple[str, str], ...]


def decode(data: bytes, where: str) -> Dictionary:
    """Return the names and values; a value that is not there is empty."""
    body = tag_body(data, KIND, where)
    head = _HEAD.unpack(body, 0, where)
    size = head["record_size"]
    if size not in _RECORD_SIZES:
        raise InputError("bad record size", where=where, found=size, expected="16, 24 or 32")
    part(body, _HEAD.size, head["count"] * size, where)
    entries = []
    total = 0
    for index in range(head["count"]):
        record = _RECORD.unpack(body, _HEAD.size + index * size, where)
        total += record["name_size"] + record["value_size"]
        if total > _SHARING * len(data):
            raise InputError("texts are longer than the tag can hold", where=where, found=total)
        name, value = (
            part(data, record[f"{kind}_at"], record[f"{kind}_size"], where).decode("utf-16-be", "replace")
            for kind in ("name", "value")
        )
        entries.append((name, value))
    return Dictionary(tuple(entries))


def encode(record: Dictionary) -> bytes:
    """Return the tag's data; each text is stored after the records, in order, on a multiple of four."""
    at = TAG_HEAD.size + _HEAD.size + len(record.entries) * _RECORD.size
    records, texts = b"", b""
    for entry in record.entries:
        places = []
        for text in entry:
            words = text.encode("utf-16-be")
            places += [at + len(texts), len(words)]
            texts += padded(words)
        fields = ("name_at", "name_size", "value_at", "value_size")
        records += _RECORD.pack(**dict(zip(fields, places, strict=True)))
    return tag_bytes(KIND, _HEAD.pack(count=len(record.entries), record_size=_RECORD.size) + records + texts)
