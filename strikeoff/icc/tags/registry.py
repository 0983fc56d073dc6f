"""Which module reads which tag type."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from strikeoff.base.errors import InputError
from strikeoff.icc.layout import part
from strikeoff.icc.tags import (
    clrt,
    curv,
    desc,
    dictionary,
    dtim,
    mab,
    mft1,
    mft2,
    mluc,
    para,
    sf32,
    sig,
    text,
    view,
    xyz,
)

_DECODERS: dict[bytes, Callable[[bytes, str], Any]] = {
    module.KIND: module.decode
    for module in (clrt, curv, desc, dictionary, dtim, mft1, mft2, mluc, para, sf32, sig, text, view, xyz)
}
_DECODERS |= dict.fromkeys(mab.KINDS, mab.decode)


def decode_tag(data: bytes, where: str) -> Any:
    """Return the record of a tag's data; ``where`` names the tag in errors.

    Raises
    ------
    InputError
        When the type is unknown or the data are damaged.
    """
    kind = part(data, 0, 4, where)
    if kind not in _DECODERS:
        raise InputError("tag type is not supported", where=where, found=repr(kind))
    return _DECODERS[kind](data, where)
