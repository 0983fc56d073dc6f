"""PDF pages as band sources: process planes and one plane for each named colour, drawn when asked for."""

from __future__ import annotations

import base64
import threading
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from strikeoff.artwork.decoded import Decoded, NamedChannel
from strikeoff.artwork.pdf_page import BOXES, PdfPage, page_of
from strikeoff.artwork.pdf_process import PdfWorker, WorkerLimits
from strikeoff.artwork.pdf_space import ProcessSpace, process_space
from strikeoff.artwork.pixels import MappedSource
from strikeoff.artwork.records import CHANNELS, Kind
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.base.units import MM_PER_INCH, pitch_mm
from strikeoff.raster.bands import Band, BandSource, check_rows

POINTS_PER_INCH = 72.0
#: Pitch of pages when nobody names one. [dots per inch]
DEFAULT_DPI = 300.0
#: ISO 32000-1 annex C: most units of a page side in older readers; beyond it files break elsewhere.
MOST_UNITS = 14_400
_MAX_SIDE_PX = 1 << 20
_MAX_PIXELS = 50_000_000_000
_MAX_NAMED = 60
_MAX_NAME = 127
_BLOCK_BYTES = 48 << 20


@dataclass(frozen=True)
class PageWish:
    """How a page is wanted.

    Attributes
    ----------
    dpi : tuple of float, optional
        Press pitch (across, along). [dots per inch]
    page : int
        From 1.
    box : str
        Which page box: media, crop, bleed, trim or art.
    fallback : frozenset of str or None
        Named colours that are drawn in the file's own alternate colours; None: all of them.
    limits : WorkerLimits
        Time and memory of each request.
    """

    dpi: tuple[float, float] | None = None
    page: int = 1
    box: str = "trim"
    fallback: frozenset[str] | None = frozenset()
    limits: WorkerLimits = field(default_factory=WorkerLimits)


