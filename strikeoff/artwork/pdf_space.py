"""In which space the process colours of a PDF page are drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from strikeoff.artwork.colour import profile_fault, profile_to_lab, srgb_to_lab
from strikeoff.artwork.pdf_page import PROCESS_COLOURANTS, PdfPage
from strikeoff.artwork.wide_rgb import wide_rgb_profile
from strikeoff.base.errors import InputError

_SRGB_TOLERANCE_DE = 1.0


@dataclass(frozen=True)
class ProcessSpace:
    """The space in which a page's process colours are drawn.

    Attributes
    ----------
    kind : {"rgb", "cmyk", "grey"}
        Of the process planes; grey where there are plain grey and named colours only.
    profile : bytes or None
        Their profile; None means sRGB, or CMYK that nobody described.
    origin : str
        Where the profile comes from, in words.
    is_mixed : bool
        Whether RGB or Lab objects are turned into CMYK.
    """

    kind: Literal["rgb", "cmyk", "grey"]
    profile: bytes | None
    origin: str
    is_mixed: bool = False


def process_space(page: PdfPage, assumed: bytes | None = None, assumed_name: str = "") -> ProcessSpace:
    """Decide the process space of a page by what is drawn on it.

    Nothing but plain grey and named colours is drawn as black and named plates, so that overprinting
    holds. Any CMYK, ICC-based CMYK included, or process colourant by name makes it a CMYK page. All else
    stays RGB: in the one profile that its objects share, in sRGB, or else in a wide RGB space.

    Parameters
    ----------
    page : PdfPage
        From `page_of`.
    assumed : bytes, optional
        Profile for a page that carries none; used where it fits.
    assumed_name : str
        What it is called.
    """
    has_cmyk = any(_is_cmyk(name) for name in page.spaces)
    process = [name for name in page.spaces if not _is_named(name)]
    has_rgb = any("RGB" in name or name.split(",")[-1].startswith("Lab") for name in process)
    intent = page.output_intent
    intent_space = b"" if intent is None else intent[16:20]
    if not has_cmyk and not has_rgb and intent_space == b"CMYK":
        has_cmyk = True
    if has_cmyk:
        return _cmyk_space(page, has_rgb, assumed, assumed_name)
    if not has_rgb and set(process) <= {"DeviceGray"}:
        return ProcessSpace("grey", None, "assumed sRGB grey curve")
    if intent is not None and intent_space == b"RGB " and profile_fault(intent, "rgb") is None:
        return ProcessSpace("rgb", intent, "output intent")
    return _rgb_space(page, assumed, assumed_name)


def _cmyk_space(page: PdfPage, is_mixed: bool, assumed: bytes | None, name: str) -> ProcessSpace:
    intent = page.output_intent
    if intent is not None and profile_fault(intent, "cmyk") is None:
        return ProcessSpace("cmyk", intent, "output intent", is_mixed)
    shared = page.profiles.get("CMYK", ())
    is_plain = any("DeviceCMYK" in space for space in page.spaces if not _is_named(space))
    if len(shared) == 1 and not is_plain and profile_fault(shared[0], "cmyk") is None:
        return ProcessSpace("cmyk", shared[0], "embedded", is_mixed)
    if assumed is not None:
        fault = profile_fault(assumed, "cmyk")
        if fault is not None:
            raise InputError("the assumed profile does not fit the page", path=name, found=fault)
        return ProcessSpace("cmyk", assumed, f"assumed: {name}", is_mixed)
    return ProcessSpace("cmyk", None, "none", is_mixed)


def _rgb_space(page: PdfPage, assumed: bytes | None, name: str) -> ProcessSpace:
    spaces = [space for space in page.spaces if not _is_named(space)]
    is_plain = any("DeviceRGB" in space for space in spaces)
    others = any(
        space.split(",")[-1].startswith("Lab") or "CalRGB" in space or space.startswith("default ")
        for space in spaces
    )
    profiles = page.profiles.get("RGB", ()) if any("ICCBased(RGB" in s for s in spaces) else ()
    sound = [profile for profile in profiles if profile_fault(profile, "rgb") is None]
    unlike = [profile for profile in sound if not is_srgb(profile)]
    if not unlike and not others:
        if assumed is not None and is_plain and not sound and profile_fault(assumed, "rgb") is None:
            return ProcessSpace("rgb", assumed, f"assumed: {name}")
        return ProcessSpace("rgb", None, "embedded" if sound and not is_plain else "assumed sRGB")
    if len(sound) == 1 and not is_plain and not others:
        return ProcessSpace("rgb", sound[0], "embedded")
    return ProcessSpace("rgb", wide_rgb_profile(), "several spaces, kept in a wide RGB")


def _is_named(space: str) -> bool:
    """Say whether a space is one of named colourants, whatever stands in for them."""
    return "Separation(" in space or "DeviceN(" in space


def _is_cmyk(space: str) -> bool:
    if _is_named(space):
        words = space.rstrip(")").split("(", 1)[-1].split(",")[1:]
        return any(word.strip().lower() in PROCESS_COLOURANTS for word in words)
    return "CMYK" in space


def is_srgb(profile: bytes) -> bool:
    """Say whether an RGB profile gives the colours of sRGB, within a unit of CIELAB."""
    corners = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.5, 0.5], [0.2, 0.5, 0.8]], dtype=np.float64)
    try:
        lab = profile_to_lab(profile, "rgb", corners)
    except InputError:
        return False
    return bool(np.linalg.norm(lab - srgb_to_lab(corners), axis=1).max() <= _SRGB_TOLERANCE_DE)
