"""curveType: identity, one exponent or a table (ICC.1:2022 clause 10.6)."""

from __future__ import annotations

from strikeoff.icc.curves import IDENTITY, Curve, ParametricCurve, SampledCurve
from strikeoff.icc.encoding import codes16
from strikeoff.icc.layout import TAG_HEAD, Layout, numbers, tag_body, tag_bytes

KIND = b"curv"

_HEAD = Layout(("count", "I"))


def decode_sized(data: bytes, where: str) -> tuple[Curve, int]:
    """Return the curve at the start of the data and how many bytes it takes."""
    body = tag_body(data, KIND, where)
    count = _HEAD.unpack(body, 0, where)["count"]
    codes = numbers(body, _HEAD.size, count, ">u2", where)
    size = TAG_HEAD.size + _HEAD.size + 2 * count
    if count == 0:
        return IDENTITY, size
    if count == 1:
        return ParametricCurve(0, (float(codes[0]) / 256,)), size
    return SampledCurve(codes / 65535.0), size


def decode(data: bytes, where: str) -> Curve:
    """Return the curve."""
    return decode_sized(data, where)[0]


def encode(curve: SampledCurve | None) -> bytes:
    """Return the tag's data; None is the identity."""
    if curve is None:
        return tag_bytes(KIND, _HEAD.pack(count=0))
    return tag_bytes(KIND, _HEAD.pack(count=len(curve.table)) + codes16(curve.table).astype(">u2").tobytes())
