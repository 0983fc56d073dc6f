"""What goes where on a roll, in millimetres and whole press pixels, before any pixel is made."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.units import MM_PER_INCH, pixels
from strikeoff.layout.finishing import finishing_factor
from strikeoff.layout.leader import leader_places_mm, leader_with_nozzles_mm
from strikeoff.layout.repeat import Repeat
from strikeoff.layout.strip import StripPatches
from strikeoff.raster.planes_tiff import block_rows

Anchor = Literal["centre", "centre-motif", "centre-gap", "left"]

_MAX_MM = 200_000.0


@dataclass(frozen=True)
class RollPlan:
    """A repeat lattice on unfinished cloth, between waste at both ends and unprinted edges.

    Attributes
    ----------
    repeat : Repeat
        The unit.
    width_px, height_px : int
        The whole cloth.
    margin_px : int
        Unprinted at each edge.
    leader_px, tail_px : int
        Waste before and after the design.
    column_px : int
        Left edge of the first whole column of repeats, from the left edge of the cloth.
    whole_across, whole_along : int
        Whole repeats in the printable width and in the design's length.
    strip_px, slug_px : int
        First row of the control strip and of the slug line.
    nozzle_px : int, optional
        First row of the nozzle pattern, if there is one.
    """

    repeat: Repeat
    width_px: int
    height_px: int
    margin_px: int
    leader_px: int
    tail_px: int
    column_px: int
    whole_across: int
    whole_along: int
    slug_px: int
    strip_px: int
    nozzle_px: int | None = None

    @property
    def printable_px(self) -> int:
        """Columns between the margins."""
        return self.width_px - 2 * self.margin_px

    @property
    def design_rows(self) -> int:
        """Rows of the design between leader and tail."""
        return self.height_px - self.leader_px - self.tail_px

    def across_mm(self, columns: float) -> float:
        """Return pixels across the roll in millimetres of unfinished cloth."""
        return columns * MM_PER_INCH / self.repeat.dpi_x

    def along_mm(self, rows: float) -> float:
        """Return rows in millimetres of unfinished cloth."""
        return rows * MM_PER_INCH / self.repeat.dpi_y

    @property
    def leftover_across_mm(self) -> tuple[float, float]:
        """Printable width beyond the whole repeats: (printed, finished) in millimetres."""
        printed = self.across_mm(self.printable_px - self.whole_across * self.repeat.width_px)
        return printed, printed * finishing_factor(self.repeat.weft_percent)

    @property
    def leftover_along_mm(self) -> tuple[float, float]:
        """Length of the design beyond the whole repeats: (printed, finished) in millimetres."""
        printed = self.along_mm(self.design_rows - self.whole_along * self.repeat.height_px)
        return printed, printed * finishing_factor(self.repeat.warp_percent)

    @property
    def design_m(self) -> tuple[float, float]:
        """Length of the design: (printed, finished) in metres."""
        printed = self.along_mm(self.design_rows) / 1000
        return printed, printed * finishing_factor(self.repeat.warp_percent)


def plan_roll(
    repeat: Repeat,
    *,
    width_mm: float,
    length_mm: float,
    margin_mm: float = 10.0,
    leader_mm: float | None = None,
    tail_mm: float = 20.0,
    anchor: str = "centre",
    strip: StripPatches | None = None,
    nozzle_inks: int = 0,
    marks_mm: float = 0.0,
) -> RollPlan:
    """Plan a roll of a repeat.

    Parameters
    ----------
    repeat : Repeat
        The unit, with its addressability.
    width_mm, length_mm : float
        Unfinished cloth, waste included. [mm]
    margin_mm : float
        Unprinted cloth at each edge (selvedge and what the press cannot reach). [mm]
    leader_mm, tail_mm : float
        Waste at both ends. The leader is at least what stands in it and is rounded up so
        that the repeats of the roll can share strips in the file. [mm]
    anchor : {"centre", "centre-motif", "centre-gap", "left"}
        What stands on the middle of the printable width: a repeat's middle, the joint of two, or
        whichever gives more whole repeats; or a joint at the left edge of the printable width. A design
        that runs along only stands in the middle or at the left edge; one that runs across only is
        printed once, and the rest of the roll is its tail.
    strip : StripPatches, optional
        The control strip of the leader.
    nozzle_inks : int
        Inks of the nozzle pattern of the leader; 0 for none.
    marks_mm : float
        Waste for marks right before and after the design. [mm]

    Raises
    ------
    InputError
        When not even one repeat fits across or along; the least width or length is named.
    UsageError
        A margin or anchor that cannot be.

    Examples
    --------
    >>> from strikeoff.layout.repeat import snap_repeat
    >>> press = {"warp_percent": -5.5, "weft_percent": -3, "dpi_x": 600, "dpi_y": 600}
    >>> unit = snap_repeat(640, 640, kind="half-drop", **press)
    >>> plan = plan_roll(unit, width_mm=1400, length_mm=3000)
    >>> plan.whole_across, plan.whole_along, round(plan.leftover_across_mm[0], 1)
    (2, 4, 60.4)
    """
    if anchor not in get_args(Anchor):
        raise UsageError("unknown anchor", found=anchor, expected=", ".join(get_args(Anchor)))
    sizes = {"width": width_mm, "length": length_mm, "margin": margin_mm, "tail": tail_mm}
    for name, size in sizes.items() | {("leader", leader_mm or 0.0)}:
        if not math.isfinite(size) or not 0.0 <= size <= _MAX_MM:
            raise InputError(f"{name} cannot be", found=f"{size} mm", expected=f"0 to {_MAX_MM:g} mm")
    width_px, height_px = pixels(width_mm, repeat.dpi_x), pixels(length_mm, repeat.dpi_y)
    margin_px = pixels(margin_mm, repeat.dpi_x)
    printable_px = width_px - 2 * margin_px
    if printable_px < repeat.width_px:
        raise InputError(
            "roll is narrower than one repeat",
            found=f"{width_mm:g} mm, {max(0.0, width_mm - 2 * margin_mm):g} mm of it printable",
            expected=f"at least {_up(repeat.printed_width_mm + 2 * margin_mm)} mm of unfinished cloth",
            advice="Take wider cloth, a smaller repeat or a narrower margin",
        )
    printable_mm = printable_px * MM_PER_INCH / repeat.dpi_x
    slug_mm, strip_mm, needed_mm = leader_places_mm(strip, printable_mm)
    nozzle_px = None
    if nozzle_inks:
        nozzle_mm, needed_mm = leader_with_nozzles_mm(needed_mm, nozzle_inks, repeat.dpi_y)
        nozzle_px = pixels(nozzle_mm, repeat.dpi_y)
    needed_mm, tail_mm = needed_mm + marks_mm, max(tail_mm, marks_mm)
    row_bytes = width_px * 2 * (len(strip.ink_names) if strip else 4)
    block = block_rows(repeat.period_rows, row_bytes)
    leader_px = block * math.ceil(max(leader_mm or 0.0, needed_mm) * repeat.dpi_y / MM_PER_INCH / block)
    tail_px = pixels(tail_mm, repeat.dpi_y)
    design_rows = height_px - leader_px - tail_px
    if design_rows < repeat.height_px:
        least_mm = (leader_px + tail_px + repeat.height_px) * MM_PER_INCH / repeat.dpi_y
        raise InputError(
            "roll is shorter than one repeat with its waste",
            found=f"{length_mm:g} mm",
            expected=f"at least {_up(least_mm)} mm of unfinished cloth",
            advice="Take a longer piece",
        )
    across_only, along_only = (repeat.lattice.repeats == d for d in ("across", "along"))
    if across_only:
        tail_px += design_rows - repeat.height_px
        design_rows = repeat.height_px
    column = _first_column(anchor, printable_px, repeat.width_px)
    if along_only:
        column = 0 if anchor == "left" else (printable_px - repeat.width_px) // 2
    return RollPlan(
        repeat=repeat,
        width_px=width_px,
        height_px=height_px,
        margin_px=margin_px,
        leader_px=leader_px,
        tail_px=tail_px,
        column_px=margin_px + column,
        whole_across=1 if along_only else _whole(anchor, printable_px, repeat.width_px),
        whole_along=design_rows // repeat.height_px,
        slug_px=pixels(slug_mm, repeat.dpi_y),
        strip_px=pixels(strip_mm, repeat.dpi_y),
        nozzle_px=nozzle_px,
    )


def _first_column(anchor: str, printable: int, width: int) -> int:
    """Return the left edge of the first whole column, from the left end of the printable width."""
    if anchor == "left":
        return 0
    whole = printable // width
    motif = anchor == "centre-motif" or (anchor == "centre" and whole % 2 == 1)
    joint = printable // 2 - (width // 2 if motif else 0)
    return joint % width


def _whole(anchor: str, printable: int, width: int) -> int:
    return (printable - _first_column(anchor, printable, width)) // width


def _up(size_mm: float) -> str:
    return f"{math.ceil(size_mm * 10) / 10:g}"
