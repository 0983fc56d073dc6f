"""XYZType: XYZ values in s15Fixed16 (ICC.1:2022 clause 10.31)."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.base.errors import InputError
from strikeoff.icc.encoding import FloatArray, from_s15fixed16, s15fixed16
from strikeoff.icc.layout import numbers, tag_body, tag_bytes

KIND = b"XYZ "


@dataclass(frozen=True)
class Xyz:
    """XYZ values, shape ``(n, 3)``, n 1 or more."""

    values: FloatArray


def decode(data: bytes, where: str) -> Xyz:
    """Return the values; InputError when there is none."""
    body = tag_body(data, KIND, where)
    count = len(body) // 12
    if not count:
        raise InputError("no XYZ value", where=where)
    return Xyz(from_s15fixed16(numbers(body, 0, 3 * count, ">i4", where)).reshape(count, 3))


def encode(record: Xyz) -> bytes:
    """Return the tag's data."""
    return tag_bytes(KIND, s15fixed16(record.values))
