"""Resource blocks of layered pictures, which TIFF carries too: channel names, profile, resolution."""

from __future__ import annotations

import struct
from dataclasses import dataclass

_PIXEL_RESOLUTION, _NAMES, _DISPLAY, _PROFILE = 1005, 1006, 1007, 1039
_UNICODE_NAMES, _VERSION, _DISPLAY_2 = 1045, 1057, 1077
_SPOT = 2
_MOST_NAMES = 64


@dataclass(frozen=True)
class ImageResources:
    """What the blocks say.

    Attributes
    ----------
    profile : bytes or None
        ICC profile.
    dpi : tuple of float or None
        Resolution (across, along).
    names : tuple of str
        Of the channels beyond the colour.
    is_spot : tuple of bool
        Whether each of those is a spot colour and no mask; empty when nothing is said.
    has_picture : bool
        Whether the merged picture is one.
    """

    profile: bytes | None = None
    dpi: tuple[float, float] | None = None
    names: tuple[str, ...] = ()
    is_spot: tuple[bool, ...] = ()
    has_picture: bool = True

    def spots(self, extra: int) -> dict[int, str]:
        """Return which of the ``extra`` last channels are spot colours, and their names.

        Lists shorter than the channels belong to the last of them: transparency is often left out.
        """
        shift = extra - len(self.is_spot)
        names = (("",) * max(0, extra - len(self.names)) + self.names)[-extra:] if extra else ()
        return {
            at: names[at] or f"Spot {at + 1}"
            for at in range(max(0, shift), extra)
            if self.is_spot[at - shift]
        }


def parse_resources(data: bytes) -> ImageResources:
    """Return what resource blocks say; what is damaged or cut off is left out.

    Parameters
    ----------
    data : bytes
        The block area of a layered picture, or the content of TIFF tag 34377.
    """
    found: dict[int, bytes] = {}
    at = 0
    while at + 12 <= len(data) and data[at : at + 4] in (b"8BIM", b"8B64"):
        (ident,) = struct.unpack_from(">H", data, at + 4)
        at += 6 + (data[at + 6] + 2) // 2 * 2
        if at + 4 > len(data):
            break
        (size,) = struct.unpack_from(">I", data, at)
        if at + 4 + size > len(data):
            break
        found.setdefault(ident, data[at + 4 : at + 4 + size])
        at += 4 + (size + 1) // 2 * 2
    names = _unicode_names(found.get(_UNICODE_NAMES, b"")) or _short_names(found.get(_NAMES, b""))
    version = found.get(_VERSION, b"\0\0\0\0\1")
    return ImageResources(
        profile=found.get(_PROFILE),
        dpi=_dpi(found.get(_PIXEL_RESOLUTION, b"")),
        names=names,
        is_spot=_kinds(found),
        has_picture=len(version) < 5 or version[4] != 0,
    )


def _dpi(block: bytes) -> tuple[float, float] | None:
    if len(block) < 16:
        return None
    across, along = struct.unpack_from(">I", block, 0)[0], struct.unpack_from(">I", block, 8)[0]
    return across / 65536.0, along / 65536.0


def _kinds(found: dict[int, bytes]) -> tuple[bool, ...]:
    if _DISPLAY_2 in found:
        block, size = found[_DISPLAY_2][4:], 13
    else:
        block, size = found.get(_DISPLAY, b""), 14
    count = min(len(block) // size, _MOST_NAMES)
    return tuple(block[i * size + 12] == _SPOT for i in range(count))


def _short_names(block: bytes) -> tuple[str, ...]:
    names: list[str] = []
    at = 0
    while at < len(block) and len(names) < _MOST_NAMES:
        size = block[at]
        names.append(block[at + 1 : at + 1 + size].decode("latin-1"))
        at += 1 + size
    return tuple(names)


def _unicode_names(block: bytes) -> tuple[str, ...]:
    names: list[str] = []
    at = 0
    while at + 4 <= len(block) and len(names) < _MOST_NAMES:
        (size,) = struct.unpack_from(">I", block, at)
        if at + 4 + 2 * size > len(block):
            break
        names.append(block[at + 4 : at + 4 + 2 * size].decode("utf-16-be", "replace").rstrip("\0"))
        at += 4 + 2 * size
    return tuple(names)
