"""Marks in the waste of a roll of repeats; rows that hold one are stored for themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.inks.roles import darkest_ink
from strikeoff.layout.compose import RollSource
from strikeoff.layout.finishing import finishing_factor
from strikeoff.layout.leader import FULL
from strikeoff.layout.marks_raster import DrawnMark, MarkDots
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.roll import RollPlan
from strikeoff.raster.bands import FramedSource

DESIGN = "design"


@dataclass(frozen=True)
class MarkedRoll(FramedSource):
    """A roll of repeats with marks around the design, uint16, read in bands.

    Attributes
    ----------
    source : RollSource
        The roll.
    marks : tuple of MarkDots
        Full tone of the darkest ink, from the corner of the printable cloth at the first row of the design.
    """

    source: RollSource
    marks: tuple[MarkDots | DrawnMark, ...]

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return self.source.dtype

    @property
    def row_block(self) -> int:
        """Rows that repeat together; 0 when nothing repeats."""
        return self.source.row_block

    @cached_property
    def _rows(self) -> NDArray[np.int64]:
        """First and last row of each mark on the roll, shape (2, marks)."""
        tops = np.array([m.top_px for m in self.marks], np.int64) + self.source.plan.leader_px
        ends = tops + np.array([m.height_px for m in self.marks], np.int64)
        return np.clip(np.stack([tops, ends]), 0, self.height)

    @cached_property
    def row_map(self) -> NDArray[np.int64]:
        """Canonical row of every row."""
        marked = np.zeros(self.height, bool)
        for top, end in self._rows.T.tolist():
            marked[top:end] = True
        return unmarked_rows(self.source.row_map, marked)

    def read(self, y0: int, y1: int) -> NDArray[np.uint16]:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, inks)``, in memory line by line."""
        band = self.source.read(y0, y1)
        tops, ends = self._rows
        touched = np.flatnonzero((tops < y1) & (ends > y0))
        if not len(touched):
            return band
        plan = self.source.plan
        lines = np.moveaxis(band, 2, 1).copy()
        ink = lines[:, darkest_ink(self.source.ink_names)]
        for k in touched.tolist():
            draw_mark(ink, self.marks[k], plan.leader_px - y0, plan.margin_px)
        return np.moveaxis(lines, 1, 2)


def draw_mark(ink: NDArray[np.uint16], mark: MarkDots | DrawnMark, row: int, column: int) -> None:
    """Draw a mark into rows of one ink, its places counted from a row and column; the rest is cut off."""
    dots = mark.dots
    top, left = mark.top_px + row, mark.left_px + column
    first, last = max(0, -top), min(dots.shape[0], len(ink) - top)
    from_left, to_right = max(0, -left), min(dots.shape[1], ink.shape[1] - left)
    if first < last and from_left < to_right:
        seen = dots[first:last, from_left:to_right]
        ink[top + first : top + last, left + from_left : left + to_right][seen] = FULL


def unmarked_rows(rows: NDArray[np.int64], marked: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return canonical rows where rows that hold a mark stand for themselves alone.

    Of rows that were equal before, the first without a mark stands for the others without.

    Examples
    --------
    >>> unmarked_rows(np.array([0, 1, 0, 1, 0, 1]), np.array([1, 0, 0, 1, 0, 0], bool)).tolist()
    [0, 1, 2, 3, 2, 1]
    """
    places = np.arange(len(rows), dtype=np.int64)
    first = np.full(len(rows), len(rows), np.int64)
    np.minimum.at(first, rows[~marked], places[~marked])
    return np.where(marked, places, first[rows])


def layout_of_design(plan: RollPlan) -> Layout:
    """Return the design of a roll of repeats as one piece, for whatever looks for waste around it."""
    unit = plan.repeat
    width = plan.across_mm(plan.printable_px) * finishing_factor(unit.weft_percent)
    length = plan.along_mm(plan.design_rows) * finishing_factor(unit.warp_percent)
    return Layout(
        plan.across_mm(plan.width_px),
        plan.across_mm(plan.margin_px),
        unit.warp_percent,
        unit.weft_percent,
        (Placement(DESIGN, 0.0, 0.0, width, length),),
    )


def marked_roll(roll: RollSource, marks: Sequence[MarkDots | DrawnMark]) -> RollSource | MarkedRoll:
    """Return a roll with marks; the roll itself without any."""
    return MarkedRoll(roll, tuple(marks)) if marks else roll
