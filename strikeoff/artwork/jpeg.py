"""JPEG pictures, decoded in one piece."""

from __future__ import annotations

import io
import warnings
from typing import Any

import numpy as np

from strikeoff.artwork.decoded import Decoded, check_whole_size, decoding, plausible_dpi
from strikeoff.artwork.records import Kind
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem
from strikeoff.raster.bands import ArraySource

_MAX_BYTES = 2 << 30
_EXIF_ORIENTATION = 0x0112
_KINDS: dict[str, Kind] = {"L": "grey", "RGB": "rgb", "CMYK": "cmyk"}
# Most JPEG code stops at this side, far below the 65,535 that the format can state.
_SIDE_LIMIT = 65_500


def read_jpeg(path: str) -> Decoded:
    """Decode a baseline or progressive JPEG: grey, RGB (YCbCr) or CMYK (YCCK).

    Raises
    ------
    InputError
        When it is cut off, damaged or larger than may be decoded at once.

    References
    ----------
    ITU-T T.81 (ISO/IEC 10918-1) annex B; ITU-T T.872 for the marker that says CMYK is stored inverted.
    """
    from PIL import JpegImagePlugin

    data = read_bytes(path, _MAX_BYTES)
    problems: list[Problem] = []
    with decoding(path, "JPEG"), warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        # The class itself: Pillow's general opener holds a process-wide pixel limit of its own.
        image = JpegImagePlugin.JpegImageFile(io.BytesIO(data))
        check_whole_size(*image.size, path, "Save it as TIFF, which is read in bands")
        if image.mode not in _KINDS:
            raise InputError("JPEG of an unknown kind", path=path, found=image.mode)
        _check_end(data, path)
        info: dict[Any, Any] = dict(image.info)
        orientation = _orientation(image, problems)
        image.load()
        array = np.asarray(image)
    array = array.reshape(*array.shape[:2], -1)
    problems += [Problem("note", "JPEG", str(w.message)) for w in caught]
    if max(image.size) > _SIDE_LIMIT:
        problems.append(
            Problem(
                "warning",
                "JPEG",
                "longer than many programs can read",
                str(max(image.size)),
                str(_SIDE_LIMIT),
            )
        )
    if image.mode == "CMYK" and "adobe" not in info:
        # Pillow undoes the usual inversion always; without the marker the values are meant as they are.
        array = 255 - array
        problems.append(
            Problem(
                "warning",
                "JPEG",
                "CMYK without the marker that says how it is stored",
                advice="Taken as 0 = no ink; look at the preview",
            )
        )
    dpi = info.get("dpi")
    profile = info.get("icc_profile")
    return Decoded(
        source=ArraySource(array),
        kind=_KINDS[image.mode],
        orientation=orientation,
        profile=profile if isinstance(profile, bytes) else None,
        dpi=plausible_dpi(*dpi) if isinstance(dpi, tuple) and len(dpi) == 2 else None,
        problems=tuple(problems),
    )


def _check_end(data: bytes, path: str) -> None:
    # libjpeg fills what is missing with grey and goes on; the end marker tells the truth. Thumbnails
    # in the header bring end markers of their own, so the search starts where the first scan does;
    # within a scan no other byte pair looks like it.
    if data.find(b"\xff\xd9", _first_scan(data)) < 0:
        raise InputError(
            "JPEG is cut off",
            path=path,
            where=f"byte {len(data)}",
            expected="an end-of-image marker",
            advice="Ask for the file again",
        )


def _first_scan(data: bytes) -> int:
    at = 2
    while at + 4 <= len(data):
        if data[at] != 0xFF or data[at + 1] == 0xFF:
            at += 1
        elif data[at + 1] == 0xDA:
            return at
        else:
            at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return len(data)


def _orientation(image: Any, problems: list[Problem]) -> int:
    try:
        value = image.getexif().get(_EXIF_ORIENTATION, 1)
    except Exception as error:  # damaged EXIF may raise anything and says nothing about the pixels
        problems.append(Problem("warning", "EXIF", "damaged and ignored", found=str(error)[:100]))
        return 1
    if value not in range(1, 9):
        problems.append(Problem("warning", "EXIF", "unknown orientation", found=str(value), expected="1-8"))
        return 1
    return int(value)
