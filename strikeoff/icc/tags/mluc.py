"""multiLocalizedUnicodeType (ICC.1:2022 clause 10.15)."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.base.errors import InputError
from strikeoff.icc.layout import TAG_HEAD, Layout, part, tag_body, tag_bytes

KIND = b"mluc"

_HEAD = Layout(("count", "I"), ("record_size", "I"))
_RECORD = Layout(("language", "2s"), ("country", "2s"), ("length", "I"), ("offset", "I"))

#: Strings may share bytes; a file whose strings add up to more than this many times its size is hostile.
_SHARING = 8


@dataclass(frozen=True)
class Localised:
    """Texts by language and country, such as ``("en", "US")``; the first is the default."""

    texts: tuple[tuple[str, str, str], ...]

    @property
    def text(self) -> str:
        """The first text; empty when there is none."""
        return self.texts[0][2] if self.texts else ""


def decode(data: bytes, where: str) -> Localised:
    """Return the texts."""
    body = tag_body(data, KIND, where)
    head = _HEAD.unpack(body, 0, where)
    if head["record_size"] != _RECORD.size:
        raise InputError("bad record size", where=where, found=head["record_size"], expected=_RECORD.size)
    part(body, _HEAD.size, head["count"] * _RECORD.size, where)
    texts = []
    total = 0
    for index in range(head["count"]):
        record = _RECORD.unpack(body, _HEAD.size + index * _RECORD.size, where)
        total += record["length"]
        if total > _SHARING * len(data):
            raise InputError("texts are longer than the tag can hold", where=where, found=total)
        words = part(data, record["offset"], record["length"], where)
        text = words.decode("utf-16-be", "replace")
        texts.append((record["language"].decode("latin-1"), record["country"].decode("latin-1"), text))
    return Localised(tuple(texts))


def encode(record: Localised) -> bytes:
    """Return the tag's data; each text is stored after the records, in order."""
    offset = TAG_HEAD.size + _HEAD.size + len(record.texts) * _RECORD.size
    records, strings = b"", b""
    for language, country, text in record.texts:
        words = text.encode("utf-16-be")
        records += _RECORD.pack(
            language=language.encode("ascii"),
            country=country.encode("ascii"),
            length=len(words),
            offset=offset + len(strings),
        )
        strings += words
    return tag_bytes(KIND, _HEAD.pack(count=len(record.texts), record_size=_RECORD.size) + records + strings)
