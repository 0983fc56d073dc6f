"""A curve of either type, as matrix profiles and mAB/mBA tags hold them."""

from __future__ import annotations

from strikeoff.base.errors import InputError
from strikeoff.icc.curves import IDENTITY, Curve, SampledCurve
from strikeoff.icc.layout import part
from strikeoff.icc.tags import curv, para

_DECODERS = {curv.KIND: curv.decode_sized, para.KIND: para.decode_sized}


def decode_sized(data: bytes, where: str) -> tuple[Curve, int]:
    """Return the curve at the start of the data and how many bytes it takes, without padding."""
    kind = part(data, 0, 4, where)
    if kind not in _DECODERS:
        raise InputError("not a curve", where=where, found=repr(kind), expected="'curv' or 'para'")
    return _DECODERS[kind](data, where)


def encode(curve: Curve) -> bytes:
    """Return a curve's data, in the shorter type that holds it."""
    if curve == IDENTITY:
        return curv.encode(None)
    return curv.encode(curve) if isinstance(curve, SampledCurve) else para.encode(curve)
