"""Read separated multi-ink TIFF files in bands, distrusting every number in them."""

from __future__ import annotations

import json
import os
import threading
from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.files import storage_errors
from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster import tiff_tags as tags
from strikeoff.raster.bands import Band, check_rows
from strikeoff.raster.packing import unpack_levels
from strikeoff.raster.tiff_codecs import READABLE, decode_strip

_MAX_SIDE = 1_000_000_000
_MAX_WIDTH = 4_000_000
_MAX_INKS = 64
_MAX_STRIP_BYTES = 512 << 20
_CACHE_BYTES = 96 << 20


@dataclass(frozen=True)
class PlanesFile:
    """Ink planes or drops in a file, read in bands; only the tag table is held.

    Attributes
    ----------
    path : Path
        The file.
    height, width, channels : int
        Size in pixels and number of inks.
    bits : int
        16 (planes), 8, 2 or 1 (drops; ``read`` then gives levels as uint8).
    pitch_mm : tuple of float
        Pixel pitch (across, along). [mm]
    ink_names : tuple of str
        One per channel.
    info : dict
        The JSON document of ImageDescription; empty when there is none.
    rows_per_strip : int
        Rows of a strip.
    """

    path: Path
    height: int
    width: int
    channels: int
    bits: int
    pitch_mm: tuple[float, float]
    ink_names: tuple[str, ...]
    info: dict[str, Any]
    rows_per_strip: int
    _compression: str
    _predictor: int
    _order: str
    _offsets: NDArray[np.uint64]
    _counts: NDArray[np.uint64]
    _first: NDArray[np.int64]
    _identity: tuple[int, int]
    _cache: StripCache = field(repr=False, compare=False)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint16 if self.bits == 16 else np.uint8)

    @property
    def row_block(self) -> int:
        """Rows that repeat together; 0 when no strip is stored for two places."""
        return self.rows_per_strip if (self._first != np.arange(len(self._first))).any() else 0

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that the file stores in the same place as row ``y``."""
        strip, row = divmod(y, self.rows_per_strip)
        return int(self._first[strip]) * self.rows_per_strip + row

    @property
    def row_map(self) -> NDArray[np.int64]:
        """Canonical row of every row."""
        strip, row = np.divmod(np.arange(self.height, dtype=np.int64), self.rows_per_strip)
        return self._first[strip] * self.rows_per_strip + row

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, channels)``."""
        if self.bits < 8:
            return unpack_levels(self.read_packed(y0, y1, self.bits), self.width, self.bits)
        if self._planes > 1:
            return np.stack([self._rows(plane, y0, y1) for plane in range(self.channels)], axis=2)
        return self._rows(0, y0, y1)

    @property
    def _planes(self) -> int:
        return len(self._offsets)

    def read_packed(self, y0: int, y1: int, bits: int = 1) -> NDArray[np.uint8]:
        """Return rows of a file of drops, shape ``(channels, rows, ceil(width * bits / 8))``."""
        if self.bits != bits or bits > 2:
            raise InputError(
                "not a file of packed drops",
                path=self.path,
                found=f"{self.bits} bits",
                expected=f"{bits} bits",
            )
        return np.stack([self._rows(plane, y0, y1) for plane in range(self.channels)])

    def _rows(self, plane: int, y0: int, y1: int) -> Band:
        check_rows(self, y0, y1)
        size = self.rows_per_strip
        if y0 == y1:
            return self._strip(plane, 0)[:0]
        pieces = []
        for strip in range(y0 // size, -(-y1 // size)):
            start = strip * size
            pieces.append(self._strip(plane, strip)[max(0, y0 - start) : y1 - start])
        return pieces[0] if len(pieces) == 1 else np.concatenate(pieces)

    def _strip(self, plane: int, strip: int) -> Band:
        strip = int(self._first[strip])
        key = self.path, self._identity, plane, strip
        found = self._cache.get(key)
        if found is None:
            found = self._decode(plane, strip)
            self._cache.put(key, found)
        return found

    def _decode(self, plane: int, strip: int) -> Band:
        offset, count = int(self._offsets[plane, strip]), int(self._counts[plane, strip])
        where = f"strip {strip}" + (f" of plane {plane}" if self._planes > 1 else "")
        with storage_errors(self.path), open(self.path, "rb") as stream:
            if _identity(stream.fileno()) != self._identity:
                raise InputError("file changed while it was being read", path=self.path)
            stream.seek(offset)
            data = stream.read(count)
        rows = min(self.rows_per_strip, self.height - strip * self.rows_per_strip)
        shape: tuple[int, ...] = (rows, self.width, self.channels)
        if self.bits < 8:
            shape = (rows, -(-self.width * self.bits // 8))
        elif self._planes > 1:
            shape = (rows, self.width)
        dtype = self.dtype.newbyteorder("<" if self._order == "<" else ">")
        try:
            return decode_strip(data, self._compression, self._predictor, shape, dtype)
        except ValueError as error:
            raise InputError(
                f"damaged strip: {error}", path=self.path, where=where, advice="Write or copy the file again"
            ) from error


class StripCache:
    """Decoded strips, the least recently used forgotten first, bounded in bytes; may serve many files."""

    def __init__(self, limit_bytes: int) -> None:
        self._limit = limit_bytes
        self._size = 0
        self._strips: OrderedDict[Hashable, Band] = OrderedDict()
        self._lock = threading.Lock()

    @property
    def held_bytes(self) -> int:
        """Bytes of all strips that are held."""
        return self._size

    def get(self, key: Hashable) -> Band | None:
        """Return a strip, or None."""
        with self._lock:
            if key in self._strips:
                self._strips.move_to_end(key)
            return self._strips.get(key)

    def put(self, key: Hashable, strip: Band) -> None:
        """Keep a strip, unless it alone is over the limit."""
        with self._lock:
            if key in self._strips or strip.nbytes > self._limit:
                return
            self._strips[key] = strip
            self._size += strip.nbytes
            while self._size > self._limit:
                _, old = self._strips.popitem(last=False)
                self._size -= old.nbytes


def open_planes(path: str | Path, cache: StripCache | None = None) -> PlanesFile:
    """Open a separated multi-ink TIFF of 16, 8, 2 or 1 bits.

    Parameters
    ----------
    path : str or Path
        The file.
    cache : StripCache, optional
        Shared by several files that are open together; one of its own by default.

    Raises
    ------
    InputError
        When it is no such file, is cut short, or claims what it cannot hold; the tag or strip is named.
    StorageError
        When it cannot be read at all.
    """
    with storage_errors(path), open(path, "rb") as stream:
        identity = _identity(stream.fileno())
        directory = tags.read_directory(stream, identity[0], path)
    return _Checks(Path(path), directory, identity).planes_file(cache or StripCache(_CACHE_BYTES))


def _identity(handle: int) -> tuple[int, int]:
    status = os.fstat(handle)
    return status.st_size, status.st_mtime_ns


@dataclass(frozen=True)
class _Checks:
    """What the tags say, each value compared with what can be."""

    path: Path
    directory: tags.Directory
    identity: tuple[int, int]

    def fault(
        self, code: int, found: object, expected: str, message: str = "value cannot be used"
    ) -> InputError:
        return InputError(message, path=self.path, where=tags.tag_name(code), found=found, expected=expected)

    def number(self, code: int, low: int, high: int, default: int | None = None) -> int:
        values = self.directory.values.get(code)
        if values is None or len(values) == 0:
            if default is None:
                raise self.fault(code, "no such tag", f"{low} to {high}", "tag is missing")
            return default
        if len(values) > _MAX_INKS or (values != values[0]).any() or not low <= values[0] <= high:
            raise self.fault(code, _short(values[:5].tolist()), f"{low} to {high}")
        return int(values[0])

    def text(self, code: int) -> str | None:
        values = self.directory.values.get(code)
        return None if values is None else values.tobytes().decode("utf-8", "replace")

    def planes_file(self, cache: StripCache) -> PlanesFile:
        width = self.number(tags.IMAGE_WIDTH, 1, _MAX_WIDTH)
        height = self.number(tags.IMAGE_LENGTH, 1, _MAX_SIDE)
        inks = self.number(tags.SAMPLES_PER_PIXEL, 1, _MAX_INKS, 1)
        bits = self.bits(inks)
        self.separated()
        planar = self.number(tags.PLANAR_CONFIGURATION, 1, 2, 1)
        if inks > 1 and bits < 8 and planar != 2:
            raise self.fault(tags.PLANAR_CONFIGURATION, planar, "2 for 1 and 2 bits")
        code = self.number(tags.COMPRESSION, 1, 65535, 1)
        if code not in READABLE:
            raise self.fault(tags.COMPRESSION, code, ", ".join(f"{k} ({v})" for k, v in READABLE.items()))
        rows = min(self.number(tags.ROWS_PER_STRIP, 1, 2**32 - 1, height), height)
        planes = inks if bits < 8 or planar == 2 else 1
        row_bytes = -(-width * bits * (inks if planes == 1 else 1) // 8)
        if rows * row_bytes > _MAX_STRIP_BYTES:
            found = f"{rows} rows of {row_bytes} bytes"
            raise self.fault(tags.ROWS_PER_STRIP, found, f"strips of at most {_MAX_STRIP_BYTES} bytes")
        offsets, counts = self.strips(planes, -(-height // rows), rows * row_bytes, READABLE[code])
        return PlanesFile(
            path=self.path,
            height=height,
            width=width,
            channels=inks,
            bits=bits,
            pitch_mm=(self.pitch_mm(tags.X_RESOLUTION), self.pitch_mm(tags.Y_RESOLUTION)),
            ink_names=self.ink_names(inks),
            info=self.info(),
            rows_per_strip=rows,
            _compression=READABLE[code],
            _predictor=self.number(tags.PREDICTOR, 1, 1 if bits < 8 else 2, 1),
            _order=self.directory.order,
            _offsets=offsets,
            _counts=counts,
            _first=_first_of_equal(offsets, height % rows != 0),
            _identity=self.identity,
            _cache=cache,
        )

    def bits(self, inks: int) -> int:
        bits = self.number(tags.BITS_PER_SAMPLE, 1, 16, 1)
        if bits not in (1, 2, 8, 16):
            raise self.fault(tags.BITS_PER_SAMPLE, bits, "16, 8, 2 or 1")
        if self.number(tags.SAMPLE_FORMAT, 1, 4, 1) not in (1, 4):
            raise self.fault(tags.SAMPLE_FORMAT, "signed or floating point", "1 (unsigned)")
        return bits

    def separated(self) -> None:
        photometric = self.number(tags.PHOTOMETRIC, 0, 65535)
        if photometric != 5:
            raise InputError(
                "not ink planes",
                path=self.path,
                where=tags.tag_name(tags.PHOTOMETRIC),
                found=photometric,
                expected="5 (separated)",
                advice="Separate the artwork first",
            )
        if tags.TILE_WIDTH in self.directory.values:
            raise self.fault(tags.TILE_WIDTH, "tiles", "strips", "planes must be stored in strips")
        self.number(tags.FILL_ORDER, 1, 1, 1)

    def strips(
        self, planes: int, number: int, raw_bytes: int, compression: str
    ) -> tuple[NDArray[np.uint64], NDArray[np.uint64]]:
        tables = []
        for code in (tags.STRIP_OFFSETS, tags.STRIP_BYTE_COUNTS):
            values = self.directory.values.get(code)
            found = 0 if values is None else len(values)
            if values is None or found != planes * number:
                raise self.fault(code, f"{found} values", f"{planes * number}", "wrong number of strips")
            tables.append(values.astype(np.uint64).reshape(planes, number))
        offsets, counts = tables
        size = np.uint64(self.identity[0])
        bad = (offsets > size) | (counts > size - np.minimum(offsets, size)) | (counts == 0)
        bad |= counts > np.uint64(2 * raw_bytes + 65536)
        if compression == "none":
            last = (counts[:, -1:] > 0) & (counts[:, -1:] <= raw_bytes)
            bad |= np.concatenate([counts[:, :-1] != raw_bytes, ~last], axis=1)
        if bad.any():
            plane, strip = (int(i) for i in np.argwhere(bad)[0])
            raise InputError(
                "truncated or damaged TIFF: strip beyond the end of the file or of impossible length",
                path=self.path,
                where=f"strip {strip}" + (f" of plane {plane}" if planes > 1 else ""),
                found=f"{counts[plane, strip]} bytes at {offsets[plane, strip]}",
                expected=f"within {size} bytes, at most {raw_bytes} samples' bytes",
                advice="Write or copy the file again",
            )
        return offsets, counts

    def ink_names(self, inks: int) -> tuple[str, ...]:
        text = self.text(tags.INK_NAMES)
        if text is None:
            if inks == 4 and self.number(tags.INK_SET, 1, 2, 1) == 1:
                return ("C", "M", "Y", "K")
            raise self.fault(tags.INK_NAMES, "no such tag", f"{inks} names", "planes do not say their inks")
        names = tuple(text.rstrip("\0").split("\0"))
        if len(names) != inks or not all(name and name.isprintable() for name in names):
            raise self.fault(tags.INK_NAMES, _short(list(names)), f"{inks} printable names")
        return names

    def info(self) -> dict[str, Any]:
        try:
            value = json.loads((self.text(tags.IMAGE_DESCRIPTION) or "{}").rstrip("\0"))
        except (ValueError, RecursionError):
            return {}
        return value if isinstance(value, dict) else {}

    def pitch_mm(self, code: int) -> float:
        values = self.directory.values.get(code)
        unit = self.number(tags.RESOLUTION_UNIT, 1, 3, 2)
        if values is None or len(values) != 2 or 0 in values.tolist() or unit == 1:
            raise self.fault(
                code, "no resolution", "dots per inch or centimetre", "planes do not say their pitch"
            )
        return (10.0 if unit == 3 else MM_PER_INCH) / (int(values[0]) / int(values[1]))


def _short(values: list[Any]) -> str:
    return ", ".join(str(v)[:40] for v in values[:4]) + (" ..." if len(values) > 4 else "")


def _first_of_equal(offsets: NDArray[np.uint64], short_last: bool) -> NDArray[np.int64]:
    """Return for each strip the first strip that is stored in the same place, in all planes."""
    _, index, inverse = np.unique(offsets, axis=1, return_index=True, return_inverse=True)
    first = index[inverse.reshape(-1)].astype(np.int64)
    if short_last:
        first[-1] = len(first) - 1
    return first
