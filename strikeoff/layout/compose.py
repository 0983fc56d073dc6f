"""A roll as a band source: the repeat lattice, with strip, slug and nozzle pattern in the leader's waste."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import gcd
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.layout.cells import draw_cells
from strikeoff.layout.leader import Leader, check_leader
from strikeoff.layout.roll import RollPlan
from strikeoff.layout.strip import PlacedPatch, StripPatches
from strikeoff.raster.bands import ArraySource, BandSource, check_rows
from strikeoff.raster.resample import PeriodicTile, limits_of

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

    @cached_property
    def leader(self) -> Leader:
        """Strip, slug and nozzle pattern."""
        plan, unit = self.plan, self.plan.repeat
        return Leader(
            self.ink_names, unit.dpi_x, unit.dpi_y, plan.margin_px, plan.printable_px, plan.slug_px,
            plan.strip_px, self.strip, self.slug, plan.nozzle_px,
        )  # fmt: skip

    def patches_mm(self) -> tuple[PlacedPatch, ...]:
        """Return where the patches of the strip stand on the unfinished roll, from its left upper corner."""
        return self.leader.patches_mm()

    def read(self, y0: int, y1: int) -> NDArray[np.uint16]:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, inks)``, in memory line by line."""
        check_rows(self, y0, y1)
        plan = self.plan
        out = np.moveaxis(np.zeros((y1 - y0, self.channels, self.width), np.uint16), 1, 2)
        if y0 < plan.leader_px:
            self.leader.draw(out, y0)
        top = max(y0, plan.leader_px)
        bottom = min(y1, plan.leader_px + plan.design_rows)
        if top < bottom:
            printable = out[top - y0 : bottom - y0, plan.margin_px : plan.width_px - plan.margin_px]
            start = plan.column_px - plan.margin_px
            draw_cells(printable, self.tile, plan.repeat, top - plan.leader_px, start)
        return out


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
    if planes.height * planes.width * planes.channels * 2 <= _HELD_TILE_BYTES:
        planes = ArraySource(planes.read(0, planes.height), planes.pitch_mm)
    tile = PeriodicTile(
        planes, plan.repeat.height_px, plan.repeat.width_px, plan.repeat.lattice, limits_of(planes)
    )
    roll = RollSource(tile, plan, names, strip, slug)
    check_leader(roll.leader, plan.along_mm(plan.leader_px))
    return roll
