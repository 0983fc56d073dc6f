"""What the directory of a file of planes says, each number compared with what can be."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster import tiff_tags as tags
from strikeoff.raster.planes_file import PlanesFile
from strikeoff.raster.strip_cache import StripCache
from strikeoff.raster.tiff_codecs import READABLE

_MAX_SIDE = 1_000_000_000
_MAX_WIDTH = 4_000_000
_MAX_INKS = 64
_MAX_STRIP_BYTES = 512 << 20


@dataclass(frozen=True)
class TiffChecks:
    """What the tags say, each value compared with what can be."""

    path: Path
    directory: tags.Directory
    identity: tuple[int, int]

    def fault(
        self, code: int, found: object, expected: str, message: str = "value cannot be used"
    ) -> InputError:
        """Return the error of a tag."""
        return InputError(message, path=self.path, where=tags.tag_name(code), found=found, expected=expected)

    def number(self, code: int, low: int, high: int, default: int | None = None) -> int:
        """Return the one value of a tag within bounds."""
        values = self.directory.values.get(code)
        if values is None or len(values) == 0:
            if default is None:
                raise self.fault(code, "no such tag", f"{low} to {high}", "tag is missing")
            return default
        if len(values) > _MAX_INKS or (values != values[0]).any() or not low <= values[0] <= high:
            raise self.fault(code, _short(values[:5].tolist()), f"{low} to {high}")
        return int(values[0])

    def text(self, code: int) -> str | None:
        """Return the text of a tag, or None."""
        values = self.directory.values.get(code)
        return None if values is None else values.tobytes().decode("utf-8", "replace")

    def planes_file(self, cache: StripCache) -> PlanesFile:
        """Return the file that the directory describes."""
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
        """Return bits per sample."""
        bits = self.number(tags.BITS_PER_SAMPLE, 1, 16, 1)
        if bits not in (1, 2, 8, 16):
            raise self.fault(tags.BITS_PER_SAMPLE, bits, "16, 8, 2 or 1")
        if self.number(tags.SAMPLE_FORMAT, 1, 4, 1) not in (1, 4):
            raise self.fault(tags.SAMPLE_FORMAT, "signed or floating point", "1 (unsigned)")
        return bits

    def separated(self) -> None:
        """Raise an error for anything but ink planes in strips."""
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
        """Return offset and length of each strip of each plane, all within the file."""
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
        """Return the names of the inks."""
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
        """Return what the program that wrote the file says of it; empty for another."""
        try:
            value = json.loads((self.text(tags.IMAGE_DESCRIPTION) or "{}").rstrip("\0"))
        except (ValueError, RecursionError):
            return {}
        return value if isinstance(value, dict) else {}

    def pitch_mm(self, code: int) -> float:
        """Return the pitch that a tag of resolution gives. [mm]."""
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
