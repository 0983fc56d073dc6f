"""Write ink planes or drops as a separated multi-ink TIFF, or a picture as RGB, equal strips stored once.

References
----------
TIFF Revision 6.0, 1992, section 16 (InkSet, InkNames, NumberOfInks) and section 18 (ExtraSamples).
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import atomic_path
from strikeoff.base.progress import Progress, silent
from strikeoff.raster import tiff_tags as tags
from strikeoff.raster.bands import Band, BandSource
from strikeoff.raster.packing import pack_levels
from strikeoff.raster.tiff_codecs import compression_code, encode_strip
from strikeoff.raster.tiff_directory import ink_tags, pixel_tags
from strikeoff.raster.tiff_plan import TASK_BYTES, StripPlan, plan_strips

_CLASSIC_LIMIT = 4_000_000_000


def write_planes(
    path: str | Path,
    source: BandSource,
    *,
    ink_names: Sequence[str],
    info: dict[str, Any],
    bits: int = 16,
    compression: str = "zstd",
    planar: bool | None = None,
    rows_per_strip: int | None = None,
    big: bool | None = None,
    progress: Progress = silent,
    workers: int = 2,
) -> None:
    """Write a separated TIFF of ``source`` in bounded memory; the file appears whole or not at all.

    Parameters
    ----------
    path : str or Path
        File to write.
    source : BandSource
        uint16 for 16 bits, else uint8, of levels that fit the bits. Where it tells equal rows
        (``canonical_row``), strips of equal rows are read, encoded and stored once.
    ink_names : sequence of str
        One per channel, in channel order.
    info : dict
        Kept as one JSON document in ImageDescription.
    bits : {16, 8, 2, 1}
        Bits per sample.
    compression : {"zstd", "deflate", "packbits", "none"}
        Lossless always. Zstd and deflate of 8 and 16 bits take the difference to the left pixel first.
    planar : bool, optional
        Store plane by plane. Default: one and two bits, because readers disagree about interleaved
        bits; sixteen and eight are stored pixel by pixel.
    rows_per_strip : int, optional
        Default: fits the rows that repeat, else at most 6 MiB, of at most 16 MiB of 16-bit planes.
    big : bool, optional
        BigTIFF. Default: when the samples could pass 4 GB.
    progress : Progress
        Told after each piece.
    workers : int
        Threads that read and encode. The bytes of the file do not depend on it.

    Raises
    ------
    UsageError
        Wrong sample type, number of names or option.
    InputError
        A drop level that does not fit the bits.
    StorageError
        The disk is full or the folder cannot be written.
    """
    names = _checked_names(source, ink_names, bits)
    if planar is None:
        planar = bits < 8
    if bits < 8 and not planar and source.channels > 1:
        raise UsageError("readers disagree about interleaved bits", expected="plane by plane")
    compression_code(compression)
    plan = plan_strips(source, bits, compression, planar, rows_per_strip)
    _write(path, plan, ink_tags(names), info, big, progress, workers)


def write_rgb(
    path: str | Path,
    source: BandSource,
    *,
    profile: bytes,
    info: dict[str, Any],
    compression: str = "deflate",
    progress: Progress = silent,
    workers: int = 2,
) -> None:
    """Write an RGB picture of ``source`` in bounded memory; the file appears whole or not at all.

    Parameters
    ----------
    path : str or Path
        File to write.
    source : BandSource
        uint8 or uint16, three channels.
    profile : bytes
        ICC profile of the codes, embedded.
    info, compression, progress, workers
        As for `write_planes`.

    Raises
    ------
    UsageError
        Wrong sample type, number of channels or option.
    StorageError
        The disk is full or the folder cannot be written.
    """
    bits = 8 * source.dtype.itemsize
    _checked_names(source, ("R", "G", "B"), bits)
    compression_code(compression)
    plan = plan_strips(source, bits, compression, False, None)
    colour = [
        tags.Tag(tags.PHOTOMETRIC, tags.SHORT, [2]),
        tags.Tag(tags.ICC_PROFILE, tags.UNDEFINED, profile),
    ]
    _write(path, plan, colour, info, None, progress, workers)


def _write(
    path: str | Path,
    plan: StripPlan,
    colour: list[tags.Tag],
    info: dict[str, Any],
    big: bool | None,
    progress: Progress,
    workers: int,
) -> None:
    stored = int(np.count_nonzero(plan.first == np.arange(len(plan.first))))
    if big is None:
        size = stored * plan.rows_per_strip * plan.row_bytes + len(plan.first) * plan.planes * 16
        big = size > _CLASSIC_LIMIT
    description = json.dumps(info, sort_keys=True, allow_nan=False).encode("ascii") + b"\0"
    with atomic_path(path) as part, open(part, "wb") as stream:
        stream.write(tags.header_bytes(big))
        offsets, counts = _write_strips(stream, plan, progress, workers)
        stream.write(b"\0" * (-stream.tell() % 8))
        position = stream.tell()
        table = [*pixel_tags(plan, description, offsets, counts, big), *colour]
        stream.write(tags.directory_bytes(table, position, big))
        stream.seek(0)
        stream.write(tags.header_bytes(big, position))
    progress("write", 1.0)


def _checked_names(source: BandSource, ink_names: Sequence[str], bits: int) -> list[str]:
    names = list(ink_names)
    if bits not in (1, 2, 8, 16):
        raise UsageError("cannot write this many bits per sample", found=bits, expected="1, 2, 8 or 16")
    if len(names) != source.channels:
        raise UsageError("one name per ink is needed", found=len(names), expected=source.channels)
    if any(not name or not name.isprintable() for name in names):
        raise UsageError("ink name is empty or holds control characters", found=names)
    wanted = np.uint16 if bits == 16 else np.uint8
    if source.dtype != wanted:
        raise UsageError(
            f"{bits}-bit planes need another sample type", found=source.dtype, expected=wanted.__name__
        )
    if source.height < 1 or source.width < 1:
        raise UsageError("no pixels to write", found=f"{source.width} x {source.height}")
    return names


def _encode_strips(plan: StripPlan, strips: NDArray[np.int64]) -> list[list[bytes]]:
    """Read and encode a run of strips; for each strip the bytes of each plane."""
    rows, height = plan.rows_per_strip, plan.source.height
    encoded = []
    for start, stop in _runs(strips):
        y0, y1 = start * rows, min(stop * rows, height)
        if plan.planar:
            band = _planes(plan.source, y0, y1, plan.bits)
            pieces = [[plane[i : i + rows] for plane in band] for i in range(0, y1 - y0, rows)]
        else:
            band = plan.source.read(y0, y1)
            pieces = [[band[i : i + rows]] for i in range(0, y1 - y0, rows)]
        encoded += [[encode_strip(p, plan.compression, plan.predictor) for p in strip] for strip in pieces]
    return encoded


def _runs(strips: NDArray[np.int64]) -> Iterator[tuple[int, int]]:
    """Yield (start, stop) of the runs of consecutive numbers."""
    for run in np.split(strips, np.flatnonzero(np.diff(strips) != 1) + 1):
        yield int(run[0]), int(run[-1]) + 1


def _planes(source: BandSource, y0: int, y1: int, bits: int) -> Band:
    """Return rows plane by plane, packed where several samples go to a byte."""
    if bits >= 8:
        return np.ascontiguousarray(np.moveaxis(source.read(y0, y1), 2, 0))
    reader: Callable[[int, int, int], NDArray[np.uint8]] | None = getattr(source, "read_packed", None)
    if reader is not None:
        return reader(y0, y1, bits)
    band = source.read(y0, y1)
    if band.max(initial=0) >= 1 << bits:
        row = int(np.argmax(band.reshape(len(band), -1).max(axis=1) >= 1 << bits))
        raise InputError(
            "not a single drop" if bits == 1 else "drop level too large",
            where=f"row {y0 + row}",
            found=int(band[row].max()),
            expected=f"0 to {(1 << bits) - 1}",
        )
    return pack_levels(band, bits)


def _write_strips(
    stream: BinaryIO, plan: StripPlan, progress: Progress, workers: int
) -> tuple[NDArray[np.uint64], NDArray[np.uint64]]:
    """Write the distinct strips in plan order; return offset and length of every strip of every plane."""
    number = len(plan.first)
    offsets = np.zeros((plan.planes, number), np.uint64)
    counts = np.zeros((plan.planes, number), np.uint64)
    # Drops come from 16-bit planes: a task is measured by what it reads, not by what it writes.
    read_bytes = plan.rows_per_strip * plan.source.width * plan.source.channels * 2
    per_task = max(1, TASK_BYTES // read_bytes)
    tasks = [plan.order[i : i + per_task] for i in range(0, len(plan.order), per_task)]
    done = 0
    waiting: deque[tuple[NDArray[np.int64], Future[list[list[bytes]]]]] = deque()

    def store_next() -> None:
        nonlocal done
        strips, future = waiting.popleft()
        for strip, planes in zip(strips, future.result(), strict=True):
            for plane, data in enumerate(planes):
                offsets[plane, strip] = stream.tell()
                counts[plane, strip] = len(data)
                stream.write(data + b"\0" * (len(data) % 2))
        done += len(strips)
        progress("write", done / len(plan.order))

    with ThreadPoolExecutor(max(1, workers)) as pool:
        try:
            for strips in tasks:
                waiting.append((strips, pool.submit(_encode_strips, plan, strips)))
                if len(waiting) > 2 * workers:
                    store_next()
            while waiting:
                store_next()
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    return offsets[:, plan.first], counts[:, plan.first]
