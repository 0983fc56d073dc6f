"""dateTimeType, used for the calibration time (ICC.1:2022 clause 10.8)."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.icc.layout import Layout, tag_body, tag_bytes

KIND = b"dtim"

_LAYOUT = Layout(("year", "H"), ("month", "H"), ("day", "H"), ("hour", "H"), ("minute", "H"), ("second", "H"))


@dataclass(frozen=True)
class DateTime:
    """A moment in UTC; not checked against the calendar, since real files hold zeros."""

    year: int
    month: int
    day: int
    hour: int = 0
    minute: int = 0
    second: int = 0


def decode(data: bytes, where: str) -> DateTime:
    """Return the moment."""
    return DateTime(**_LAYOUT.unpack(tag_body(data, KIND, where), 0, where))


def encode(record: DateTime) -> bytes:
    """Return the tag's data."""
    return tag_bytes(KIND, _LAYOUT.pack(**vars(record)))
