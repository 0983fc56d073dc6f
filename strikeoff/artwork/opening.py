"""Opening a customer's image: which format, which colour space, what was noticed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from strikeoff.artwork.colour import profile_fault
from strikeoff.artwork.decoded import Decoded, check_whole_size
from strikeoff.artwork.jpeg import read_jpeg
from strikeoff.artwork.pdf import read_pdf
from strikeoff.artwork.pdf_wish import PageWish
from strikeoff.artwork.pixels import (
    ORIENTATIONS,
    MappedSource,
    inverted,
    over_cloth,
    turn,
    with_pitch,
)
from strikeoff.artwork.png import read_png
from strikeoff.artwork.psd import read_psd
from strikeoff.artwork.records import CHANNELS, FALLBACK_DPI, Artwork, Kind
from strikeoff.artwork.tiff import read_tiff
from strikeoff.base.canonical import digest_file
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes, storage_errors
from strikeoff.base.problems import Problem, Severity
from strikeoff.base.units import pitch_mm
from strikeoff.raster.bands import ArraySource, Band, BandSource
from strikeoff.raster.flipped import flipped

_READERS: dict[str, Callable[[str], Decoded]] = {
    "TIFF": read_tiff,
    "JPEG": read_jpeg,
    "PNG": read_png,
    "PSD": read_psd,
}
_EXPECTED = "PDF, TIFF, JPEG, PNG or PSD"
_MAGIC: tuple[tuple[bytes, str], ...] = (
    (b"II*\0", "TIFF"),
    (b"MM\0*", "TIFF"),
    (b"II+\0", "TIFF"),
    (b"MM\0+", "TIFF"),
    (b"\xff\xd8\xff", "JPEG"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"%PDF", "PDF"),
    (b"8BPS", "PSD"),
    (b"GIF8", "GIF"),
    (b"BM", "bitmap"),
    (b"RIFF", "WebP or another RIFF"),
    (b"%!PS", "PostScript"),
)
_SUFFIXES = {
    ".tif": "TIFF", ".tiff": "TIFF", ".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG", ".pdf": "PDF",
    ".psd": "PSD", ".psb": "PSD",
}  # fmt: skip
# ISO 32000-2, implementation notes: the header may stand anywhere in the first kilobyte.
_HEAD_BYTES = 1024
_MAX_PROFILE_BYTES = 64 << 20


def open_artwork(
    path: str | Path,
    *,
    default_rgb: str = "srgb",
    assume_profile: str | Path | None = None,
    wish: PageWish | None = None,
) -> Artwork:
    """Open a PDF page, TIFF, JPEG, PNG or PSD for separation.

    Parameters
    ----------
    path : path-like
        The file; its content decides the format, not its name.
    default_rgb : {"srgb"}
        What RGB and grey pixels without a profile are taken for.
    assume_profile : path-like, optional
        ICC profile file for pixels that carry none, when it fits them.
    wish : PageWish, optional
        Page, box and pitch of a PDF; its first page, trimmed, at 300 dpi by default.

    Returns
    -------
    Artwork
        With every oddity in ``problems``: alpha laid over bare cloth, turned pixels, a profile that
        does not fit, ignored channels.

    Raises
    ------
    StorageError
        When the file cannot be read.
    InputError
        When it is empty, of another format, damaged, cut off, or claims more than its bytes hold.
    """
    if default_rgb != "srgb":
        raise UsageError("unknown default colour space", found=default_rgb, expected="srgb")
    name = str(path)
    form = _format(name)
    if form == "PDF":
        assumed = (None, "") if assume_profile is None else _assumed(assume_profile)
        decoded = read_pdf(name, wish or PageWish(), *assumed)
    else:
        decoded = _READERS[form](name)
    problems = list(decoded.problems)
    suffix = Path(name).suffix.lower()
    if suffix in _SUFFIXES and _SUFFIXES[suffix] != form:
        problems.append(Problem("warning", "file name", "does not fit the content", suffix, form))
    planes = _turned(_plain(decoded, problems), decoded, name)
    if decoded.orientation != 1:
        problems.append(
            Problem("warning", "orientation", "turned as the file asks", found=str(decoded.orientation))
        )
    dpi = decoded.dpi
    if dpi is not None and ORIENTATIONS[decoded.orientation][0]:
        dpi = dpi[1], dpi[0]
    if dpi is None:
        problems.append(
            Problem("note", "resolution", "the file states none", advice="Size it by width or repeat")
        )
    if decoded.profile_origin is None:
        profile, origin = _profile(decoded, problems, assume_profile)
    else:
        profile, origin = decoded.profile, decoded.profile_origin
        if origin in _NO_PROFILE:
            problems.append(_NO_PROFILE[origin])
    across, along = dpi or (FALLBACK_DPI, FALLBACK_DPI)
    pitch = pitch_mm(across), pitch_mm(along)
    planes, cover = with_pitch(planes, pitch), _cover(decoded, name)
    return Artwork(
        source=_without_named(planes, CHANNELS[decoded.kind]),
        kind=decoded.kind,
        bits=8 * planes.dtype.itemsize,
        profile=profile,
        profile_origin=origin,
        width=planes.width,
        height=planes.height,
        dpi=dpi,
        problems=tuple(problems),
        digest=digest_file(name),
        path=name,
        planes=planes,
        named=tuple(channel.name for channel in decoded.named),
        page=decoded.page,
        box=decoded.box,
        classes=decoded.classes,
        cover=None if cover is None else with_pitch(cover, pitch),
    )


def read_decoded(name: str) -> Decoded | None:
    """Return the samples of a picture as they are stored, alpha included; None for a PDF."""
    form = _format(name)
    return None if form == "PDF" else _READERS[form](name)


def _format(name: str) -> str:
    with storage_errors(name), open(name, "rb") as stream:
        head = stream.read(_HEAD_BYTES)
    if not head:
        raise InputError("file is empty", path=name, expected=_EXPECTED)
    form = next((form for magic, form in _MAGIC if head.startswith(magic)), None)
    if form is None and b"%PDF-" in head:
        form = "PDF"
    if form == "PDF" or form in _READERS:
        return str(form)
    text = all(byte >= 32 or byte in b"\t\n\r\f" for byte in head)
    raise InputError(
        "file is no picture that is read here",
        path=name,
        found=form or ("text" if text else f"bytes {head[:8].hex(' ')}"),
        expected=_EXPECTED,
        advice="Save the artwork as TIFF with an embedded profile",
    )


def _plain(decoded: Decoded, problems: list[Problem]) -> BandSource:
    """Return colour samples as the kind says, laid over bare cloth, and then the named ones."""
    source, colours = decoded.source, CHANNELS[decoded.kind]
    flip, named = decoded.inverted, decoded.named
    alpha = "none" if decoded.alpha == "matted" else decoded.alpha
    if alpha != "none":
        problems.append(
            Problem("warning", "alpha", "transparency is laid over bare cloth", advice="Flatten it to choose")
        )
    in_order = tuple(channel.index for channel in named) == tuple(range(colours, source.channels))
    if not flip and alpha == "none" and in_order and not any(channel.is_inverted for channel in named):
        return source
    bare = bare_codes(decoded.kind, int(np.iinfo(source.dtype).max))

    def change(band: Band) -> Band:
        colour = band[..., :colours]
        if flip:
            colour = inverted(colour)
        if alpha != "none":
            colour = over_cloth(colour, band[..., colours], bare=bare, premultiplied=alpha == "premultiplied")
        planes = [band[..., c.index : c.index + 1] for c in named]
        planes = [inverted(p) if c.is_inverted else p for p, c in zip(planes, named, strict=True)]
        return np.concatenate([colour, *planes], axis=2) if planes else np.ascontiguousarray(colour)

    return MappedSource(source, change, colours + len(named), source.dtype, source.pitch_mm)


def bare_codes(kind: Kind, full: int) -> tuple[int, ...]:
    """Return the samples of white, over which transparent artwork lies."""
    if kind == "lab":
        neutral = 128 * (full // 255)
        return full, neutral, neutral
    return (0 if kind == "cmyk" else full,) * CHANNELS[kind]


def _without_named(planes: BandSource, colours: int) -> BandSource:
    if planes.channels == colours:
        return planes
    return MappedSource(
        planes, lambda band: np.ascontiguousarray(band[..., :colours]), colours, planes.dtype, planes.pitch_mm
    )


def alpha_of(decoded: Decoded, name: str) -> BandSource:
    """Return the alpha of a picture that has one as one channel, turned as the file asks."""
    channel, source = CHANNELS[decoded.kind], decoded.source
    plane = MappedSource(
        source,
        lambda band: np.ascontiguousarray(band[..., channel : channel + 1]),
        1,
        source.dtype,
        source.pitch_mm,
    )
    return _turned(plane, decoded, name)


def _cover(decoded: Decoded, name: str) -> BandSource | None:
    """Return how much of each pixel is covered: alpha, or on a page everything that is drawn."""
    if decoded.classes is not None:
        drawn = decoded.classes
        return MappedSource(
            drawn,
            lambda band: np.where(band > 0, 255, 0).astype(np.uint8),
            1,
            np.dtype(np.uint8),
            drawn.pitch_mm,
        )
    return None if decoded.alpha == "none" else alpha_of(decoded, name)


def _turned(source: BandSource, decoded: Decoded, name: str) -> BandSource:
    if decoded.orientation == 1:
        return source
    transpose, upside_down, mirrored = ORIENTATIONS[decoded.orientation]
    if not transpose:
        upright = flipped(source, (mirrored, upside_down))
        return MappedSource(upright, np.ascontiguousarray, source.channels, source.dtype, source.pitch_mm)
    check_whole_size(source.width, source.height, name, "Turn it in an editor and save it upright")
    return ArraySource(turn(source.read(0, source.height), decoded.orientation))


def _profile(
    decoded: Decoded, problems: list[Problem], assume_profile: str | Path | None
) -> tuple[bytes | None, str]:
    if decoded.kind == "lab":
        return None, "Lab"
    if decoded.profile is not None:
        fault = profile_fault(decoded.profile, decoded.kind)
        if fault is None:
            return decoded.profile, "embedded"
        problems.append(
            Problem(
                "warning",
                "profile",
                f"the embedded profile is not used: {fault}",
                advice="Check the colours, or have the file saved with the right profile",
            )
        )
    elif decoded.says_srgb and decoded.kind == "rgb":
        return None, "stated sRGB"
    if assume_profile is not None:
        data, name = _assumed(assume_profile)
        fault = profile_fault(data, decoded.kind)
        if fault is not None:
            raise InputError("the assumed profile does not fit the artwork", path=assume_profile, found=fault)
        return data, f"assumed: {name}"
    origin = {"cmyk": "none", "rgb": "assumed sRGB", "grey": "assumed sRGB grey curve"}[decoded.kind]
    problems.append(_NO_PROFILE[origin])
    return None, origin


def _assumed(path: str | Path) -> tuple[bytes, str]:
    return read_bytes(path, _MAX_PROFILE_BYTES), Path(path).name


def _without_profile(what: str, severity: Severity, advice: str) -> Problem:
    return Problem(severity, "profile", what, found="none", advice=advice)


_NO_PROFILE = {
    "none": _without_profile(
        "CMYK without a usable profile has no known colour",
        "warning",
        "Name the profile that it was made for",
    ),
    "assumed sRGB": _without_profile(
        "RGB without a profile is taken for sRGB", "note", "Have it saved with its profile, or name that"
    ),
    "assumed sRGB grey curve": _without_profile(
        "grey without a profile is taken for the curve of sRGB", "note", "Have it saved with its profile"
    ),
}
