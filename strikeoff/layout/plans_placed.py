"""Grids of copies and panel maps as layouts: the pieces of a plan, each with its part of the artwork."""

from __future__ import annotations

import math
from dataclasses import dataclass

from strikeoff.base.errors import InputError
from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.copies import CopyGrid
from strikeoff.layout.finishing import finishing_factor, printed_mm
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.panels import Panel, PanelMap
from strikeoff.layout.placement import MOST_PLACEMENTS, Edges, Layout, Placement

PANEL_GAP_MM = 20.0

# Edges so close are the same.
_SAME_MM = 1e-3


@dataclass(frozen=True)
class Cloth:
    """What pieces are printed on.

    Attributes
    ----------
    width_mm, margin_mm : float
        Unfinished cloth, and what is lost at each edge. [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across. [%]
    """

    width_mm: float
    margin_mm: float
    warp_percent: float
    weft_percent: float

    def layout(self, pieces: list[Placement]) -> Layout:
        """Return pieces on this cloth, checked."""
        found = Layout(self.width_mm, self.margin_mm, self.warp_percent, self.weft_percent, tuple(pieces))
        check_layout(found)
        return found


def copies_layout(
    grid: CopyGrid, cloth: Cloth, *, artwork: str = "", own_bleed: bool = True, dpi_y: float | None = None
) -> Layout:
    """Return a grid of copies as a layout.

    Parameters
    ----------
    grid : CopyGrid
        Planned on the same cloth.
    cloth : Cloth
        What it is printed on.
    artwork : str
        Name of the artwork.
    own_bleed : bool
        The artwork holds its bleed; otherwise its mirror image stands there.
    dpi_y : float, optional
        Rows come after whole press pixels of this addressability along the roll: then equal rows are
        composed once. The pitch grows or shrinks by half a pixel at most, and never so that copies overlap.
        [dots per inch]

    Raises
    ------
    InputError
        More copies than a layout holds.

    Examples
    --------
    >>> from strikeoff.layout.copies import plan_copies
    >>> grid = plan_copies((450, 300), 4, cuttable_mm=1480, warp_percent=-5, weft_percent=-3)
    >>> roll = copies_layout(grid, Cloth(1500, 10, -5, -3), artwork="fern")
    >>> [(p.code, p.x_mm, p.y_mm) for p in roll.placements[2:]]
    [('3', 900.0, 0.0), ('4', 0.0, 300.0)]
    """
    if grid.count > MOST_PLACEMENTS:
        raise InputError(
            "too many copies for a layout",
            found=grid.count,
            expected=f"at most {MOST_PLACEMENTS:,}",
            advice="Split the order into several rolls",
        )
    bleed, across = grid.bleed_mm, grid.pitch_mm[0]
    size = grid.size_mm[0] + 2 * bleed, grid.size_mm[1] + 2 * bleed
    along = grid.pitch_mm[1] if dpi_y is None else _whole_pixels(grid.pitch_mm[1], size[1], cloth, dpi_y)
    crop = None if own_bleed else (-bleed, -bleed, *size)
    return cloth.layout(
        [
            Placement(
                str(k + 1),
                k % grid.across * across,
                k // grid.across * along,
                *size,
                artwork=artwork,
                bleed_mm=bleed,
                turn_degrees=180 if turned else 0,
                crop_mm=crop,
                artwork_mm=None if own_bleed else grid.size_mm,
            )
            for k, (_, _, turned) in enumerate(grid.copies())
        ]
    )


def panels_layout(
    plan: PanelMap,
    cloth: Cloth,
    *,
    artwork: str = "",
    trim_mm: float = 0.0,
    whole_artwork: bool = False,
    gap_mm: float = PANEL_GAP_MM,
) -> Layout:
    """Return the panels of a map one after the other, as many side by side as the cloth holds.

    Parameters
    ----------
    plan : PanelMap
        Planned on the same cloth.
    cloth : Cloth
        What it is printed on.
    artwork : str
        Name of the artwork.
    trim_mm : float
        Cut away at each edge of the work: the bleed of panels there. [mm]
    whole_artwork : bool
        The artwork holds hems, pockets and trim; otherwise it holds what is seen, and its mirror image
        stands there.
    gap_mm : float
        Finished cloth between panels on the roll. [mm]

    Raises
    ------
    InputError
        A gap that cannot be.
    """
    if not 0 <= gap_mm <= 1000:
        raise InputError("gap between panels cannot be", found=f"{gap_mm:g} mm", expected="0 to 1,000 mm")
    first = plan.panels[0]
    size = first.end_mm - first.start_mm, first.bottom_mm - first.top_mm
    side, end = (0.0, 0.0) if whole_artwork else (plan.side_mm, plan.end_mm)
    whole = plan.cloth_mm[0] - 2 * side, plan.cloth_mm[1] - 2 * end
    widest = (cloth.width_mm - 2 * cloth.margin_mm) * finishing_factor(cloth.weft_percent)
    beside = max(1, math.floor((widest + gap_mm) / (size[0] + gap_mm) * (1 + 1e-9)))
    pieces = []
    for k, panel in enumerate(plan.panels):
        row, column = divmod(k, beside)
        pieces.append(
            Placement(
                str(panel.number),
                column * (size[0] + gap_mm),
                row * (size[1] + gap_mm),
                *size,
                artwork=artwork,
                bleed_mm=_outer_trim(plan, panel, trim_mm),
                crop_mm=(panel.start_mm - side, panel.top_mm - end, *size),
                sequence=panel.number,
                artwork_mm=whole,
                mirrored_mm=max(side, end),
            )
        )
    return cloth.layout(pieces)


def _outer_trim(plan: PanelMap, panel: Panel, trim_mm: float) -> float | Edges:
    """Return the bleed of a panel: where it is sewn to another one nothing is cut away."""
    wide, high = plan.cloth_mm
    outer = (
        panel.start_mm < _SAME_MM,
        panel.top_mm < _SAME_MM,
        panel.end_mm > wide - _SAME_MM,
        panel.bottom_mm > high - _SAME_MM,
    )
    if all(outer):
        return trim_mm
    left, top, right, bottom = (trim_mm if is_outer else 0.0 for is_outer in outer)
    return left, top, right, bottom


def _whole_pixels(pitch_mm: float, least_mm: float, cloth: Cloth, dpi_y: float) -> float:
    """Return the finished pitch nearest to one that is whole pixels when printed, and not below the least."""
    pixel = MM_PER_INCH / dpi_y
    count = round(printed_mm(pitch_mm, cloth.warp_percent) / pixel)
    if count * pixel < printed_mm(least_mm, cloth.warp_percent) - 1e-9:
        count += 1
    return count * pixel * finishing_factor(cloth.warp_percent)
