"""Strips of samples to compressed bytes and back, sizes bounded on both sides."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError

#: Name to TIFF compression code; LZW is read, never written.
COMPRESSIONS = {"none": 1, "packbits": 32773, "deflate": 8, "zstd": 50000}
READABLE = {1: "none", 5: "lzw", 8: "deflate", 32946: "deflate", 32773: "packbits", 50000: "zstd"}


def compression_code(name: str) -> int:
    """Return the TIFF code of a compression that we write."""
    if name not in COMPRESSIONS:
        raise UsageError("unknown compression", found=name, expected=", ".join(COMPRESSIONS))
    return COMPRESSIONS[name]


def encode_strip(samples: NDArray[Any], compression: str, predictor: int) -> bytes:
    """Return the compressed bytes of a strip, shape ``(rows, ...)``, little-endian samples.

    PackBits runs end with each row, as the TIFF specification asks. Predictor 2 stores the
    difference to the pixel at the left, shape ``(rows, width, channels)``.
    """
    import imagecodecs

    data: Any = np.ascontiguousarray(samples, dtype=samples.dtype.newbyteorder("<"))
    if predictor == 2:
        data = imagecodecs.delta_encode(data, axis=1)
    if compression == "none":
        return bytes(data.tobytes())
    if compression == "packbits":
        rows = data.reshape(data.shape[0], -1)
        return b"".join(bytes(imagecodecs.packbits_encode(row.tobytes())) for row in rows)
    if compression == "deflate":
        return bytes(imagecodecs.deflate_encode(data, level=1))
    return bytes(imagecodecs.zstd_encode(data, level=1))


def decode_strip(
    data: bytes, compression: str, predictor: int, shape: tuple[int, ...], dtype: np.dtype[Any]
) -> NDArray[Any]:
    """Return the samples of a strip; never more than ``shape`` asks for.

    Raises
    ------
    ValueError
        When the bytes do not hold exactly that many samples.
    """
    import imagecodecs

    size = int(np.prod(shape)) * dtype.itemsize
    try:
        if compression == "none":
            raw: Any = data
        elif compression == "zstd":
            raw = imagecodecs.zstd_decode(data, out=size)
        elif compression == "deflate":
            raw = imagecodecs.deflate_decode(data, out=size)
        elif compression == "packbits":
            raw = imagecodecs.packbits_decode(data, out=size)
        else:
            raw = imagecodecs.lzw_decode(data, out=size)
    except RuntimeError as error:
        raise ValueError(str(error) or "damaged bytes") from error
    if len(raw) != size:
        raise ValueError(f"{len(raw)} bytes instead of {size}")
    array: NDArray[Any] = np.frombuffer(raw, dtype).reshape(shape)
    if not dtype.isnative:
        array = array.astype(dtype.newbyteorder("="))
    if predictor == 2:
        array = imagecodecs.delta_decode(array, axis=1)
    array.setflags(write=False)
    return array
