"""Opening a customer's image: which format, which colour space, what was noticed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from strikeoff.artwork.colour import profile_fault
from strikeoff.artwork.decoded import Decoded, check_whole_size
from strikeoff.artwork.jpeg import read_jpeg
from strikeoff.artwork.pixels import (
    ORIENTATIONS,
    FlippedSource,
    MappedSource,
    inverted,
    over_cloth,
    turn,
    with_pitch,
)
from strikeoff.artwork.png import read_png
from strikeoff.artwork.records import CHANNELS, FALLBACK_DPI, Artwork
from strikeoff.artwork.tiff import read_tiff
from strikeoff.base.canonical import digest_file
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes, storage_errors
from strikeoff.base.problems import Problem
from strikeoff.base.units import pitch_mm
from strikeoff.raster.bands import ArraySource, Band, BandSource

_READERS: dict[str, Callable[[str], Decoded]] = {"TIFF": read_tiff, "JPEG": read_jpeg, "PNG": read_png}
_MAGIC: tuple[tuple[bytes, str], ...] = (
    (b"II*\0", "TIFF"),
    (b"MM\0*", "TIFF"),
    (b"II+\0", "TIFF"),
    (b"MM\0+", "TIFF"),
    (b"\xff\xd8\xff", "JPEG"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"%PDF", "PDF"),
    (b"8BPS", "layered picture"),
    (b"GIF8", "GIF"),
    (b"BM", "bitmap"),
    (b"RIFF", "WebP or another RIFF"),
    (b"%!PS", "PostScript"),
)
_SUFFIXES = {".tif": "TIFF", ".tiff": "TIFF", ".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG"}
_MAX_PROFILE_BYTES = 64 << 20


def open_artwork(
    path: str | Path, *, default_rgb: str = "srgb", assume_profile: str | Path | None = None
) -> Artwork:
    """Open a TIFF, JPEG or PNG for separation.

    Parameters
    ----------
    path : path-like
        The file; its content decides the format, not its name.
    default_rgb : {"srgb"}
        What RGB and grey pixels without a profile are taken for.
    assume_profile : path-like, optional
        ICC profile file for pixels that carry none, when it fits them.

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
    decoded = _READERS[form](name)
    problems = list(decoded.problems)
    suffix = Path(name).suffix.lower()
    if suffix in _SUFFIXES and _SUFFIXES[suffix] != form:
        problems.append(Problem("warning", "file name", "does not fit the content", suffix, form))
    source = _turned(_plain(decoded, problems), decoded, problems, name)
    dpi = decoded.dpi
    if dpi is not None and ORIENTATIONS[decoded.orientation][0]:
        dpi = dpi[1], dpi[0]
    if dpi is None:
        problems.append(
            Problem("note", "resolution", "the file states none", advice="Size it by width or repeat")
        )
    profile, origin = _profile(decoded, problems, assume_profile)
    across, along = dpi or (FALLBACK_DPI, FALLBACK_DPI)
    return Artwork(
        source=with_pitch(source, (pitch_mm(across), pitch_mm(along))),
        kind=decoded.kind,
        bits=8 * source.dtype.itemsize,
        profile=profile,
        profile_origin=origin,
        width=source.width,
        height=source.height,
        dpi=dpi,
        problems=tuple(problems),
        digest=digest_file(name),
        path=name,
    )


def _format(name: str) -> str:
    with storage_errors(name), open(name, "rb") as stream:
        head = stream.read(512)
    if not head:
        raise InputError("file is empty", path=name, expected="TIFF, JPEG or PNG")
    form = next((form for magic, form in _MAGIC if head.startswith(magic)), None)
    if form in _READERS:
        return form
    text = all(byte >= 32 or byte in b"\t\n\r\f" for byte in head)
    raise InputError(
        "file is no picture that is read here",
        path=name,
        found=form or ("text" if text else f"bytes {head[:8].hex(' ')}"),
        expected="TIFF, JPEG or PNG",
        advice="Save the artwork as TIFF with an embedded profile",
    )


def _plain(decoded: Decoded, problems: list[Problem]) -> BandSource:
    source, colours = decoded.source, CHANNELS[decoded.kind]
    full = int(np.iinfo(source.dtype).max)
    bare = 0 if decoded.kind == "cmyk" else full
    flip, alpha = decoded.inverted, decoded.alpha
    if alpha != "none":
        problems.append(
            Problem("warning", "alpha", "transparency is laid over bare cloth", advice="Flatten it to choose")
        )
    if not flip and alpha == "none" and source.channels == colours:
        return source

    def change(band: Band) -> Band:
        colour = band[..., :colours]
        if flip:
            colour = inverted(colour)
        if alpha != "none":
            colour = over_cloth(colour, band[..., colours], bare=bare, premultiplied=alpha == "premultiplied")
        return np.ascontiguousarray(colour)

    return MappedSource(source, change, colours, source.dtype, source.pitch_mm)


def _turned(source: BandSource, decoded: Decoded, problems: list[Problem], name: str) -> BandSource:
    if decoded.orientation == 1:
        return source
    problems.append(
        Problem("warning", "orientation", "turned as the file asks", found=str(decoded.orientation))
    )
    transpose, upside_down, mirrored = ORIENTATIONS[decoded.orientation]
    if not transpose:
        return FlippedSource(source, upside_down, mirrored)
    check_whole_size(source.width, source.height, name, "Turn it in an editor and save it upright")
    return ArraySource(turn(source.read(0, source.height), decoded.orientation))


def _profile(
    decoded: Decoded, problems: list[Problem], assume_profile: str | Path | None
) -> tuple[bytes | None, str]:
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
        data = read_bytes(assume_profile, _MAX_PROFILE_BYTES)
        fault = profile_fault(data, decoded.kind)
        if fault is not None:
            raise InputError("the assumed profile does not fit the artwork", path=assume_profile, found=fault)
        return data, f"assumed: {Path(assume_profile).name}"
    if decoded.kind == "cmyk":
        problems.append(
            Problem(
                "warning",
                "profile",
                "CMYK without a usable profile has no known colour",
                advice="Name the profile that it was made for",
            )
        )
        return None, "none"
    return None, "assumed sRGB" if decoded.kind == "rgb" else "assumed sRGB grey curve"
