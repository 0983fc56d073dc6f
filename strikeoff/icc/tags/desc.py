"""textDescriptionType of version 2 profiles (ICC.1:2001-04 clause 6.5.17)."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.icc.layout import Layout, part, tag_body, tag_bytes
from strikeoff.icc.tags.text import ascii_only

KIND = b"desc"

_ASCII = Layout(("count", "I"))
_UNICODE = Layout(("language", "I"), ("count", "I"))
_SCRIPT = Layout(("code", "H"), ("count", "B"), ("text", "67s"))


@dataclass(frozen=True)
class TextDescription:
    """A description: ASCII, and the same in Unicode where ASCII could not say it."""

    text: str
    unicode_text: str = ""


def decode(data: bytes, where: str) -> TextDescription:
    """Return the description; a missing Unicode part, common in old files, is empty."""
    body = tag_body(data, KIND, where)
    count = _ASCII.unpack(body, 0, where)["count"]
    text = part(body, _ASCII.size, count, where).partition(b"\0")[0].decode("latin-1")
    rest = body[_ASCII.size + count :]
    if len(rest) < _UNICODE.size:
        return TextDescription(text)
    units = _UNICODE.unpack(rest, 0, where)["count"]
    words = part(rest, _UNICODE.size, 2 * units, where)
    return TextDescription(text, words.decode("utf-16-be", "replace").partition("\0")[0])


def encode(record: TextDescription) -> bytes:
    """Return the tag's data, all three parts present."""
    text = ascii_only(record.text) + b"\0"
    words = (record.unicode_text + "\0").encode("utf-16-be") if record.unicode_text else b""
    return tag_bytes(
        KIND,
        _ASCII.pack(count=len(text))
        + text
        + _UNICODE.pack(language=0, count=len(words) // 2)
        + words
        + _SCRIPT.pack(code=0, count=0, text=b""),
    )
