"""What mft1 and mft2 have in common: channel counts, grid size, matrix."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.icc.encoding import FloatArray, from_s15fixed16, s15fixed16
from strikeoff.icc.layout import Layout, numbers
from strikeoff.icc.luts import MAX_CHANNELS, Clut

_HEAD = Layout(("n_in", "B"), ("n_out", "B"), ("grid", "B"), ("pad", "B"))
_MATRIX_SIZE = 36
SIZE = _HEAD.size + _MATRIX_SIZE


def decode(body: bytes, where: str) -> tuple[int, int, int, FloatArray]:
    """Return input channels, output channels, grid size and matrix ``(3, 3)`` of a tag's body."""
    head = _HEAD.unpack(body, 0, where)
    for name in ("n_in", "n_out"):
        check_channels(head[name], where)
    check_grid((head["grid"],), where)
    matrix = from_s15fixed16(numbers(body, _HEAD.size, 9, ">i4", where)).reshape(3, 3)
    return head["n_in"], head["n_out"], head["grid"], matrix


def encode(clut: Clut, matrix: FloatArray) -> bytes:
    """Return the head's bytes.

    Raises
    ------
    ValueError
        When the CLUT has not the same grid size on all axes.
    """
    sizes = set(clut.codes.shape[:-1])
    if len(sizes) != 1:
        raise ValueError(f"mft1 and mft2 need one grid size for all axes, not {sorted(sizes)}")
    head = _HEAD.pack(n_in=clut.n_in, n_out=clut.n_out, grid=sizes.pop(), pad=0)
    return head + s15fixed16(matrix)


def check_channels(count: int, where: str) -> None:
    """Raise InputError unless a channel count is one that ICC.1 allows."""
    if not 1 <= count <= MAX_CHANNELS:
        raise InputError("bad channel count", where=where, found=count, expected=f"1 to {MAX_CHANNELS}")


def check_grid(sizes: tuple[int, ...], where: str) -> None:
    """Raise InputError when a grid axis has fewer than two points."""
    if min(sizes) < 2:
        raise InputError("bad grid size", where=where, found=min(sizes), expected="2 or more")


def tables(body: bytes, offset: int, rows: int, entries: int, dtype: str, where: str) -> NDArray[Any]:
    """Return ``rows`` tables of ``entries`` codes as unit values ``(rows, entries)``."""
    codes = numbers(body, offset, rows * entries, dtype, where).reshape(rows, entries)
    return codes / float(np.iinfo(codes.dtype).max)


def nodes(body: bytes, offset: int, shape: tuple[int, ...], dtype: str, where: str) -> Clut:
    """Return the CLUT whose codes start at ``offset``; the shape is checked against the bytes present."""
    count = 1
    for size in shape:
        count *= size
    return Clut(numbers(body, offset, count, dtype, where).reshape(shape))
