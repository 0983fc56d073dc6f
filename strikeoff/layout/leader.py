"""What stands in the waste before the goods: slug line, control strip, nozzle pattern."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.units import MM_PER_INCH
from strikeoff.inks.roles import darkest_ink
from strikeoff.layout.nozzle_pattern import draw_nozzle_pattern, nozzle_pattern_height_mm
from strikeoff.layout.slug import SLUG_MM, slug_bitmap
from strikeoff.layout.strip import PlacedPatch, StripPatches

FULL = 65535

_GAP_MM = 5.0


@dataclass(frozen=True)
class Leader:
    """Slug, strip and nozzle pattern between the margins, in the first rows of a roll.

    Attributes
    ----------
    ink_names : tuple of str
        Inks in channel order.
    dpi_x, dpi_y : float
        Addressability. [dots per inch]
    margin_px, printable_px : int
        Unprinted at each edge; columns between.
    slug_px, strip_px : int
        First row of the slug line and of the strip.
    strip : StripPatches, optional
        Control strip.
    slug : str
        Text line; none when empty.
    nozzle_px : int, optional
        First row of the nozzle pattern; none when None.
    """

    ink_names: tuple[str, ...]
    dpi_x: float
    dpi_y: float
    margin_px: int
    printable_px: int
    slug_px: int
    strip_px: int
    strip: StripPatches | None = None
    slug: str = ""
    nozzle_px: int | None = None

    @property
    def needed_mm(self) -> float:
        """Length that all of it needs, from the first row. [mm]."""
        ends = [p.y_mm + p.height_mm for p in self.patches_mm()]
        ends += [self.slug_px * MM_PER_INCH / self.dpi_y + SLUG_MM] if self.slug else []
        if self.nozzle_px is not None:
            high = nozzle_pattern_height_mm(len(self.ink_names), self.dpi_y)
            ends.append(self.nozzle_px * MM_PER_INCH / self.dpi_y + high)
        return max(ends, default=0.0)

    def patches_mm(self) -> tuple[PlacedPatch, ...]:
        """Return where the patches of the strip stand on the unfinished roll, from its left upper corner."""
        if self.strip is None:
            return ()
        left, top = self.margin_px * MM_PER_INCH / self.dpi_x, self.strip_px * MM_PER_INCH / self.dpi_y
        return tuple(
            PlacedPatch(p.sample_id, left + p.x_mm, top + p.y_mm, p.width_mm, p.height_mm)
            for p in self.strip.placed(self.printable_px * MM_PER_INCH / self.dpi_x)
        )

    def draw(self, out: NDArray[np.uint16], y0: int) -> None:
        """Draw what of it falls into rows from ``y0``, shape ``(rows, width, inks)``."""
        for patch, coverage in self._patch_boxes:
            top, bottom, left, right = patch
            out[max(0, top - y0) : max(0, bottom - y0), left:right] = coverage
        if self.nozzle_px is not None:
            printable = out[:, self.margin_px : self.margin_px + self.printable_px]
            draw_nozzle_pattern(printable, y0 - self.nozzle_px, self.dpi_y)
        if self.slug:
            bitmap = self._slug
            first, last = max(y0, self.slug_px), min(y0 + len(out), self.slug_px + len(bitmap))
            if first < last:
                piece = bitmap[first - self.slug_px : last - self.slug_px]
                columns = slice(self.margin_px, self.margin_px + bitmap.shape[1])
                ink = out[first - y0 : last - y0, columns, darkest_ink(self.ink_names)]
                ink[piece] = FULL

    @cached_property
    def _slug(self) -> NDArray[np.bool_]:
        width_mm = self.printable_px * MM_PER_INCH / self.dpi_x
        return slug_bitmap(self.slug, width_mm, self.dpi_x, self.dpi_y)

    @cached_property
    def _patch_boxes(self) -> list[tuple[tuple[int, int, int, int], NDArray[Any]]]:
        """Rows and columns of each patch, with its ink."""
        if self.strip is None:
            return []
        pitch_x, pitch_y = MM_PER_INCH / self.dpi_x, MM_PER_INCH / self.dpi_y
        inks = np.rint(self.strip.coverages * FULL).astype(np.uint16)
        boxes = []
        for patch, ink in zip(self.patches_mm(), inks, strict=True):
            top, bottom = round(patch.y_mm / pitch_y), round((patch.y_mm + patch.height_mm) / pitch_y)
            left, right = round(patch.x_mm / pitch_x), round((patch.x_mm + patch.width_mm) / pitch_x)
            boxes.append(((top, bottom, left, right), ink))
        return boxes


def leader_places_mm(strip: StripPatches | None, printable_mm: float) -> tuple[float, float, float]:
    """Return where slug and strip begin, and the least length of the leader. [mm].

    Examples
    --------
    >>> leader_places_mm(None, 1000.0)
    (5.0, 17.0, 17.0)
    """
    strip_mm = _GAP_MM + SLUG_MM + _GAP_MM
    return _GAP_MM, strip_mm, strip_mm + (strip.height_mm(printable_mm) + _GAP_MM if strip else 0.0)


def leader_with_nozzles_mm(needed_mm: float, inks: int, dpi_y: float) -> tuple[float, float]:
    """Return where the nozzle pattern begins below slug and strip, and the least length of the leader. [mm].

    Parameters
    ----------
    needed_mm : float
        Length of the leader without it, as `leader_places_mm` returns it. [mm]
    inks : int
        Number of inks.
    dpi_y : float
        Addressability along. [dots per inch]

    Examples
    --------
    >>> leader_with_nozzles_mm(17.0, 4, 25.4)
    (17.0, 90.0)
    """
    return needed_mm, needed_mm + nozzle_pattern_height_mm(inks, dpi_y) + _GAP_MM


def check_leader(leader: Leader, length_mm: float) -> None:
    """Raise UsageError when what stands in it needs more than ``length_mm``, or the strip has other inks."""
    if leader.strip is not None and leader.strip.ink_names != leader.ink_names:
        raise UsageError(
            "control strip has other inks", found=leader.strip.ink_names, expected=leader.ink_names
        )
    if leader.needed_mm > length_mm:
        raise UsageError(
            "leader is too short for slug and control strip",
            found=f"{length_mm:.1f} mm",
            expected=f"at least {leader.needed_mm:.1f} mm",
            advice="Plan the roll with the strip",
        )
