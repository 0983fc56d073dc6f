"""The strips or tiles of a TIFF page, checked against the file before anything is allocated."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.tiff_messages import messages_as_problems
from strikeoff.artwork.tiff_source import TiffSource
from strikeoff.base.errors import InputError

_MAX_SIDE = 1 << 24
_MAX_PIXELS = 50_000_000_000
# One row of strips or tiles is held at a time; a compressed picture in one piece must fit as well.
_MAX_STRIPE_BYTES = 1 << 29


def page_source(
    page: Any, path: str, size: int, samples: int, dtype: np.dtype[Any], byteorder: str
) -> TiffSource:
    """Return the samples of a page as a band source.

    Parameters
    ----------
    page : object
        As tifffile found it.
    path : str
        File that it is in.
    size : int
        Bytes of that file.
    samples : int
        In a pixel.
    dtype : dtype
        Of a sample.
    byteorder : str
        That of the file, as tifffile says it.

    Returns
    -------
    TiffSource

    Raises
    ------
    InputError
        A picture or segments too large to hold, fewer segments than the picture needs, or some that lie
        outside the file.
    """
    width, height = int(page.imagewidth), int(page.imagelength)
    if not (1 <= width <= _MAX_SIDE and 1 <= height <= _MAX_SIDE and width * height <= _MAX_PIXELS):
        raise InputError(
            "picture size out of bounds",
            path=path,
            where="tags 256 and 257",
            found=f"{width} x {height} pixels",
            expected=f"1 to {_MAX_SIDE} a side, at most {_MAX_PIXELS // 10**9} gigapixel",
        )
    if int(page.imagedepth) != 1 or samples > 64:
        raise InputError("volumes and data cubes are no artwork", path=path, where="tags 277, 32997")
    if page.is_tiled:
        segment_width, segment_height = int(page.tilewidth), int(page.tilelength)
    else:
        segment_width, segment_height = width, min(int(page.rowsperstrip), height)
    planar = int(page.planarconfig) == 2 and samples > 1
    if segment_width < 1 or segment_height < 1:
        raise InputError("strips or tiles without size", path=path, where="tags 278, 322, 323")
    segments = -(-width // segment_width) * -(-height // segment_height) * (samples if planar else 1)
    offsets, counts = tuple(map(int, page.dataoffsets)), tuple(map(int, page.databytecounts))
    if len(offsets) != segments or len(counts) != segments:
        raise InputError(
            "picture states more than it holds",
            path=path,
            where="tag 273 or 324",
            found=f"{len(offsets)} strips or tiles",
            expected=f"{segments} for {width} x {height} pixels",
        )
    plain = int(page.compression) == 1 and int(page.predictor) == 1 and int(page.fillorder) == 1
    row = -(-segment_width * (1 if planar else samples) * int(page.bitspersample) // 8)
    for index, (offset, count) in enumerate(zip(offsets, counts, strict=True)):
        rows = segment_height
        if plain and not page.is_tiled:
            rows = min(rows, height - index % -(-height // segment_height) * segment_height)
        if count < 1 or offset < 8 or offset + count > size or (plain and count < rows * row):
            raise InputError(
                "picture is cut off or its strips point outside the file",
                path=path,
                where=f"strip or tile {index}",
                found=f"{count} bytes at {offset} in a file of {size}",
                advice="Ask for the file again",
            )
    raw = plain and not page.is_tiled and int(page.bitspersample) == 8 * dtype.itemsize
    stripe_bytes = segment_height * -(-width // segment_width) * segment_width * samples * dtype.itemsize
    if not raw and stripe_bytes > _MAX_STRIPE_BYTES:
        raise InputError(
            "strips or tiles are too large to decode",
            path=path,
            where="tag 278 or 323",
            found=f"{stripe_bytes} bytes in a row of them",
            expected=f"at most {_MAX_STRIPE_BYTES}",
            advice="Save it uncompressed, or with strips of fewer rows",
        )
    decode, tables = page.decode, page.jpegtables

    def decode_segment(data: bytes, index: int) -> NDArray[Any]:
        with messages_as_problems([]):
            array = decode(data, index, jpegtables=tables)[0] if tables else decode(data, index)[0]
        # Signed numbers keep their bits.
        segment: NDArray[Any] = (
            array.view(dtype) if array.dtype.kind == "i" else np.asarray(array, dtype=dtype)
        )
        return np.asarray(segment[0])

    return TiffSource(
        path=path,
        height=height,
        width=width,
        channels=samples,
        dtype=dtype,
        segment_height=segment_height,
        segment_width=segment_width,
        planar=planar,
        offsets=offsets,
        counts=counts,
        decode=decode_segment,
        raw_dtype=dtype.newbyteorder(">" if byteorder == ">" else "<") if raw else None,
    )
