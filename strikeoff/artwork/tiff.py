"""TIFF pictures as artwork: which colours the tags speak of, and which channels carry them.

tifffile reads the tags and decodes single segments. Sizes are checked by `tiff_segments` before anything is
allocated, and the bytes are fetched by `tiff_source`, so that a header can claim what it likes.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.artwork.decoded import Alpha, Decoded, NamedChannel, decoding, plausible_dpi
from strikeoff.artwork.image_resources import ImageResources, parse_resources
from strikeoff.artwork.pixels import MappedSource, through_palette
from strikeoff.artwork.records import CHANNELS, Kind
from strikeoff.artwork.samples import codes_of, lab_codes
from strikeoff.artwork.tiff_messages import messages_as_problems
from strikeoff.artwork.tiff_segments import page_source
from strikeoff.artwork.tiff_source import TiffSource
from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.inks.roles import process_role
from strikeoff.raster.bands import Band, BandSource

_KINDS: dict[int, Kind] = {0: "grey", 1: "grey", 2: "rgb", 3: "rgb", 5: "cmyk", 6: "rgb", 8: "lab", 9: "lab"}
_PALETTE, _YCBCR, _CIELAB, _JPEG = 3, 6, 8, (6, 7)
_ALPHA: dict[int, Alpha] = {1: "premultiplied", 2: "straight"}


def read_tiff(path: str) -> Decoded:
    """Open the first page of a TIFF or BigTIFF: grey, RGB, palette, CMYK or Lab, with spot channels.

    Integers of 1 to 16 and 32 bits and floats; see `codes_of` for what becomes of them.

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
    with messages_as_problems(problems), decoding(path, "TIFF"), tifffile.TiffFile(path) as tiff:
        page = tiff.pages.first
        size = Path(path).stat().st_size
        kind = _kind(page, path)
        dtype = _dtype(page, kind, path)
        colours = 1 if page.photometric == _PALETTE else CHANNELS[kind]
        samples = int(page.samplesperpixel)
        if samples < colours:
            raise InputError(
                "too few samples in a pixel", path=path, where="tag 277", found=samples, expected=colours
            )
        source = page_source(page, path, size, samples, dtype, tiff.byteorder)
        block = page.tags.valueof(34377)
        resources = parse_resources(block) if isinstance(block, bytes) else ImageResources()
        alpha = _alpha(page, samples - colours)
        named = _named(page, kind, samples, alpha, resources, problems)
        if len(tiff.pages) > 1:
            problems.append(
                Problem("warning", "TIFF", "more than one page: the first is taken", str(len(tiff.pages)))
            )
        if dtype.kind == "f":
            problems.append(
                Problem("warning", "tag 339", "samples below 0 or above 1 are cut", "floats", "0-1")
            )
        value = page.tags.valueof(34675)
        is_indexed = page.photometric == _PALETTE
        return Decoded(
            source=_unpaletted(page, source, path) if is_indexed else _codes(page, source, kind, path),
            kind=kind,
            alpha="none" if is_indexed else alpha,
            orientation=_orientation(page, problems),
            inverted=page.photometric == 0,
            profile=bytes(value) if isinstance(value, bytes) else None,
            dpi=_dpi(page),
            problems=tuple(problems),
            named=() if is_indexed else named,
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
            expected="grey, RGB, palette, CMYK or Lab",
            advice="Save it as RGB or CMYK with an embedded profile",
        )
    names = _ink_names(page)
    is_cmyk = [process_role(name) for name in names[:4]] == list("CMYK") if names else True
    if kind == "cmyk" and not (is_cmyk and (page.tags.valueof(332, 1) == 1 or names)):
        raise InputError(
            "TIFF with inks other than CMYK is a separation, not artwork",
            path=path,
            where="tag 332",
            advice="Give the design file that it was made from",
        )
    return kind


def _ink_names(page: Any) -> tuple[str, ...]:
    value = page.tags.valueof(333)
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    return tuple(name.strip() for name in value.split("\0") if name.strip()) if value else ()


def _dtype(page: Any, kind: Kind, path: str) -> np.dtype[Any]:
    bits, form = page.bitspersample, int(page.sampleformat)
    is_whole = isinstance(bits, int) and form in (1, 4) and (1 <= bits <= 16 or bits == 32)
    if page.photometric == _PALETTE:
        is_whole = is_whole and bits <= 16
    if kind == "lab":
        # Signed numbers may be said to be so, or not, TIFF 6.0 section 23.
        is_whole = bits in (8, 16) and form in (1, 2)
    is_float = kind != "lab" and page.photometric != _PALETTE and form == 3 and bits in (16, 32, 64)
    if not (is_whole or is_float):
        raise InputError(
            "samples of a kind that is not read",
            path=path,
            where="tag 258",
            found=f"{bits} bits, format {form}",
            expected="unsigned integers of 1 to 16 or 32 bits, or floats",
            advice="Save it with 8 or 16 bits per channel",
        )
    if is_float:
        return np.dtype(f"f{bits // 8}")
    return np.dtype(np.uint8 if bits <= 8 else np.uint16 if bits <= 16 else np.uint32)


def _alpha(page: Any, extra: int) -> Alpha:
    stated = page.extrasamples or ()
    return _ALPHA.get(int(stated[0]), "none") if stated and extra > 0 else "none"


def _named(
    page: Any, kind: Kind, samples: int, alpha: Alpha, resources: ImageResources, problems: list[Problem]
) -> tuple[NamedChannel, ...]:
    """Return the spot channels: those that tag 333 names beyond CMYK, or that resource blocks describe."""
    colours = CHANNELS[kind]
    extra = samples - colours
    if page.photometric == _PALETTE or extra <= 0:
        return ()
    names = _ink_names(page)
    if kind == "cmyk" and len(names) == samples:
        named = [NamedChannel(name, at, False) for at, name in enumerate(names) if at >= colours]
    else:
        spots = resources.spots(extra)
        if alpha != "none":
            spots.pop(0, None)
        named = [NamedChannel(name, colours + at, True) for at, name in sorted(spots.items())]
        if named:
            problems.append(
                Problem(
                    "note",
                    "tag 34377",
                    "spot channels are taken as full ink at 0",
                    found=", ".join(channel.name for channel in named)[:200],
                    advice="Look at the proof",
                )
            )
    others = extra - len(named) - (alpha != "none")
    if others:
        problems.append(
            Problem("warning", "tag 338", "channels beyond the colour are not printed", str(others))
        )
    return tuple(named)


def _codes(page: Any, source: TiffSource, kind: Kind, path: str) -> BandSource:
    bits = int(page.bitspersample)
    if kind == "lab":
        is_signed = int(page.photometric) == _CIELAB
        # ICC's 16-bit L* of 100 is FF00 hex.
        full_l = 255 if bits == 8 else 65535 if is_signed else 65280

        def change(band: Band) -> Band:
            colour = lab_codes(band[..., :3], signed=is_signed, full_l=full_l)
            return np.concatenate([colour, band[..., 3:]], axis=2) if band.shape[2] > 3 else colour
    elif bits in (8, 16) and source.dtype.kind == "u":
        return source
    else:

        def change(band: Band) -> Band:
            with decoding(path, "samples"):
                return codes_of(band, bits)

    dtype = np.dtype(np.uint8 if bits <= 8 and source.dtype.kind == "u" else np.uint16)
    return MappedSource(source, change, source.channels, dtype, source.pitch_mm)


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
