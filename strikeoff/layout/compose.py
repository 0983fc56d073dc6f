"""A roll as a band source: the repeat lattice, with strip and slug in the leader's waste."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import gcd
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.inks.roles import darkest_ink
from strikeoff.layout.repeat import Repeat
from strikeoff.layout.roll import RollPlan
from strikeoff.layout.slug import SLUG_MM, slug_bitmap
from strikeoff.layout.strip import PlacedPatch, StripPatches
from strikeoff.raster.bands import ArraySource, BandSource, check_rows
from strikeoff.raster.resample import PeriodicTile, limits_of

_FULL = 65535
_HELD_TILE_BYTES = 400 << 20


@dataclass(frozen=True)
class RollSource:
    """The ink planes of a whole roll, uint16, read in bands. Rows of the design repeat."""

    tile: PeriodicTile
    plan: RollPlan
    ink_names: tuple[str, ...]
    strip: StripPatches | None = None
    slug: str = ""

    @property
    def height(self) -> int:
        """Rows."""
        return self.plan.height_px

    @property
    def width(self) -> int:
        """Pixels in a row."""
        return self.plan.width_px

    @property
    def channels(self) -> int:
        """Inks."""
        return self.tile.channels

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint16)

    @property
    def pitch_mm(self) -> tuple[float, float]:
        """Pixel pitch, across and along, in millimetres."""
        return self.plan.across_mm(1), self.plan.along_mm(1)

    @property
    def period_start(self) -> int:
        """First row of the design."""
        return self.plan.leader_px

    @property
    def period_rows(self) -> int:
        """Rows after which the design repeats."""
        return self.plan.repeat.period_rows

    @property
    def row_block(self) -> int:
        """Rows that repeat together; 0 when the roll is shorter than two periods."""
        if self.plan.design_rows <= self.period_rows:
            return 0
        return gcd(self.period_start, self.period_rows)

    def canonical_row(self, y: int) -> int:
        """Return the smallest row that holds the same samples as row ``y``."""
        row = y - self.period_start
        if row < 0:
            return y
        # The tail is as bare as the gap before the slug.
        return self.period_start + row % self.period_rows if row < self.plan.design_rows else 0

    @cached_property
    def row_map(self) -> NDArray[np.int64]:
        """Canonical row of every row."""
        row = np.arange(self.height, dtype=np.int64) - self.period_start
        repeated = self.period_start + row % self.period_rows
        design = np.where(row < self.plan.design_rows, repeated, 0)
        return np.where(row < 0, row + self.period_start, design)

    def patches_mm(self) -> tuple[PlacedPatch, ...]:
        """Return where the patches of the strip stand on the unfinished roll, from its left upper corner."""
        if self.strip is None:
            return ()
        plan = self.plan
        left, top = plan.across_mm(plan.margin_px), plan.along_mm(plan.strip_px)
        return tuple(
            PlacedPatch(p.sample_id, left + p.x_mm, top + p.y_mm, p.width_mm, p.height_mm)
            for p in self.strip.placed(plan.across_mm(plan.printable_px))
        )

    def read(self, y0: int, y1: int) -> NDArray[np.uint16]:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, inks)``, in memory line by line."""
        check_rows(self, y0, y1)
        plan = self.plan
        out = np.moveaxis(np.zeros((y1 - y0, self.channels, self.width), np.uint16), 1, 2)
        if y0 < plan.leader_px:
            self._draw_waste(out, y0)
        top = max(y0, plan.leader_px)
        bottom = min(y1, plan.leader_px + plan.design_rows)
        if top < bottom:
            printable = out[top - y0 : bottom - y0, plan.margin_px : plan.width_px - plan.margin_px]
            self._draw_design(printable, top - plan.leader_px)
        return out

    def _draw_design(self, out: NDArray[np.uint16], row: int) -> None:
        cells = _Cells(self.tile, self.plan.repeat)
        start = self.plan.column_px - self.plan.margin_px
        height = self.plan.repeat.height_px
        if self.plan.repeat.lattice.offset == "brick":
            for top in _cuts(row, row + len(out), height):
                bottom = min(row + len(out), (top // height + 1) * height)
                cells.lay(out[top - row : bottom - row], top, start)
        else:
            cells.lay(out, row, start)

    def _draw_waste(self, out: NDArray[np.uint16], y0: int) -> None:
        for patch, coverage in self._patch_boxes:
            top, bottom, left, right = patch
            out[max(0, top - y0) : max(0, bottom - y0), left:right] = coverage
        if self.slug:
            plan = self.plan
            bitmap = self._slug
            first, last = max(y0, plan.slug_px), min(y0 + len(out), plan.slug_px + len(bitmap))
            if first < last:
                piece = bitmap[first - plan.slug_px : last - plan.slug_px]
                columns = slice(plan.margin_px, plan.margin_px + bitmap.shape[1])
                ink = out[first - y0 : last - y0, columns, darkest_ink(self.ink_names)]
                ink[piece] = _FULL

    @cached_property
    def _slug(self) -> NDArray[np.bool_]:
        plan = self.plan
        width_mm = plan.across_mm(plan.printable_px)
        return slug_bitmap(self.slug, width_mm, plan.repeat.dpi_x, plan.repeat.dpi_y)

    @cached_property
    def _patch_boxes(self) -> list[tuple[tuple[int, int, int, int], NDArray[np.uint16]]]:
        """Rows and columns of each patch, with its ink."""
        if self.strip is None:
            return []
        pitch_x, pitch_y = self.pitch_mm
        inks = np.rint(self.strip.coverages * _FULL).astype(np.uint16)
        boxes = []
        for patch, ink in zip(self.patches_mm(), inks, strict=True):
            top, bottom = round(patch.y_mm / pitch_y), round((patch.y_mm + patch.height_mm) / pitch_y)
            left, right = round(patch.x_mm / pitch_x), round((patch.x_mm + patch.width_mm) / pitch_x)
            boxes.append(((top, bottom, left, right), ink))
        return boxes


def compose(
    planes: BandSource,
    plan: RollPlan,
    *,
    ink_names: Sequence[str],
    strip: StripPatches | None = None,
    slug: str = "",
) -> RollSource:
    """Return the planes of a roll.

    Parameters
    ----------
    planes : BandSource
        One repeat at any resolution, uint16; it is resampled to the repeat's press pixels. No pixel
        becomes heavier, in one ink or in all, than the heaviest of the planes.
    plan : RollPlan
        Where everything goes.
    ink_names : sequence of str
        Inks in channel order.
    strip : StripPatches, optional
        Control strip for the leader; its inks must be those of the planes.
    slug : str
        Text line for the leader.

    Raises
    ------
    UsageError
        Inks do not agree, or the leader is too short for strip and slug.
    """
    names = tuple(ink_names)
    if len(names) != planes.channels:
        raise UsageError("one name per ink is needed", found=len(names), expected=planes.channels)
    if strip is not None and strip.ink_names != names:
        raise UsageError("control strip has other inks", found=strip.ink_names, expected=names)
    if planes.height * planes.width * planes.channels * 2 <= _HELD_TILE_BYTES:
        planes = ArraySource(planes.read(0, planes.height), planes.pitch_mm)
    tile = PeriodicTile(
        planes, plan.repeat.height_px, plan.repeat.width_px, plan.repeat.lattice, limits_of(planes)
    )
    roll = RollSource(tile, plan, names, strip, slug)
    ends = [p.y_mm + p.height_mm for p in roll.patches_mm()]
    ends += [plan.along_mm(plan.slug_px) + SLUG_MM] if slug else []
    if max(ends, default=0.0) > plan.along_mm(plan.leader_px):
        raise UsageError(
            "leader is too short for slug and control strip",
            found=f"{plan.along_mm(plan.leader_px):.1f} mm",
            expected=f"at least {max(ends):.1f} mm",
            advice="Plan the roll with the strip",
        )
    return roll


class _Cells:
    """Cells of the lattice for some rows; what was resampled for one cell serves its equals."""

    def __init__(self, tile: PeriodicTile, repeat: Repeat) -> None:
        self._tile, self._repeat = tile, repeat
        self._made: dict[tuple[int, int, tuple[bool, bool]], NDArray[np.uint16]] = {}

    def lay(self, out: NDArray[np.uint16], row: int, start: int) -> None:
        """Fill rows from ``row`` of the design; the first cell has its left edge at ``start``."""
        width = self._repeat.width_px
        # Rows of a brick stand in one row of cells.
        start += self._repeat.offset_px(0, row // self._repeat.height_px)[0]
        column = -(-start // width)
        for number in range(-column, (out.shape[1] - start) // width + 1):
            left = start + number * width
            first, last = max(0, left), min(out.shape[1], left + width)
            if first < last and self._repeat.lattice.shown(number, 0):
                self._fill(out[:, first:last], number, row, first - left)

    def _fill(self, out: NDArray[np.uint16], column: int, row: int, left: int) -> None:
        lattice, height = self._repeat.lattice, self._repeat.height_px
        row -= self._repeat.offset_px(column, 0)[1]
        columns = slice(left, left + out.shape[1])
        if lattice.mirror in ("none", "across") and not lattice.turned and lattice.repeats != "across":
            out[:] = self._rows(row % height, len(out), lattice.flips(column, 0))[:, columns]
            return
        for top in _cuts(row, row + len(out), height):
            bottom = min(row + len(out), (top // height + 1) * height)
            if lattice.shown(column, top // height):
                flips = lattice.flips(column, top // height)
                out[top - row : bottom - row] = self._rows(top % height, bottom - top, flips)[:, columns]

    def _rows(self, row: int, rows: int, flips: tuple[bool, bool]) -> NDArray[np.uint16]:
        if (row, rows, flips) not in self._made:
            across, along = flips
            top = self._repeat.height_px - row - rows if along else row
            made = self._tile.read(top, top + rows)[:: -1 if along else 1, :: -1 if across else 1]
            self._made[row, rows, flips] = made
        return self._made[row, rows, flips]


def _cuts(first: int, last: int, size: int) -> list[int]:
    """Return ``first`` and every multiple of ``size`` after it and before ``last``."""
    return [first, *range((first // size + 1) * size, last, size)]
