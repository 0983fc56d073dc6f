"""What a format reader hands to the opener, and the guards that all readers share."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Literal

from strikeoff.artwork.pdf_page import PdfPage
from strikeoff.artwork.records import Kind
from strikeoff.base.errors import InputError, StrikeoffError
from strikeoff.base.problems import Problem
from strikeoff.raster.bands import BandSource

#: Most pixels of a picture that has to be decoded in one piece.
MAX_WHOLE_PIXELS = 400_000_000

Alpha = Literal["none", "straight", "premultiplied", "matted"]


@dataclass(frozen=True)
class NamedChannel:
    """A plane of a named colour.

    Attributes
    ----------
    name : str
        As the file spells it.
    index : int
        Its channel in the source.
    is_inverted : bool
        Whether 0 means the solid.
    """

    name: str
    index: int
    is_inverted: bool


@dataclass(frozen=True)
class Decoded:
    """Samples as stored, and how to understand them.

    Attributes
    ----------
    source : BandSource
        Colour samples first, then alpha if any, then channels that nobody addressed.
    kind : {"rgb", "grey", "cmyk", "lab"}
        What the colour samples mean.
    alpha : {"none", "straight", "premultiplied", "matted"}
        Kind of the sample right after the colour; matted colours lie over white already.
    orientation : int
        1-8 as in TIFF 6.0 tag 274.
    inverted : bool
        Whether 0 means the opposite of what the kind says.
    profile : bytes, optional
        Embedded ICC profile.
    says_srgb : bool
        Whether the file states sRGB without carrying a profile.
    dpi : tuple of float, optional
        Resolution (across, along) before turning.
    problems : tuple of Problem
        What the reader noticed.
    named : tuple of NamedChannel
        Channels that are named colours.
    profile_origin : str, optional
        Where the profile comes from, when the reader has settled it.
    page : PdfPage, optional
        What is known of a PDF page.
    box : str, optional
        Which of its boxes was drawn.
    classes : BandSource, optional
        For a PDF page: what each pixel belongs to; see `records.CLASSES`.
    """

    source: BandSource
    kind: Kind
    alpha: Alpha = "none"
    orientation: int = 1
    inverted: bool = False
    profile: bytes | None = None
    says_srgb: bool = False
    dpi: tuple[float, float] | None = None
    problems: tuple[Problem, ...] = field(default=())
    named: tuple[NamedChannel, ...] = ()
    profile_origin: str | None = None
    page: PdfPage | None = None
    box: str | None = None
    classes: BandSource | None = None


@contextmanager
def decoding(path: str, where: str) -> Iterator[None]:
    """Turn whatever a foreign decoder throws at damaged data into an InputError.

    Decoders raise nearly every class there is on hostile bytes, so this is the one place that
    catches them all; our own errors pass.
    """
    try:
        yield
    except StrikeoffError:
        raise
    except MemoryError as error:
        raise InputError("picture needs more memory than there is", path=path, where=where) from error
    except Exception as error:
        text = " ".join(str(error).split())[:200] or type(error).__name__
        raise InputError(
            "picture is damaged and cannot be decoded",
            path=path,
            where=where,
            found=text,
            advice="Ask for the file again, or open and save it in the program that made it",
        ) from error


def check_whole_size(width: int, height: int, path: str, advice: str) -> None:
    """Raise InputError when a picture is empty or too large to be decoded in one piece."""
    if width < 1 or height < 1:
        raise InputError("picture is empty", path=path, found=f"{width} x {height} pixels")
    if width * height > MAX_WHOLE_PIXELS:
        raise InputError(
            "picture is too large for its format",
            path=path,
            found=f"{width} x {height} pixels",
            expected=f"at most {MAX_WHOLE_PIXELS // 1_000_000} million pixels",
            advice=advice,
        )


def plausible_dpi(x: float, y: float) -> tuple[float, float] | None:
    """Return a resolution that can be meant, or None: files often carry 0, 1 or nonsense."""
    return (float(x), float(y)) if 1 < x < 100_000 and 1 < y < 100_000 else None
