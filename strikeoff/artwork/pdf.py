"""PDF pages as band sources: process planes and one plane for each named colour, drawn when asked for."""

from __future__ import annotations

import base64
from typing import Any

import numpy as np

from strikeoff.artwork.decoded import Decoded, NamedChannel
from strikeoff.artwork.pdf_page import BOXES, page_of
from strikeoff.artwork.pdf_process import PdfWorker
from strikeoff.artwork.pdf_source import BLOCK_BYTES, PdfSource, classes_of
from strikeoff.artwork.pdf_space import ProcessSpace, process_space
from strikeoff.artwork.pdf_wish import (
    DEFAULT_DPI,
    POINTS_PER_INCH,
    PageWish,
    page_doubts,
    page_pixels,
    wanted_names,
)
from strikeoff.artwork.pixels import MappedSource
from strikeoff.artwork.records import CHANNELS, Kind
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.base.units import pitch_mm
from strikeoff.raster.bands import Band, BandSource


def read_pdf(path: str, wish: PageWish, assumed: bytes | None = None, assumed_name: str = "") -> Decoded:
    """Open a page of a PDF in a process of its own.

    Parameters
    ----------
    path : str
        The file.
    wish : PageWish
        Page, box, pitch, limits.
    assumed : bytes, optional
        Profile for process colours that carry none.
    assumed_name : str
        What it is called.

    Raises
    ------
    UsageError
        When the interpreter is not installed, or no such box or page is known.
    InputError
        When the file is damaged, locked or hostile, or the page cannot be drawn within the limits.

    References
    ----------
    ISO 32000-2:2020, clauses 8.6 (colour), 11.7 (overprint and transparency), 14.11.2 (page boxes).
    """
    if wish.box not in BOXES:
        raise UsageError("unknown page box", found=wish.box, expected=", ".join(BOXES))
    worker = PdfWorker(path, wish.limits)
    try:
        return _opened(worker, wish, assumed, assumed_name)
    except BaseException:
        worker.close()
        raise


def _opened(worker: PdfWorker, wish: PageWish, assumed: bytes | None, assumed_name: str) -> Decoded:
    request: dict[str, Any] = {"do": "open", "path": worker.path, "page": wish.page - 1}
    page = page_of(worker.ask(request)[0], wish.page)
    problems: list[Problem] = []
    space = process_space(page, assumed, assumed_name)
    named = wanted_names(page, wish, worker.path)
    if space.kind == "grey" and len(named) < len(page.named):
        # The alternate colours of names may be of any hue.
        space = ProcessSpace("rgb", None, "assumed sRGB")
    again: dict[str, Any] = {}
    if space.kind == "cmyk" and space.profile is not None and space.origin != "output intent":
        again["profile"] = base64.b64encode(space.profile).decode("ascii")
    if space.kind == "rgb" and page.page_group is not None and "RGB" not in page.page_group:
        again["no_page_group_space"] = True
        problems.append(
            Problem(
                "note",
                f"page {page.number}",
                "blending in another space than its RGB objects' is done in RGB, so that none is lost",
                page.page_group,
            )
        )
    if space.kind == "rgb" and page.named and page.uses_overprint and not page.has_rgb_overprints:
        again["overprint_by_multiply"] = True
    if again:
        worker.ask(request | again)
    width_pt, height_pt = page.size_pt(wish.box)
    dpi = wish.dpi or (DEFAULT_DPI, DEFAULT_DPI)
    width, height = page_pixels(page, wish.box, dpi, worker.path)
    rgb_space = None if space.profile is None else base64.b64encode(space.profile).decode("ascii")
    # Plain grey is drawn on the black plate, where overprinting is honoured.
    drawn_kind: Kind = "cmyk" if space.kind == "grey" else space.kind
    answer, _ = worker.ask(
        {
            "do": "picture",
            "separate": bool(named),
            "rgb": space.kind == "rgb",
            "space": rgb_space,
            "box": list(page.boxes[wish.box]),
            "pixels": [width, height],
        }
    )
    planes, colours = list(answer["planes"]), CHANNELS[drawn_kind]
    channels = colours + len(planes)
    drawn = PdfSource(
        worker=worker,
        height=height,
        width=width,
        channels=channels,
        pitch_mm=(pitch_mm(dpi[0]), pitch_mm(dpi[1])),
        block_rows=max(1, min(height, BLOCK_BYTES // (width * channels))),
    )
    source: BandSource = drawn
    alternates = [] if not named else [name for name in page.named if name not in named]
    if alternates:
        source = with_alternates(
            source, colours, _tones(alternates, planes, answer["full_tones"], worker.path)
        )
    kept = tuple(NamedChannel(name, colours + _plane(name, planes, worker.path), False) for name in named)
    if space.kind == "grey":
        source = MappedSource(source, _grey_of_black, channels, source.dtype, source.pitch_mm)
    true_dpi = width / width_pt * POINTS_PER_INCH, height / height_pt * POINTS_PER_INCH
    problems += page_doubts(page, space, wish)
    return Decoded(
        source=source,
        kind=space.kind,
        profile=space.profile,
        profile_origin=space.origin,
        dpi=true_dpi,
        named=kept,
        page=page,
        box=wish.box,
        problems=tuple(problems),
        classes=classes_of(drawn),
    )


def _plane(name: str, planes: list[str], path: str) -> int:
    if name not in planes:
        raise InputError("PDF names a colour that is not separated", path=path, found=name)
    return planes.index(name)


def _tones(
    names: list[str], planes: list[str], tones: dict[str, list[float]], path: str
) -> dict[int, list[float]]:
    for name in names:
        if name not in tones:
            raise InputError(
                "named colour without an alternate colour that can be used",
                path=path,
                found=name,
                advice="Have it turned into a process colour in the file",
            )
    return {_plane(name, planes, path): tones[name] for name in names}


def with_alternates(source: BandSource, colours: int, tones: dict[int, list[float]]) -> MappedSource:
    """Return a page on whose process planes some named ones are laid in their alternate colours.

    Parameters
    ----------
    source : BandSource
        uint8; process samples, then named ones.
    colours : int
        Process samples: 3 for RGB, 4 for CMYK.
    tones : dict of int to list of float
        Place among the named planes to the process colour of its full tone, 0-1.

    Notes
    -----
    Tints go straight from nothing to the full tone, and what lies beneath shows through as under a
    transparent ink: remaining light is multiplied.
    """
    is_light = colours == 3

    def change(band: Band) -> Band:
        process = band[..., :colours].astype(np.float32) / np.float32(255.0)
        light = process if is_light else 1.0 - process
        for plane, tone in tones.items():
            full = np.asarray(tone, dtype=np.float32)
            stop = 1.0 - full if is_light else full
            amount = band[..., colours + plane, None].astype(np.float32) / np.float32(255.0)
            light = light * (1.0 - amount * stop)
        result = band.copy()
        process = light if is_light else 1.0 - light
        result[..., :colours] = np.rint(np.clip(process, 0.0, 1.0) * 255.0).astype(np.uint8)
        return result

    return MappedSource(source, change, source.channels, np.dtype(source.dtype), source.pitch_mm)


def _grey_of_black(band: Band) -> Band:
    result = band.copy()
    # The colour sample comes first and the named ones keep their places.
    result[..., 0] = 255 - band[..., 3]
    return result
