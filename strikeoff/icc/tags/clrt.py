"""colorantTableType (ICC.1:2022 clause 10.4): names and PCS colours of the colorants."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.base.errors import InputError
from strikeoff.icc.layout import Layout, part, tag_body, tag_bytes
from strikeoff.icc.tags.text import ascii_only

KIND = b"clrt"
NAME_BYTES = 31

_HEAD = Layout(("count", "I"))
_COLORANT = Layout(("name", "32s"), ("first", "H"), ("second", "H"), ("third", "H"))


@dataclass(frozen=True)
class Colorants:
    """Name and 16-bit PCS codes of each colorant, in channel order.

    Codes have the 16-bit Lab encoding of the profile's version, which the tag itself does not tell.
    """

    colorants: tuple[tuple[str, tuple[int, int, int]], ...]


def decode(data: bytes, where: str) -> Colorants:
    """Return the colorants."""
    body = tag_body(data, KIND, where)
    count = _HEAD.unpack(body, 0, where)["count"]
    part(body, _HEAD.size, count * _COLORANT.size, where)
    colorants = []
    for index in range(count):
        field = _COLORANT.unpack(body, _HEAD.size + index * _COLORANT.size, where)
        name = field["name"].partition(b"\0")[0].decode("latin-1")
        colorants.append((name, (field["first"], field["second"], field["third"])))
    return Colorants(tuple(colorants))


def encode(record: Colorants) -> bytes:
    """Return the tag's data.

    Raises
    ------
    InputError
        When a name takes more than 31 bytes in ASCII.
    """
    body = _HEAD.pack(count=len(record.colorants))
    for text, (first, second, third) in record.colorants:
        name = ascii_only(text)
        if len(name) > NAME_BYTES:
            raise InputError(
                "colorant name is too long", where="clrt", found=text, expected="31 ASCII characters"
            )
        body += _COLORANT.pack(name=name, first=first, second=second, third=third)
    return tag_bytes(KIND, body)
