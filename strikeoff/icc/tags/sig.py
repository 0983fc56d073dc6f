"""signatureType, used for the technology tag (ICC.1:2022 clause 10.23)."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.icc.header import signature, signature_bytes
from strikeoff.icc.layout import part, tag_body, tag_bytes

KIND = b"sig "


@dataclass(frozen=True)
class Signature:
    """A four-character code."""

    code: str


def decode(data: bytes, where: str) -> Signature:
    """Return the code."""
    return Signature(signature(part(tag_body(data, KIND, where), 0, 4, where)))


def encode(record: Signature) -> bytes:
    """Return the tag's data."""
    return tag_bytes(KIND, signature_bytes(record.code))
