"""Copies of one piece over the width of a roll."""

from __future__ import annotations

from pathlib import Path

from strikeoff.layout.copies import plan_copies
from strikeoff.layout.copies_drawing import copies_svg
from strikeoff.layout.finishing import printed_mm
from strikeoff.layout.placement_file import write_layout
from strikeoff.layout.plans_placed import Cloth, copies_layout
from strikeoff.layout.svg import write_drawing
from strikeoff.layout.width_options import cloth_width_mm, cuttable_width_mm
from strikeoff.workbench.result import Result

_MARGIN_MM = 10.0


def roll_copies(
    *,
    finished: tuple[float, float],
    count: int,
    warp: float,
    weft: float,
    width: float,
    width_basis: str = "cloth",
    margin: float | None = None,
    bleed: float | None = None,
    gap: float | None = None,
    turn: str = "none",
    fill: bool = False,
    artwork: str | None = None,
    mirror_bleed: bool = False,
    dpi: tuple[float, float] | None = None,
    layout: str | Path | None = None,
    drawing: str | Path | None = None,
) -> Result:
    """Count the copies that a grid over the cuttable width will hold, before anything is printed.

    Parameters
    ----------
    finished : tuple of float
        Finished size of a copy (across, along). [mm]
    count : int
        Copies wanted.
    warp, weft : float
        Dimensional change along and across, finished over file, shrinkage negative. [%]
    width : float
        Width of the cloth. [mm]
    width_basis : {"cloth", "finished"}
        The width is that before finishing, or after it.
    margin : float, optional
        Lost at each edge; 10 by default. [mm]
    bleed, gap : float, optional
        Finished artwork beyond each edge; finished cloth between bleeds; none by default. [mm]
    turn : {"none", "rows", "columns"}
        Which ones stand on their heads.
    fill : bool
        Fill the last row.
    artwork : str, optional
        Name of the artwork in the layout.
    mirror_bleed : bool
        The artwork has no bleed of its own: its mirror image stands there.
    dpi : tuple of float, optional
        Rows of the layout come after whole press pixels, so that equal rows are composed once.
    layout : str or Path, optional
        Layout document to write.
    drawing : str or Path, optional
        SVG or PDF to write.

    Returns
    -------
    Result
    """
    width = cloth_width_mm(width, width_basis, weft)
    edge = _MARGIN_MM if margin is None else margin
    grid = plan_copies(
        finished,
        count,
        cuttable_mm=cuttable_width_mm(width, 0.0, edge),
        warp_percent=warp,
        weft_percent=weft,
        bleed_mm=bleed or 0.0,
        gap_mm=(gap or 0.0, gap or 0.0),
        turn=turn,
        fill=fill,
    )
    outputs: list[Path] = []
    if layout is not None:
        placed = copies_layout(
            grid,
            Cloth(width, edge, warp, weft),
            artwork=artwork or "",
            own_bleed=not mirror_bleed,
            dpi_y=None if dpi is None else dpi[1],
        )
        write_layout(layout, placed)
        outputs.append(Path(layout))
    if drawing is not None:
        write_drawing(drawing, copies_svg(grid, f"Copies of {finished[0]:g} × {finished[1]:g} mm finished"))
        outputs.append(Path(drawing))
    results = {
        "count": grid.count,
        "spare": grid.count - count,
        "across": grid.across,
        "rows": grid.rows,
        "last_row": grid.count - (grid.rows - 1) * grid.across,
        "turned": sum(turned for _, _, turned in grid.copies()),
        "pitch_mm": list(grid.pitch_mm),
        "length_mm": list(grid.length_mm),
        "left_over_mm": list(grid.left_over_mm),
    }
    printed = [printed_mm(finished[0], weft), printed_mm(finished[1], warp)]
    results |= {"finished_mm": list(finished), "printed_mm": printed}
    lines = (
        f"each copy {finished[0]:g} x {finished[1]:g} mm finished, {printed[0]:.2f} x {printed[1]:.2f} mm "
        "printed, bleed not counted",
        f"{grid.count} copies ({grid.count - count} spare): {grid.across} across, {grid.rows} rows, "
        f"{results['last_row']} in the last",
        f"{grid.length_mm[1] / 1000:.3f} m finished, {grid.length_mm[0] / 1000:.3f} m printed; left across "
        f"{grid.left_over_mm[1]:.1f} mm finished, {grid.left_over_mm[0]:.1f} mm printed",
    )
    return Result(results, (), tuple(outputs), "done", lines)
