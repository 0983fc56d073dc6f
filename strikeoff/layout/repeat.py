"""A repeat in whole press pixels, and what that makes of its finished size."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.finishing import finishing_factor, printed_mm
from strikeoff.raster.lattice import NAMED, Lattice, as_lattice


@dataclass(frozen=True)
class Repeat:
    """The unit that tiles the cloth.

    Attributes
    ----------
    lattice : Lattice
        How tiles stand beside each other.
    width_px, height_px : int
        Size in press pixels: across (weft) and along the roll (warp).
    dpi_x, dpi_y : float
        Addressability. [dots per inch]
    weft_percent, warp_percent : float
        Dimensional change across and along, shrinkage negative. [%]
    asked_width_mm, asked_height_mm : float
        Finished size asked for. [mm]
    """

    lattice: Lattice
    width_px: int
    height_px: int
    dpi_x: float
    dpi_y: float
    weft_percent: float
    warp_percent: float
    asked_width_mm: float
    asked_height_mm: float

    @property
    def kind(self) -> str:
        """What people call the lattice, such as ``half-drop`` or ``drop 1/3``."""
        return self.lattice.name

    @property
    def printed_width_mm(self) -> float:
        """Width on the unfinished cloth, in millimetres."""
        return self.width_px * MM_PER_INCH / self.dpi_x

    @property
    def printed_height_mm(self) -> float:
        """Height on the unfinished cloth, in millimetres."""
        return self.height_px * MM_PER_INCH / self.dpi_y

    @property
    def finished_width_mm(self) -> float:
        """Width that the finished goods will have, in millimetres."""
        return self.printed_width_mm * finishing_factor(self.weft_percent)

    @property
    def finished_height_mm(self) -> float:
        """Height that the finished goods will have, in millimetres."""
        return self.printed_height_mm * finishing_factor(self.warp_percent)

    @property
    def period_rows(self) -> int:
        """Rows after which the roll repeats itself exactly."""
        return self.height_px * self.lattice.period_heights

    def offset_px(self, column: int, row: int) -> tuple[int, int]:
        """Return how far (across, along) the tile of a cell stands from its place on a plain grid. [px]."""
        share = self.lattice.share
        return (
            int(row * share * self.width_px) if self.lattice.offset == "brick" else 0,
            int(column * share * self.height_px) if self.lattice.offset == "drop" else 0,
        )

    def error_mm(self, repeats: int = 1) -> tuple[float, float]:
        """Return how far (across, along) that many finished repeats are from what was asked, in mm."""
        return (
            repeats * (self.finished_width_mm - self.asked_width_mm),
            repeats * (self.finished_height_mm - self.asked_height_mm),
        )


def snap_repeat(
    finished_w_mm: float,
    finished_h_mm: float,
    *,
    warp_percent: float,
    weft_percent: float,
    dpi_x: float,
    dpi_y: float,
    kind: str | Lattice,
) -> Repeat:
    """Return the repeat in whole press pixels that comes nearest to the finished size.

    Parameters
    ----------
    finished_w_mm, finished_h_mm : float
        Finished size across and along the roll. [mm]
    warp_percent, weft_percent : float
        Dimensional change along (height) and across (width), shrinkage negative. [%]
    dpi_x, dpi_y : float
        Addressability across and along. [dots per inch]
    kind : str or Lattice
        ``straight``, ``half-drop``, ``brick``, or a lattice: the height of a drop, the width of a brick
        become divisible by the parts of its offset.

    Raises
    ------
    UsageError
        Unknown kind.
    InputError
        A size or addressability that cannot be; RangeError for the dimensional change.

    Examples
    --------
    >>> r = snap_repeat(320, 320, warp_percent=-4, weft_percent=-4, dpi_x=600, dpi_y=600, kind="straight")
    >>> r.width_px, round(r.error_mm()[0], 4)
    (7874, -0.0006)
    """
    lattice = as_lattice(kind)
    for name, dpi in (("across", dpi_x), ("along", dpi_y)):
        if not (math.isfinite(dpi) and 10 <= dpi <= 10_000):
            raise InputError(f"addressability {name} cannot be", found=dpi, expected="10 to 10,000 dpi")
    return Repeat(
        lattice=lattice,
        width_px=_snapped(finished_w_mm, weft_percent, dpi_x, lattice.width_parts, "width"),
        height_px=_snapped(finished_h_mm, warp_percent, dpi_y, lattice.height_parts, "height"),
        dpi_x=dpi_x,
        dpi_y=dpi_y,
        weft_percent=weft_percent,
        warp_percent=warp_percent,
        asked_width_mm=finished_w_mm,
        asked_height_mm=finished_h_mm,
    )


def lattice_of(
    repeat: str = "straight",
    offset: str | None = None,
    mirror: str | None = None,
    turned: bool = False,
    only: str | None = None,
) -> Lattice:
    """Return the lattice of the words that people use.

    Parameters
    ----------
    repeat : {"straight", "half-drop", "drop", "brick"}
        What is moved.
    offset : str, optional
        How far, as a fraction: of the height for a drop, of the width for a brick, which is half by default.
    mirror : {"across", "along", "both"}, optional
        Tiles that are mirrored.
    turned : bool
        Every other tile is turned by 180 degrees.
    only : {"across", "along"}, optional
        The one direction in which the tile repeats.

    Raises
    ------
    UsageError
        Words that cannot be, or not together.

    Examples
    --------
    >>> lattice_of("drop", "1/3").name, lattice_of("brick").name
    ('drop 1/3', 'brick')
    """
    if repeat not in (*NAMED, "drop"):
        raise UsageError("unknown kind of repeat", found=repeat, expected=", ".join((*NAMED, "drop")))
    if repeat == "drop" and offset is None:
        raise UsageError("a drop needs its offset", expected="a fraction of the height such as --offset 1/3")
    if repeat in ("straight", "half-drop") and offset is not None:
        raise UsageError(f"a {repeat} repeat takes no offset", advice="Take drop or brick")
    moved = {"straight": "none", "brick": "brick"}.get(repeat, "drop")
    share = Fraction(0) if moved == "none" else Fraction(1, 2) if offset is None else _fraction(offset)
    return Lattice(moved, share, mirror or "none", turned, only or "both")


def _fraction(text: str) -> Fraction:
    top, line, bottom = text.strip().partition("/")
    if not (
        line and len(text) <= 12 and top.strip().isdecimal() and bottom.strip().isdecimal() and int(bottom)
    ):
        raise UsageError("offset of a repeat is no fraction", found=text, expected="such as 1/3")
    return Fraction(int(top), int(bottom))


def _snapped(size_mm: float, change_percent: float, dpi: float, divisor: int, what: str) -> int:
    if not math.isfinite(size_mm) or not 1.0 <= size_mm <= 100_000.0:
        raise InputError(f"finished {what} cannot be", found=f"{size_mm} mm", expected="1 to 100,000 mm")
    exact = printed_mm(size_mm, change_percent) * dpi / MM_PER_INCH
    return max(divisor, divisor * round(exact / divisor))
