"""Drop levels packed several to a byte, plane by plane, first pixel topmost."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def pack_levels(levels: NDArray[np.uint8], bits: int) -> NDArray[np.uint8]:
    """Pack levels, shape ``(rows, width, channels)``, into ``(channels, rows, ceil(width * bits / 8))``.

    Examples
    --------
    >>> pack_levels(np.array([[[1], [2], [3]]], np.uint8), 2)[0, 0].tolist() == [0b01101100]
    True
    """
    planes = np.moveaxis(levels, 2, 0)
    if bits == 1:
        return np.packbits(planes, axis=2)
    single = (planes[..., None] >> np.arange(bits - 1, -1, -1, dtype=np.uint8)) & 1
    return np.packbits(single.reshape(*planes.shape[:2], planes.shape[2] * bits), axis=2)


def unpack_levels(packed: NDArray[np.uint8], width: int, bits: int) -> NDArray[np.uint8]:
    """Return levels, shape ``(rows, width, channels)``, of packed planes.

    Examples
    --------
    >>> unpack_levels(np.array([[[0b01101100]]], np.uint8), 3, 2)[0, :, 0].tolist()
    [1, 2, 3]
    """
    single = np.unpackbits(packed, axis=2, count=width * bits)
    if bits > 1:
        pairs = single.reshape(*single.shape[:2], width, bits)
        single = np.asarray(
            (pairs << np.arange(bits - 1, -1, -1, dtype=np.uint8)).sum(axis=3, dtype=np.uint8)
        )
    return np.ascontiguousarray(np.moveaxis(single, 0, 2))