@dataclass(frozen=True)
class PdfSource:
    """A page as a band source: uint8, process samples and then named ones; see `BandSource`.

    ``what`` the worker is asked to draw: ``rows`` of the page, or ``classes``.
    """

    worker: PdfWorker
    height: int
    width: int
    channels: int
    pitch_mm: tuple[float, float]
    block_rows: int
    what: str = "rows"
    _kept: list[tuple[int, Band]] = field(default_factory=list, compare=False, repr=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, compare=False, repr=False)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint8)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        band = np.empty((y1 - y0, self.width, self.channels), np.uint8)
        for block in range(y0 // self.block_rows, -(-y1 // self.block_rows)):
            top = block * self.block_rows
            start, stop = max(y0, top), min(y1, top + self.block_rows)
            band[start - y0 : stop - y0] = self._block(block)[start - top : stop - top]
        return band

    def _block(self, block: int) -> Band:
        # One block is kept: bands seldom end where blocks do, and a page is interpreted for each.
        with self._lock:
            if self._kept and self._kept[0][0] == block:
                return self._kept[0][1]
            top = block * self.block_rows
            bottom = min(self.height, top + self.block_rows)
            size = (bottom - top) * self.width * self.channels
            _, data = self.worker.ask({"do": self.what, "y0": top, "y1": bottom}, size)
            rows = np.frombuffer(data, np.uint8).reshape(bottom - top, self.width, self.channels)
            self._kept[:] = [(block, rows)]
            return rows


def classes_of(source: PdfSource) -> MappedSource:
    """Return what each pixel of a page belongs to: one uint8 channel of the codes in `records.CLASSES`.

    A pixel of several, as under a soft mask, is that of most.
    """
    drawn = replace(
        source,
        channels=3,
        what="classes",
        block_rows=max(1, min(source.height, _BLOCK_BYTES // (source.width * 3))),
        _kept=[],
        _lock=threading.Lock(),
    )

    def change(band: Band) -> Band:
        # Of equals the last is taken: pictures.
        most = (2 - band[..., ::-1].argmax(axis=2)).astype(np.uint8) + np.uint8(1)
        return np.where(band.any(axis=2), most, np.uint8(0))[..., None]

    return MappedSource(drawn, change, 1, np.dtype(np.uint8), source.pitch_mm)


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
    named = _named(page, wish, worker.path)
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
    width, height = _pixels(page, wish.box, dpi, worker.path)
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
        block_rows=max(1, min(height, _BLOCK_BYTES // (width * channels))),
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
    problems += _told(page, space, wish)
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


def _named(page: PdfPage, wish: PageWish, path: str) -> tuple[str, ...]:
    if len(page.named) > _MAX_NAMED:
        raise InputError(
            "page with too many named colours",
            path=path,
            found=len(page.named),
            expected=f"at most {_MAX_NAMED}",
            advice="Have colours of one meaning given one name",
        )
    for name in page.named:
        if len(name) > _MAX_NAME or not name.isprintable():
            raise InputError(
                "name of a colour that cannot be an ink's",
                path=path,
                found=f"{name[:40]!r}, {len(name)} characters",
                expected=f"at most {_MAX_NAME} printable characters",
            )
    if wish.fallback is None:
        return ()
    return tuple(name for name in page.named if name not in wish.fallback)


def _pixels(page: PdfPage, box: str, dpi: tuple[float, float], path: str) -> tuple[int, int]:
    width_pt, height_pt = page.size_pt(box)
    if width_pt <= 0 or height_pt <= 0:
        raise InputError("page box is empty", path=path, where=f"page {page.number}", found=f"{box} box")
    width, height = (
        max(1, round(size * d / POINTS_PER_INCH)) for size, d in zip((width_pt, height_pt), dpi, strict=True)
    )
    units = max(width_pt, height_pt) / page.user_unit
    if units > MOST_UNITS + 1 or max(width, height) > _MAX_SIDE_PX or width * height > _MAX_PIXELS:
        mm = tuple(round(size * MM_PER_INCH / POINTS_PER_INCH) for size in (width_pt, height_pt))
        raise InputError(
            "page size out of bounds",
            path=path,
            where=f"page {page.number}, {box} box",
            found=f"{mm[0]} x {mm[1]} mm, {units:.0f} units, {width} x {height} pixels",
            expected=f"at most {MOST_UNITS} units and {_MAX_SIDE_PX} pixels a side",
            advice="Check the size of the page, or set it smaller with a page scale (UserUnit)",
        )
    return width, height


def _told(page: PdfPage, space: ProcessSpace, wish: PageWish) -> list[Problem]:
    where = f"page {page.number}"
    told = []
    if page.pages > 1:
        told.append(Problem("warning", "PDF", "more than one page: one is taken", str(page.pages), where))
    if space.is_mixed:
        told.append(
            Problem(
                "warning",
                where,
                "RGB or Lab objects beside CMYK ones are turned into CMYK",
                found=", ".join(page.spaces)[:200],
                advice="Where their colour matters, have the page exported in RGB throughout",
            )
        )
    if space.kind == "rgb" and page.named and page.has_rgb_overprints:
        told.append(
            Problem(
                "warning",
                where,
                "named colours that overprint knock out here, because RGB objects are set to overprint too",
                found=", ".join(page.named)[:200],
                advice="Have overprinting taken off the RGB objects",
            )
        )
    if space.origin == "several spaces, kept in a wide RGB":
        told.append(Problem("note", where, "colours of several spaces are kept in a wide RGB space"))
    if any(name.startswith("Separation(") and name.endswith(",None)") for name in page.spaces):
        told.append(
            Problem(
                "warning",
                where,
                "objects in the colour None, which should leave no mark, knock out what lies beneath",
                advice="Have them removed from the file",
            )
        )
    if wish.dpi is None:
        told.append(
            Problem("note", where, f"drawn at {DEFAULT_DPI:g} dots per inch", expected="a press pitch")
        )
    if page.user_unit != 1:
        told.append(Problem("note", where, "the page has a scale of its own", f"{page.user_unit:g}", "1"))
    return told
