"""s15Fixed16ArrayType, used for the adaptation matrix `chad` (ICC.1:2022 clause 10.22)."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.icc.encoding import FloatArray, from_s15fixed16, s15fixed16
from strikeoff.icc.layout import numbers, tag_body, tag_bytes

KIND = b"sf32"


@dataclass(frozen=True)
class FixedArray:
    """Numbers, one-dimensional; a matrix lies in them row by row."""

    values: FloatArray


def decode(data: bytes, where: str) -> FixedArray:
    """Return the numbers."""
    body = tag_body(data, KIND, where)
    return FixedArray(from_s15fixed16(numbers(body, 0, len(body) // 4, ">i4", where)))


def encode(record: FixedArray) -> bytes:
    """Return the tag's data."""
    return tag_bytes(KIND, s15fixed16(record.values))
