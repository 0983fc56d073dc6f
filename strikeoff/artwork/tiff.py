"""TIFF pictures as band sources: strips or tiles are decoded when their rows are asked for.

tifffile reads the tags and decodes single segments. Sizes are checked here before anything is
allocated, and the bytes are fetched here, so that a header can claim what it likes.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.decoded import Alpha, Decoded, decoding, plausible_dpi
from strikeoff.artwork.pixels import MappedSource, through_palette
from strikeoff.artwork.records import CHANNELS, FALLBACK_DPI, Kind
from strikeoff.base.errors import InputError
from strikeoff.base.files import storage_errors
from strikeoff.base.problems import Problem
from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster.bands import Band, check_rows

_MAX_SIDE = 1 << 24
_MAX_PIXELS = 50_000_000_000
# One row of strips or tiles is held at a time; a compressed picture in one piece must fit as well.
_MAX_STRIPE_BYTES = 1 << 29
_KINDS: dict[int, Kind] = {0: "grey", 1: "grey", 2: "rgb", 3: "rgb", 5: "cmyk", 6: "rgb"}
_PALETTE, _YCBCR, _JPEG = 3, 6, (6, 7)
_ALPHA: dict[int, Alpha] = {1: "premultiplied", 2: "straight"}


@dataclass(frozen=True)
class TiffSource:
    """The samples of one TIFF page, read in bands; see `BandSource`."""

    path: str
    height: int
    width: int
    channels: int
    dtype: np.dtype[Any]
    segment_height: int
    segment_width: int
    planar: bool
    offsets: tuple[int, ...]
    counts: tuple[int, ...]
    decode: Callable[[bytes, int], NDArray[Any]]
    raw_dtype: np.dtype[Any] | None
    _last: list[tuple[int, Band]] = field(default_factory=list, compare=False, repr=False)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch (across, along) [mm]; the artwork record knows the true one."""
        return MM_PER_INCH / FALLBACK_DPI, MM_PER_INCH / FALLBACK_DPI

    @property
    def across(self) -> int:
        """Segments side by side."""
        return -(-self.width // self.segment_width)

    @property
    def down(self) -> int:
        """Segments one below the other."""
        return -(-self.height // self.segment_height)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        band = np.empty((y1 - y0, self.width, self.channels), self.dtype)
        with storage_errors(self.path), open(self.path, "rb", buffering=0) as stream:
            for stripe in range(y0 // self.segment_height, -(-y1 // self.segment_height)):
                top = stripe * self.segment_height
                start, stop = max(y0, top), min(y1, top + self.segment_height)
                target = band[start - y0 : stop - y0]
                if self.raw_dtype is not None:
                    self._read_raw(stream.fileno(), stripe, start - top, target)
                else:
                    target[...] = self._stripe(stream.fileno(), stripe)[start - top : stop - top]
        return band

    def _read_raw(self, handle: int, stripe: int, skip: int, target: Band) -> None:
        assert self.raw_dtype is not None
        samples = 1 if self.planar else self.channels
        row = self.width * samples * self.dtype.itemsize
        for plane in range(self.channels if self.planar else 1):
            index = plane * self.down + stripe
            data = self._bytes(handle, self.offsets[index] + skip * row, len(target) * row, index)
            rows = np.frombuffer(data, self.raw_dtype).reshape(len(target), self.width, samples)
            if self.planar:
                target[..., plane] = rows[..., 0]
            else:
                target[...] = rows

    def _stripe(self, handle: int, stripe: int) -> Band:
        # The newest stripe is kept, since bands seldom end where strips and tiles do. Replacing the
        # list's content in one step keeps this safe from several threads.
        kept = self._last[:1]
        if kept and kept[0][0] == stripe:
            return kept[0][1]
        rows = min(self.segment_height, self.height - stripe * self.segment_height)
        result = np.empty((rows, self.width, self.channels), self.dtype)
        for plane in range(self.channels if self.planar else 1):
            for column in range(self.across):
                index = (plane * self.down + stripe) * self.across + column
                data = self._bytes(handle, self.offsets[index], self.counts[index], index)
                left = column * self.segment_width
                right = min(self.width, left + self.segment_width)
                piece = self._decoded(data, index, rows, right - left)
                if self.planar:
                    result[:, left:right, plane] = piece[..., 0]
                else:
                    result[:, left:right] = piece
        self._last[:] = [(stripe, result)]
        return result

    def _decoded(self, data: bytes, index: int, rows: int, columns: int) -> NDArray[Any]:
        where = f"strip or tile {index}"
        samples = 1 if self.planar else self.channels
        with decoding(self.path, where):
            piece = self.decode(data, index)
            if piece.shape[0] < rows or piece.shape[1] < columns or piece.shape[2] != samples:
                raise InputError(
                    "picture is damaged: too few pixels",
                    path=self.path,
                    where=where,
                    found=piece.shape,
                    expected=(rows, columns, samples),
                )
        return piece[:rows, :columns]

    def _bytes(self, handle: int, offset: int, count: int, index: int) -> bytes:
        parts, got = [], 0
        while got < count:
            part = os.pread(handle, count - got, offset + got)
            if not part:
                raise InputError(
                    "picture is cut off", path=self.path, where=f"strip or tile {index}", found=f"{got} bytes"
                )
            parts.append(part)
            got += len(part)
        return b"".join(parts)


def read_tiff(path: str) -> Decoded:
    """Open the first page of a TIFF or BigTIFF: grey, RGB, palette or CMYK in 8 or 16 bits.

    Raises
    ------
    InputError
        When it is damaged, cut off, claims more than its bytes hold, or is of a kind that is no artwork.

    References
    ----------
    TIFF Revision 6.0 (1992); its supplement 2 for JPEG and deflate.
    """
    import tifffile

    problems: list[Problem] = []
    with _messages_as_problems(problems), decoding(path, "TIFF"), tifffile.TiffFile(path) as tiff:
        page = tiff.pages.first
        size = Path(path).stat().st_size
        kind = _kind(page, path)
        dtype = _dtype(page, path)
        colours = 1 if page.photometric == _PALETTE else CHANNELS[kind]
        samples = int(page.samplesperpixel)
        if samples < colours:
            raise InputError(
                "too few samples in a pixel", path=path, where="tag 277", found=samples, expected=colours
            )
        source = _source(page, path, size, samples, dtype, tiff.byteorder)
        alpha = _alpha(page, samples - colours, problems)
        if len(tiff.pages) > 1:
            problems.append(
                Problem("warning", "TIFF", "more than one page: the first is taken", str(len(tiff.pages)))
            )
        value = page.tags.valueof(34675)
        return Decoded(
            source=_unpaletted(page, source, path) if page.photometric == _PALETTE else source,
            kind=kind,
            alpha="none" if page.photometric == _PALETTE else alpha,
            orientation=_orientation(page, problems),
            inverted=page.photometric == 0,
            profile=bytes(value) if isinstance(value, bytes) else None,
            dpi=_dpi(page),
            problems=tuple(problems),
        )


def _kind(page: Any, path: str) -> Kind:
    photometric = int(page.photometric) if page.photometric is not None else -1
    kind = _KINDS.get(photometric)
    if kind is None or (photometric == _YCBCR and int(page.compression) not in _JPEG):
        raise InputError(
            "TIFF in a colour space that is not read",
            path=path,
            where="tag 262",
            found=getattr(page.photometric, "name", photometric),
            expected="grey, RGB, palette or CMYK",
            advice="Save it as RGB or CMYK with an embedded profile",
        )
    if kind == "cmyk" and (page.tags.valueof(332, 1) != 1 or page.tags.valueof(334, 4) != 4):
        raise InputError(
            "TIFF with inks other than CMYK is a separation, not artwork",
            path=path,
            where="tag 332",
            advice="Give the design file that it was made from",
        )
    return kind


def _dtype(page: Any, path: str) -> np.dtype[Any]:
    if page.bitspersample not in (8, 16) or int(page.sampleformat) != 1:
        raise InputError(
            "samples of a kind that is not read",
            path=path,
            where="tag 258",
            found=f"{page.bitspersample} bits, format {page.sampleformat}",
            expected="unsigned integers of 8 or 16 bits",
            advice="Save it with 8 or 16 bits per channel",
        )
    return np.dtype(np.uint8 if page.bitspersample == 8 else np.uint16)


def _source(
    page: Any, path: str, size: int, samples: int, dtype: np.dtype[Any], byteorder: str
) -> TiffSource:
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
    row = segment_width * (1 if planar else samples) * dtype.itemsize
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
    raw = plain and not page.is_tiled
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
        with _messages_as_problems([]):
            array = decode(data, index, jpegtables=tables)[0] if tables else decode(data, index)[0]
        segment: NDArray[Any] = np.asarray(array, dtype=dtype)[0]
        return segment

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


def _alpha(page: Any, extra: int, problems: list[Problem]) -> Alpha:
    if extra <= 0:
        return "none"
    stated = page.extrasamples or ()
    alpha: Alpha = _ALPHA.get(int(stated[0]), "none") if stated else "none"
    ignored = extra - (alpha != "none")
    if ignored:
        problems.append(
            Problem("warning", "tag 338", "channels beyond the colour are not printed", str(ignored))
        )
    return alpha


def _unpaletted(page: Any, source: TiffSource, path: str) -> MappedSource:
    # The table holds 16-bit entries by definition; 8 of them carry the colour in practice.
    colormap = np.asarray(page.colormap)
    if colormap.shape != (3, 1 << page.bitspersample):
        raise InputError("palette of the wrong size", path=path, where="tag 320", found=colormap.shape)
    palette = np.ascontiguousarray((colormap.T >> 8).astype(np.uint8))
    return MappedSource(
        source, lambda band: through_palette(band, palette), 3, np.dtype(np.uint8), source.pitch_mm
    )


def _orientation(page: Any, problems: list[Problem]) -> int:
    value = page.tags.valueof(274, 1)
    if value not in range(1, 9):
        problems.append(Problem("warning", "tag 274", "unknown orientation", str(value), "1-8"))
        return 1
    return int(value)


def _dpi(page: Any) -> tuple[float, float] | None:
    unit = {2: 1.0, 3: 2.54}.get(int(page.tags.valueof(296, 2)))
    x, y = page.tags.valueof(282), page.tags.valueof(283)
    if unit is None or x is None or y is None or 0 in (x[1], y[1]):
        return None
    return plausible_dpi(x[0] / x[1] * unit, y[0] / y[1] * unit)


class _Collector(logging.Handler):
    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(logging.WARNING)
        self.problems = problems

    def emit(self, record: logging.LogRecord) -> None:
        text = " ".join(record.getMessage().split())[:200]
        self.problems.append(Problem("warning", "TIFF", text))


@contextmanager
def _messages_as_problems(problems: list[Problem]) -> Iterator[None]:
    # With a handler of its own the logger no longer writes to standard error.
    logger, handler = logging.getLogger("tifffile"), _Collector(problems)
    logger.addHandler(handler)
    try:
        yield
    finally:
        logger.removeHandler(handler)
