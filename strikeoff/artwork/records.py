"""What the rest of the house knows about a customer's image."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from strikeoff.artwork.pdf_page import PdfPage
from strikeoff.base.problems import Problem
from strikeoff.raster.bands import BandSource

Kind = Literal["rgb", "grey", "cmyk", "lab"]

#: Samples of a pixel by kind.
CHANNELS: dict[Kind, int] = {"grey": 1, "rgb": 3, "cmyk": 4, "lab": 3}

#: What pixels of a page belong to, by code; 0 is bare cloth.
CLASSES = ("bare", "graphics", "text", "images")

#: Pixel pitch taken for placing when the file states no resolution. [dots per inch]
FALLBACK_DPI = 72.0


@dataclass(frozen=True)
class Artwork:
    """An image opened for separation; its pixels stay on the disk where the format allows.

    Attributes
    ----------
    source : BandSource
        uint8 or uint16; 1, 3 or 4 channels without alpha. Grey and RGB: 0 black. CMYK: 0 no ink.
        Lab: L* 0-100 over the whole range, a* and b* from -128 to 127.
    kind : {"rgb", "grey", "cmyk", "lab"}
        What the channels mean.
    bits : int
        8 or 16.
    profile : bytes, optional
        ICC profile that the pixels are in; None means the stated default.
    profile_origin : str
        ``embedded``, ``assumed: NAME``, ``assumed sRGB``, ``stated sRGB``, ``assumed sRGB grey curve``
        or ``none`` (CMYK that nobody described).
    width, height : int
        Pixels, after turning as the file asks.
    dpi : tuple of float, optional
        Resolution (across, along) that the file states; None when it does not.
    problems : tuple of Problem
        Everything noticed on the way.
    digest : str
        Digest of the file's bytes.
    path : str
        Where it came from.
    planes : BandSource
        The channels of ``source``, then one for each named colour: 0 none, full its solid.
    named : tuple of str
        Named colours.
    page : PdfPage, optional
        What is known of the page, for PDF.
    box : str, optional
        Which box of the page was drawn.
    classes : BandSource, optional
        For a page: one uint8 channel of codes, places in `CLASSES`; drawn only when it is read.
    cover : BandSource, optional
        One channel: how much of each pixel the artwork covers, 0 bare cloth, full opaque; None where the file
        does not tell. ``source`` is laid over white there.
    """

    source: BandSource
    kind: Kind
    bits: int
    profile: bytes | None
    profile_origin: str
    width: int
    height: int
    dpi: tuple[float, float] | None
    problems: tuple[Problem, ...]
    digest: str
    path: str
    planes: BandSource
    named: tuple[str, ...] = ()
    page: PdfPage | None = None
    box: str | None = None
    classes: BandSource | None = None
    cover: BandSource | None = None
