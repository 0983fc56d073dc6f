"""What is known of a PDF page."""

from __future__ import annotations

import base64
import math
from dataclasses import dataclass
from typing import Any

BOXES = ("media", "crop", "bleed", "trim", "art")
#: Colourants that are no named colours, lower case.
PROCESS_COLOURANTS = frozenset({"cyan", "magenta", "yellow", "black", "all"})
_NOT_NAMED = PROCESS_COLOURANTS | {"none"}

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class PdfPage:
    """A page as the interpreter describes it; lengths in points, from the left upper corner down.

    Attributes
    ----------
    number, pages : int
        Which page, from 1, of how many.
    boxes : dict of str to tuple of float
        ``media``, ``crop``, ``bleed``, ``trim`` and ``art``, turned and scaled as the page asks. [pt]
    user_unit : float
        Size of the page's unit. [pt]
    named : tuple of str
        Named colours that are drawn.
    spaces, groups : tuple of str
        Colour spaces of what is drawn; spaces in which transparency groups blend.
    page_group : str or None
        Space of the page's own group.
    images, thin, type, white_overprints, fonts : tuple
        What the check looks at; see `pdf_watch`.
    is_transparent, uses_overprint, has_rgb_overprints : bool
        Whether anything is; whether RGB or Lab objects are set to overprint.
    output_intent : bytes or None
        Its profile.
    profiles : dict of str to tuple of bytes
        Profiles of ICC-based spaces in the file by ``RGB``, ``CMYK``, ``GRAY``.
    """

    number: int
    pages: int
    boxes: dict[str, Box]
    user_unit: float
    named: tuple[str, ...]
    spaces: tuple[str, ...]
    groups: tuple[str, ...]
    page_group: str | None
    images: tuple[dict[str, Any], ...]
    thin: tuple[dict[str, Any], ...]
    type: tuple[dict[str, Any], ...]
    white_overprints: tuple[Box, ...]
    fonts: tuple[dict[str, Any], ...]
    is_transparent: bool
    uses_overprint: bool
    has_rgb_overprints: bool
    output_intent: bytes | None
    profiles: dict[str, tuple[bytes, ...]]

    def size_pt(self, box: str) -> tuple[float, float]:
        """Return width and height of a box [pt]."""
        x0, y0, x1, y1 = self.boxes[box]
        return x1 - x0, y1 - y0


def page_of(answer: dict[str, Any], number: int) -> PdfPage:
    """Return the page that the worker's answer describes."""
    intent = answer["output_intent"]
    return PdfPage(
        number=number,
        pages=answer["pages"],
        boxes={name: _box(answer["boxes"][name]) for name in BOXES},
        user_unit=answer["user_unit"] if answer["user_unit"] > 0 else 1.0,
        named=tuple(name for name in answer["named"] if _is_drawn(name, answer)),
        spaces=tuple(answer["spaces"]),
        groups=tuple(answer["groups"]),
        page_group=answer["page_group"],
        images=tuple(answer["images"]),
        thin=tuple(answer["thin"]),
        type=tuple(answer["type"]),
        white_overprints=tuple(map(_box, answer["white_overprints"])),
        fonts=tuple(answer["fonts"]),
        is_transparent=answer["is_transparent"],
        uses_overprint=answer["uses_overprint"],
        has_rgb_overprints=answer["has_rgb_overprints"],
        output_intent=None if intent is None else base64.b64decode(intent),
        profiles={
            word: tuple(map(base64.b64decode, texts)) for word, texts in sorted(answer["profiles"].items())
        },
    )


def _is_drawn(name: str, answer: dict[str, Any]) -> bool:
    """Say whether a name of the page's resources is a named colour, and is drawn in."""
    spaces = (space for space in answer["spaces"] if "Separation" in space or "DeviceN" in space)
    is_drawn = name in answer["colourants"] or any(name in space for space in spaces)
    return is_drawn and name.lower() not in _NOT_NAMED


def _box(values: list[float]) -> Box:
    x0, y0, x1, y1 = (float(value) for value in values)
    if not (all(map(math.isfinite, (x0, y0, x1, y1))) and x0 < x1 and y0 < y1):
        return 0.0, 0.0, 0.0, 0.0
    return x0, y0, x1, y1
