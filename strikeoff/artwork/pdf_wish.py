"""How a page of a PDF is wanted, and whether it can be had so."""

from __future__ import annotations

from dataclasses import dataclass, field

from strikeoff.artwork.pdf_page import PdfPage
from strikeoff.artwork.pdf_process import WorkerLimits
from strikeoff.artwork.pdf_space import ProcessSpace
from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.base.units import MM_PER_INCH

POINTS_PER_INCH = 72.0
#: Pitch of pages when nobody names one. [dots per inch]
DEFAULT_DPI = 300.0
#: ISO 32000-1 annex C: most units of a page side in older readers; beyond it files break elsewhere.
MOST_UNITS = 14_400
_MAX_SIDE_PX = 1 << 20
_MAX_PIXELS = 50_000_000_000
_MAX_NAMED = 60
_MAX_NAME = 127


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


def wanted_names(page: PdfPage, wish: PageWish, path: str) -> tuple[str, ...]:
    """Return the named colours that get a plane of their own.

    Raises
    ------
    InputError
        Too many, or names that cannot be an ink's.
    """
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


def page_pixels(page: PdfPage, box: str, dpi: tuple[float, float], path: str) -> tuple[int, int]:
    """Return the width and height of a page box in pixels.

    Raises
    ------
    InputError
        When it is empty or beyond what can be drawn.
    """
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


def page_doubts(page: PdfPage, space: ProcessSpace, wish: PageWish) -> list[Problem]:
    """Return what is taken, turned or lost of a page."""
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
