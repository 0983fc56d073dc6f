"""parametricCurveType (ICC.1:2022 clause 10.18)."""

from __future__ import annotations

from strikeoff.base.errors import InputError
from strikeoff.icc.curves import PARAMETER_COUNTS, Curve, ParametricCurve
from strikeoff.icc.encoding import from_s15fixed16, s15fixed16
from strikeoff.icc.layout import TAG_HEAD, Layout, numbers, tag_body, tag_bytes

KIND = b"para"

_HEAD = Layout(("function", "H"), ("reserved", "H"))


def decode_sized(data: bytes, where: str) -> tuple[Curve, int]:
    """Return the curve at the start of the data and how many bytes it takes."""
    body = tag_body(data, KIND, where)
    function = _HEAD.unpack(body, 0, where)["function"]
    if function >= len(PARAMETER_COUNTS):
        raise InputError("unknown curve function", where=where, found=function, expected="0 to 4")
    count = PARAMETER_COUNTS[function]
    values = from_s15fixed16(numbers(body, _HEAD.size, count, ">i4", where))
    return ParametricCurve(function, tuple(map(float, values))), TAG_HEAD.size + _HEAD.size + 4 * count


def decode(data: bytes, where: str) -> Curve:
    """Return the curve."""
    return decode_sized(data, where)[0]


def encode(curve: ParametricCurve) -> bytes:
    """Return the tag's data."""
    head = _HEAD.pack(function=curve.function, reserved=0)
    return tag_bytes(KIND, head + s15fixed16(curve.parameters))
