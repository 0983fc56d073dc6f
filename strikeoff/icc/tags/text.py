"""textType: 7-bit text ended by a zero byte (ICC.1:2022 clause 10.24)."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.icc.layout import tag_body, tag_bytes

KIND = b"text"


@dataclass(frozen=True)
class Text:
    """Plain text."""

    text: str


def ascii_only(text: str) -> bytes:
    r"""Return text in ASCII; other characters become backslash escapes.

    Examples
    --------
    >>> ascii_only("Grün")
    b'Gr\\xfcn'
    """
    return text.encode("ascii", "backslashreplace")


def decode(data: bytes, where: str) -> Text:
    """Return the text; bytes that are not ASCII are read as Latin-1, which real profiles use."""
    return Text(tag_body(data, KIND, where).partition(b"\0")[0].decode("latin-1"))


def encode(record: Text) -> bytes:
    """Return the tag's data."""
    return tag_bytes(KIND, ascii_only(record.text) + b"\0")
