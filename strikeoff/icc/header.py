"""The 128-byte profile header (ICC.1:2022 clause 7.2)."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.base.errors import InputError
from strikeoff.icc.encoding import D50_WORDS
from strikeoff.icc.layout import Layout

HEADER_SIZE = 128
VERSION_2_4 = 0x02400000
VERSION_4_4 = 0x04400000

_LAYOUT = Layout(
    ("size", "I"),
    ("cmm", "4s"),
    ("version", "I"),
    ("device_class", "4s"),
    ("colour_space", "4s"),
    ("pcs", "4s"),
    ("year", "H"),
    ("month", "H"),
    ("day", "H"),
    ("hour", "H"),
    ("minute", "H"),
    ("second", "H"),
    ("magic", "4s"),
    ("platform", "4s"),
    ("flags", "I"),
    ("manufacturer", "4s"),
    ("model", "4s"),
    ("attributes", "Q"),
    ("intent", "I"),
    ("illuminant_x", "i"),
    ("illuminant_y", "i"),
    ("illuminant_z", "i"),
    ("creator", "4s"),
    ("profile_id", "16s"),
    ("reserved", "28s"),
)

_CHANNELS = {"GRAY": 1, "CMYK": 4, "CMY ": 3, "RGB ": 3, "Lab ": 3, "XYZ ": 3, "Luv ": 3, "YCbr": 3}
_CHANNELS |= {"Yxy ": 3, "HSV ": 3, "HLS ": 3} | {f"{n:X}CLR": n for n in range(2, 16)}

#: What bytes 44-47, 64-67 and 84-99 hold is left out of the profile ID (clause 7.2.18).
ID_BLANKS = ((44, 48), (64, 68), (84, 100))


def signature(word: bytes) -> str:
    """Return a four-byte signature as text; any byte survives.

    Examples
    --------
    >>> signature(b"CMYK")
    'CMYK'
    """
    return word.decode("latin-1")


def signature_bytes(text: str) -> bytes:
    """Return a signature's four bytes, filled with spaces.

    Examples
    --------
    >>> signature_bytes("RGB")
    b'RGB '
    """
    word = text.encode("latin-1").ljust(4)
    if len(word) != 4:
        raise ValueError(f"signature of {len(word)} characters: {text!r}")
    return word


def channels(colour_space: str) -> int:
    """Return how many channels a colour space signature has.

    Raises
    ------
    InputError
        When the signature is none of ICC.1's.

    Examples
    --------
    >>> channels("CMYK"), channels("6CLR"), channels("RGB")
    (4, 6, 3)
    """
    try:
        return _CHANNELS[colour_space.ljust(4)]
    except KeyError:
        raise InputError(
            "unknown colour space", where="header", found=repr(colour_space), expected=", ".join(_CHANNELS)
        ) from None


@dataclass(frozen=True)
class Header:
    """Header fields; signatures are four characters, the illuminant is in s15Fixed16 words.

    Size and magic word are left to the writer, as is the profile ID in version 4.
    """

    version: int
    device_class: str
    colour_space: str
    pcs: str = "Lab "
    date: tuple[int, int, int, int, int, int] = (0, 0, 0, 0, 0, 0)
    cmm: str = "\0\0\0\0"
    platform: str = "\0\0\0\0"
    flags: int = 0
    manufacturer: str = "\0\0\0\0"
    model: str = "\0\0\0\0"
    attributes: int = 0
    intent: int = 0
    illuminant: tuple[int, int, int] = D50_WORDS
    creator: str = "\0\0\0\0"
    profile_id: bytes = bytes(16)

    @property
    def major(self) -> int:
        """Major version: 2 or 4."""
        return self.version >> 24


def decode_header(data: bytes) -> tuple[Header, int]:
    """Return the header and the size that it states [bytes].

    Raises
    ------
    InputError
        When the data are shorter than a header or the magic word is not 'acsp'.
    """
    field = _LAYOUT.unpack(data, 0, "header")
    if field["magic"] != b"acsp":
        raise InputError(
            "not an ICC profile",
            where="header",
            found=repr(field["magic"].decode("latin-1")),
            expected="'acsp' at byte 36",
            advice="Choose an ICC profile (.icc or .icm), or get a fresh copy of it",
        )
    y, mo, d, h, mi, s = (field[name] for name in ("year", "month", "day", "hour", "minute", "second"))
    header = Header(
        version=field["version"],
        device_class=signature(field["device_class"]),
        colour_space=signature(field["colour_space"]),
        pcs=signature(field["pcs"]),
        date=(y, mo, d, h, mi, s),
        cmm=signature(field["cmm"]),
        platform=signature(field["platform"]),
        flags=field["flags"],
        manufacturer=signature(field["manufacturer"]),
        model=signature(field["model"]),
        attributes=field["attributes"],
        intent=field["intent"],
        illuminant=(field["illuminant_x"], field["illuminant_y"], field["illuminant_z"]),
        creator=signature(field["creator"]),
        profile_id=field["profile_id"],
    )
    return header, int(field["size"])


def encode_header(header: Header, size: int, profile_id: bytes) -> bytes:
    """Return the header's 128 bytes."""
    year, month, day, hour, minute, second = header.date
    x, y, z = header.illuminant
    return _LAYOUT.pack(
        size=size,
        cmm=signature_bytes(header.cmm),
        version=header.version,
        device_class=signature_bytes(header.device_class),
        colour_space=signature_bytes(header.colour_space),
        pcs=signature_bytes(header.pcs),
        year=year,
        month=month,
        day=day,
        hour=hour,
        minute=minute,
        second=second,
        magic=b"acsp",
        platform=signature_bytes(header.platform),
        flags=header.flags,
        manufacturer=signature_bytes(header.manufacturer),
        model=signature_bytes(header.model),
        attributes=header.attributes,
        intent=header.intent,
        illuminant_x=x,
        illuminant_y=y,
        illuminant_z=z,
        creator=signature_bytes(header.creator),
        profile_id=profile_id,
        reserved=bytes(28),
    )
