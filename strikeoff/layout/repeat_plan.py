"""Where every repeat of a lattice lies on the cloth, in millimetres; A1 is the first whole one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from strikeoff.layout.finishing import finishing_factor, printed_mm
from strikeoff.layout.roll import RollPlan
from strikeoff.layout.width_options import WidthJob, WidthOption
from strikeoff.raster.lattice import Lattice, as_lattice

# Places are compared with so much room for rounding.
_HAIR_MM = 1e-6


@dataclass(frozen=True)
class RepeatPlan:
    """A lattice on the unfinished cloth; lengths across count from the left edge of the cuttable width.

    Attributes
    ----------
    lattice : Lattice
        How repeats stand beside each other.
    finished_mm, printed_mm : tuple of float
        Size of a repeat (across, along). [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across. [%]
    cloth_mm, edge_mm, cuttable_mm : float
        Width of the cloth; of it left of the cuttable width; cuttable width. [mm]
    design_mm : tuple of float
        Where the design begins and ends across. [mm]
    first_mm : float
        Left edge of the first whole repeat. [mm]
    length_mm, leader_mm : float
        Length of the design, and waste before it. [mm]
    whole : tuple of int
        Whole repeats across and along.
    """

    lattice: Lattice
    finished_mm: tuple[float, float]
    printed_mm: tuple[float, float]
    warp_percent: float
    weft_percent: float
    cloth_mm: float
    edge_mm: float
    cuttable_mm: float
    design_mm: tuple[float, float]
    first_mm: float
    length_mm: float
    leader_mm: float
    whole: tuple[int, int]

    @property
    def offset_mm(self) -> tuple[float, float]:
        """How far the second column or row is moved: (printed, finished); 0 without an offset. [mm]."""
        side = 0 if self.lattice.offset == "brick" else 1
        share = float(self.lattice.share)
        return share * self.printed_mm[side], share * self.finished_mm[side]

    @property
    def left_over_mm(self) -> tuple[float, float, float]:
        """Printed cloth beyond the whole repeats: left, right, and after them along. [mm]."""
        across = self.first_mm + self.whole[0] * self.printed_mm[0]
        rest = self.length_mm - self.whole[1] * self.printed_mm[1]
        # Without a whole repeat its middle is the middle of the cloth.
        left = self.first_mm if self.whole[0] else self.cuttable_mm / 2
        return max(0.0, left), max(0.0, self.cuttable_mm - max(left, across)), max(0.0, rest)

    @property
    def count(self) -> int:
        """Whole repeats in all."""
        (across, along), share, parts = self.whole, self.lattice.share, self.lattice.share.denominator
        if self.lattice.repeats != "both" or self.lattice.offset == "none":
            return across * along
        if self.lattice.offset == "drop":
            spare = self.length_mm / self.printed_mm[1] - along
            moved = sum(column * share % 1 > spare + _HAIR_MM for column in range(across))
            return across * along - moved
        start, end = self.design_mm
        total = 0
        for row in range(parts):
            first = self.first_mm + float(row * share % 1) * self.printed_mm[0]
            before = math.floor((first - start + _HAIR_MM) / self.printed_mm[0])
            after = math.floor((end - first + _HAIR_MM) / self.printed_mm[0])
            total += (before + after) * len(range(row, along, parts))
        return total


@dataclass(frozen=True)
class RepeatCell:
    """One repeat.

    Attributes
    ----------
    name : str
        Column letter and row number, counted over whole repeats; empty for a part.
    left_mm, top_mm : float
        Corner, from the left edge of the cuttable width and the start of the design; parts begin outside.
    flips : tuple of bool
        Whether it is mirrored left to right, and top to bottom; both when it is turned.
    """

    name: str
    left_mm: float
    top_mm: float
    flips: tuple[bool, bool]


def repeat_plan_of_roll(roll: RollPlan) -> RepeatPlan:
    """Return the lattice of a roll; parts of repeats reach to both edges of the cuttable width."""
    unit, cuttable = roll.repeat, roll.across_mm(roll.printable_px)
    first = roll.across_mm(roll.column_px - roll.margin_px)
    is_stripe = unit.lattice.repeats == "along"
    return RepeatPlan(
        lattice=unit.lattice,
        finished_mm=(unit.finished_width_mm, unit.finished_height_mm),
        printed_mm=(unit.printed_width_mm, unit.printed_height_mm),
        warp_percent=unit.warp_percent,
        weft_percent=unit.weft_percent,
        cloth_mm=roll.across_mm(roll.width_px),
        edge_mm=roll.across_mm(roll.margin_px),
        cuttable_mm=cuttable,
        design_mm=(first, first + unit.printed_width_mm) if is_stripe else (0.0, cuttable),
        first_mm=first,
        length_mm=roll.along_mm(roll.design_rows),
        leader_mm=roll.along_mm(roll.leader_px),
        whole=(roll.whole_across, roll.whole_along),
    )


def repeat_plan_of_option(job: WidthJob, option: WidthOption, cloth_mm: float) -> RepeatPlan:
    """Return the lattice of one way to lay a repeat across a width.

    Parameters
    ----------
    job : WidthJob
        What is laid out.
    option : WidthOption
        The way.
    cloth_mm : float
        Width of the unfinished cloth. [mm]

    Examples
    --------
    >>> from strikeoff.layout.width_options import width_options
    >>> job = WidthJob("half-drop", 640, 640, -5.5, -3.0, 1400, 6400)
    >>> plan = repeat_plan_of_option(job, width_options(job)[0], 1420)
    >>> plan.count, [cell.name for cell in repeat_cells(plan, 700) if cell.name]
    (19, ['A1', 'B1', 'A2'])
    """
    lattice, (wide, high) = as_lattice(job.kind), option.repeat_printed_mm
    first, end = option.first_mm, option.first_mm + option.whole_across * wide
    if not option.whole_across and option.name.startswith("motif"):
        first = (job.cuttable_mm - wide) / 2
    length = option.repeats_along * high
    if lattice.repeats == "across":
        length = max(high, printed_mm(job.order_mm, job.warp_percent))
    return RepeatPlan(
        lattice=lattice,
        finished_mm=option.repeat_finished_mm,
        printed_mm=option.repeat_printed_mm,
        warp_percent=job.warp_percent,
        weft_percent=job.weft_percent,
        cloth_mm=cloth_mm,
        edge_mm=(cloth_mm - job.cuttable_mm) / 2,
        cuttable_mm=job.cuttable_mm,
        design_mm=(0.0, job.cuttable_mm) if option.edge == "parts" else (first, end),
        first_mm=first,
        length_mm=length,
        leader_mm=0.0,
        whole=(option.whole_across, option.repeats_along),
    )


def repeat_cells(plan: RepeatPlan, until_mm: float, from_mm: float = 0.0) -> Iterator[RepeatCell]:
    """Yield every repeat, whole or part, of a stretch of the design, row by row.

    Parameters
    ----------
    plan : RepeatPlan
        The lattice.
    until_mm, from_mm : float
        Printed lengths from the start of the design: repeats begin before the one, end after the other. [mm]
    """
    lattice, (wide, high), (start, end) = plan.lattice, plan.printed_mm, plan.design_mm
    last = min(until_mm, plan.length_mm)
    fewest = math.floor((start - plan.first_mm) / wide) - 1
    most = math.ceil((end - plan.first_mm) / wide)
    for place in range(max(-1, math.floor(from_mm / high) - 2), math.ceil(last / high)):
        letters = 0
        for number in range(fewest, most + 1):
            # Each stands on a plain grid, moved by less than a repeat; its cell of the lattice is another.
            aside = place * lattice.share if lattice.offset == "brick" else 0
            down = number * lattice.share if lattice.offset == "drop" else 0
            column, row = number - math.floor(aside), place - math.floor(down)
            left, top = plan.first_mm + (number + float(aside % 1)) * wide, (place + float(down % 1)) * high
            if left + wide <= start + _HAIR_MM or left >= end - _HAIR_MM:
                continue
            across = left >= start - _HAIR_MM and left + wide <= end + _HAIR_MM
            letters += across
            if (
                top + high <= max(0.0, from_mm) + _HAIR_MM
                or top >= last - _HAIR_MM
                or not lattice.shown(column, row)
            ):
                continue
            is_whole = across and top >= -_HAIR_MM and top + high <= plan.length_mm + _HAIR_MM
            name = f"{_letters(letters)}{place + 1}" if is_whole else ""
            yield RepeatCell(name, left, top, lattice.flips(column, row))


def finished_of(plan: RepeatPlan, across_mm: float, along_mm: float) -> tuple[float, float]:
    """Return printed lengths across and along, finished. [mm]."""
    return across_mm * finishing_factor(plan.weft_percent), along_mm * finishing_factor(plan.warp_percent)


def _letters(number: int) -> str:
    """Return the letters of a column: A to Z, then AA and so on."""
    text = ""
    while number:
        number, letter = divmod(number - 1, 26)
        text = chr(ord("A") + letter) + text
    return text
