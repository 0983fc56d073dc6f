"""lutAToBType `mAB ` and lutBToAType `mBA ` (ICC.1:2022 clauses 10.12 and 10.13).

One layout serves both. Lab in them has the version 4 encoding.
"""

from __future__ import annotations

from typing import Literal

from strikeoff.base.errors import InputError
from strikeoff.icc.curves import Curve
from strikeoff.icc.encoding import from_s15fixed16, s15fixed16
from strikeoff.icc.layout import TAG_HEAD, Layout, numbers, padded, part, tag_body, tag_bytes
from strikeoff.icc.luts import Clut, CurveLut, Curves, Matrix
from strikeoff.icc.tags import any_curve, table_head

KINDS = (b"mAB ", b"mBA ")

_HEAD = Layout(
    ("n_in", "B"),
    ("n_out", "B"),
    ("pad", "H"),
    ("b", "I"),
    ("matrix", "I"),
    ("m", "I"),
    ("clut", "I"),
    ("a", "I"),
)
_CLUT = Layout(("sizes", "16s"), ("precision", "B"), ("pad", "3s"))
_PRECISION = {1: "u1", 2: ">u2"}


def decode(data: bytes, where: str) -> CurveLut:
    """Return the table.

    Raises
    ------
    InputError
        When B curves are missing, channel counts do not fit, or data end too early.
    """
    kind = part(data, 0, 4, where)
    head = _HEAD.unpack(tag_body(data, kind, where), 0, where)
    n_in, n_out = head["n_in"], head["n_out"]
    for count in (n_in, n_out):
        table_head.check_channels(count, where)
    pcs_side, device_side = (n_out, n_in) if kind == KINDS[0] else (n_in, n_out)
    if not head["b"]:
        raise InputError("B curves are missing", where=where)
    if not head["clut"] and n_in != n_out:
        raise InputError("channel counts differ without a CLUT", where=where, found=f"{n_in}, {n_out}")
    if head["matrix"] and pcs_side != 3:
        raise InputError("matrix needs three channels", where=where, found=pcs_side)
    name: Literal["mAB ", "mBA "] = "mAB " if kind == KINDS[0] else "mBA "
    return CurveLut(
        name,
        n_in,
        n_out,
        b=_curves(data, head["b"], pcs_side, where),
        matrix=_matrix(data, head["matrix"], where) if head["matrix"] else None,
        m=_curves(data, head["m"], pcs_side, where) if head["m"] else None,
        clut=_clut(data, head["clut"], n_in, n_out, where) if head["clut"] else None,
        a=_curves(data, head["a"], device_side, where) if head["a"] else None,
    )


def encode(lut: CurveLut) -> bytes:
    """Return the tag's data: B curves, matrix, M curves, CLUT, A curves, each 4-byte aligned."""
    blocks: dict[str, bytes] = {"b": _curves_bytes(lut.b)}
    if lut.matrix is not None:
        blocks["matrix"] = s15fixed16([*lut.matrix.coefficients.ravel(), *lut.matrix.offset])
    if lut.m is not None:
        blocks["m"] = _curves_bytes(lut.m)
    if lut.clut is not None:
        blocks["clut"] = _clut_bytes(lut.clut)
    if lut.a is not None:
        blocks["a"] = _curves_bytes(lut.a)
    offsets = dict.fromkeys(("b", "matrix", "m", "clut", "a"), 0)
    position = TAG_HEAD.size + _HEAD.size
    for name, block in blocks.items():
        offsets[name] = position
        position += len(block)
    head = _HEAD.pack(n_in=lut.n_in, n_out=lut.n_out, pad=0, **offsets)
    return tag_bytes(lut.kind.encode("ascii"), head + b"".join(blocks.values()))


def _curves(data: bytes, offset: int, count: int, where: str) -> Curves:
    curves: list[Curve] = []
    for _ in range(count):
        part(data, offset, TAG_HEAD.size, where)
        curve, size = any_curve.decode_sized(data[offset:], where)
        curves.append(curve)
        offset += size + -size % 4
    return Curves(tuple(curves))


def _curves_bytes(curves: Curves) -> bytes:
    return b"".join(padded(any_curve.encode(curve)) for curve in curves.curves)


def _matrix(data: bytes, offset: int, where: str) -> Matrix:
    values = from_s15fixed16(numbers(data, offset, 12, ">i4", where))
    return Matrix(values[:9].reshape(3, 3), values[9:])


def _clut(data: bytes, offset: int, n_in: int, n_out: int, where: str) -> Clut:
    head = _CLUT.unpack(data, offset, where)
    sizes = tuple(head["sizes"][:n_in])
    table_head.check_grid(sizes, where)
    if head["precision"] not in _PRECISION:
        raise InputError("bad CLUT precision", where=where, found=head["precision"], expected="1 or 2")
    return table_head.nodes(data, offset + _CLUT.size, (*sizes, n_out), _PRECISION[head["precision"]], where)


def _clut_bytes(clut: Clut) -> bytes:
    precision = clut.codes.dtype.itemsize
    sizes = bytes(clut.codes.shape[:-1]).ljust(16, b"\0")
    head = _CLUT.pack(sizes=sizes, precision=precision, pad=b"")
    return padded(head + clut.codes.astype(_PRECISION[precision]).tobytes())
