"""Arrays as bytes of NPY, never pickled."""

from __future__ import annotations

import io
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray


def npy_bytes(array: NDArray[Any]) -> bytes:
    """Return an array as bytes of NPY."""
    stream = io.BytesIO()
    np.lib.format.write_array(stream, np.ascontiguousarray(array), allow_pickle=False)
    return stream.getvalue()


def array_from_npy(data: bytes) -> NDArray[Any]:
    """Return an array whose header claims just as many bytes as there are.

    Raises
    ------
    ValueError
        A header that claims more or less, or an array that only unpickling could read. Damaged headers raise
        whatever their parser raises.
    """
    stream = io.BytesIO(data)
    version = np.lib.format.read_magic(stream)
    header = np.lib.format.read_array_header_1_0 if version == (1, 0) else np.lib.format.read_array_header_2_0
    shape, _, dtype = header(stream)
    if math.prod(shape) * dtype.itemsize != len(data) - stream.tell():
        raise ValueError(f"array of {shape} in {len(data)} bytes")
    stream.seek(0)
    return np.asarray(np.lib.format.read_array(stream, allow_pickle=False))
