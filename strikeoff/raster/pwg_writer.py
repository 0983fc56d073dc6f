"""Write drops or contone as PWG Raster, one page, in bounded memory.

References
----------
PWG 5102.4-2012, PWG Raster Format: page header (clause 4.3), bitmap encoding (clause 4.4), Device-N colour
spaces.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.files import atomic_path
from strikeoff.base.progress import Progress, silent
from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster.bands import BandSource

_SYNC = b"RaS2"
_HEADER_BYTES = 1796
_BLACK, _DEVICE_1 = 3, 48
_MOST_INKS = 15
_BAND_BYTES = 4 << 20
_POINTS = 72.0
_MOST_LINES = 256


def page_header(width: int, height: int, inks: int, bits: int, dpi: tuple[int, int]) -> bytes:
    """Return the header of a page, 1,796 bytes, whole numbers big-endian.

    Parameters
    ----------
    width, height : int
        [px]
    inks : int
        Colours, chunky.
    bits : {1, 8}
        For each of them.
    dpi : tuple of int
        Addressability, across and along.
    """
    header = bytearray(_HEADER_BYTES)
    header[:9] = b"PwgRaster"

    def put(offset: int, *values: int) -> None:
        struct.pack_into(f">{len(values)}I", header, offset, *values)

    put(276, *dpi)
    put(340, 1)  # copies
    put(352, round(width / dpi[0] * _POINTS), round(height / dpi[1] * _POINTS))
    put(372, width, height)
    put(384, bits, bits * inks, -(-width * bits * inks // 8))
    put(400, _BLACK if inks == 1 else _DEVICE_1 + inks - 1)
    put(420, inks)
    put(452, 1, 1, 1)  # pages, and directions across and along
    return bytes(header)


def write_pwg(
    path: str | Path,
    source: BandSource,
    *,
    ink_names: Sequence[str],
    bits: int = 8,
    progress: Progress = silent,
) -> None:
    """Write a source as a page of PWG Raster; the file appears whole or not at all.

    Parameters
    ----------
    path : str or Path
        File to write.
    source : BandSource
        uint8: drop levels or contone.
    ink_names : sequence of str
        One for each channel. The format has no place for names; only their number is kept.
    bits : {1, 8}
        Of a sample. One bit holds one ink: readers expect whole bytes for a pixel of several.
    progress : Progress
        Told after each band.

    Raises
    ------
    UsageError
        For another sample type, more than 15 inks, several inks of 1 bit, or addressabilities that are
        not whole.
    StorageError
        The disk is full or the folder cannot be written.
    """
    inks = len(ink_names)
    if source.dtype != np.uint8 or inks != source.channels:
        raise UsageError(
            "planes do not fit PWG Raster",
            found=f"{source.channels} channels of {source.dtype}",
            expected=f"{inks} of uint8",
        )
    if bits not in (1, 8) or inks > _MOST_INKS or (bits == 1 and inks > 1):
        raise UsageError(
            "PWG Raster does not hold this",
            found=f"{inks} inks of {bits} bits",
            expected=f"1 ink of 1 bit, or 1 to {_MOST_INKS} inks of 8",
            advice="Write one file for each ink, or 8 bits",
        )
    exact = [MM_PER_INCH / pitch for pitch in source.pitch_mm]
    dpi = (round(exact[0]), round(exact[1]))
    if not np.allclose(dpi, exact, rtol=1e-6):
        raise UsageError("PWG Raster holds whole dots per inch", found=f"{exact[0]:g} x {exact[1]:g}")
    with atomic_path(path) as part, open(part, "wb") as stream:
        stream.write(_SYNC + page_header(source.width, source.height, inks, bits, dpi))
        _write_lines(stream, source, bits, progress)


def _write_lines(stream: BinaryIO, source: BandSource, bits: int, progress: Progress) -> None:
    """Write lines, equal ones that follow each other once with their number."""
    from strikeoff.raster.kernels_packing import pack_runs

    rows = max(1, _BAND_BYTES // (source.width * source.channels))
    waiting: NDArray[np.uint8] | None = None
    count = 0
    room = np.empty(source.width * (source.channels + 1) + 1, np.uint8)

    def store() -> None:
        if waiting is not None:
            stream.write(bytes([count - 1]) + room[: pack_runs(waiting, room)].tobytes())

    for y0 in range(0, source.height, rows):
        for line in _lines(source, y0, min(y0 + rows, source.height), bits):
            if waiting is not None and count < _MOST_LINES and np.array_equal(line, waiting):
                count += 1
                continue
            store()
            waiting, count = line, 1
        progress("write", min(1.0, (y0 + rows) / source.height))
    store()


def _lines(source: BandSource, y0: int, y1: int, bits: int) -> NDArray[np.uint8]:
    """Return rows as (rows, units, bytes): a unit is a pixel, or eight pixels of one bit."""
    if bits == 8:
        return np.ascontiguousarray(source.read(y0, y1))
    reader = getattr(source, "read_packed", None)
    packed = np.packbits(source.read(y0, y1)[..., 0], axis=1) if reader is None else reader(y0, y1, 1)[0]
    return np.ascontiguousarray(packed)[..., None]
