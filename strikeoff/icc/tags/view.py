"""viewingConditionsType (ICC.1:2022 clause 10.30): the light under which the colours are meant."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.icc.encoding import FloatArray, from_s15fixed16, s15fixed16
from strikeoff.icc.layout import Layout, numbers, tag_body, tag_bytes

KIND = b"view"

#: Standard illuminant encodings of ICC.1:2022 table 31.
ILLUMINANTS = {"D50": 1, "D65": 2, "D93": 3, "FL2": 4, "D55": 5, "A": 6, "E": 7, "FL8": 8}

_KIND_FIELD = Layout(("illuminant", "I"))


@dataclass(frozen=True)
class ViewingConditions:
    """Light and surround, absolute XYZ [cd/m2], shape ``(3,)`` each, and the light's number; 0 is unknown."""

    illuminant_xyz: FloatArray
    surround_xyz: FloatArray
    illuminant: int


def decode(data: bytes, where: str) -> ViewingConditions:
    """Return the viewing conditions."""
    body = tag_body(data, KIND, where)
    values = from_s15fixed16(numbers(body, 0, 6, ">i4", where))
    return ViewingConditions(values[:3], values[3:], _KIND_FIELD.unpack(body, 24, where)["illuminant"])


def encode(record: ViewingConditions) -> bytes:
    """Return the tag's data."""
    colours = s15fixed16([*record.illuminant_xyz, *record.surround_xyz])
    return tag_bytes(KIND, colours + _KIND_FIELD.pack(illuminant=record.illuminant))
