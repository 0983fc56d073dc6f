"""Work larger than the cloth: a panel map, and the panels as a layout."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from strikeoff.layout.panel_drawing import panel_map_svg
from strikeoff.layout.panels import HEM_MM, TRIM_MM, Panel, PanelJob, eyelet_places_mm, plan_panels
from strikeoff.layout.placement_file import write_layout
from strikeoff.layout.plans_placed import PANEL_GAP_MM, Cloth, panels_layout
from strikeoff.layout.svg import write_drawing
from strikeoff.layout.width_options import cloth_width_mm, cuttable_width_mm
from strikeoff.report.cautions import cautions
from strikeoff.workbench.result import Result

_MARGIN_MM, _OVERLAP_MM = 10.0, 20.0


def roll_panels(
    *,
    visible: tuple[float, float],
    warp: float,
    weft: float,
    width: float,
    width_basis: str = "cloth",
    margin: float | None = None,
    join: str = "overlap",
    overlap: float | None = None,
    trim: float | None = None,
    hem: bool = False,
    pole: float | None = None,
    stretch: float | None = None,
    eyelets: float | None = None,
    longest: float | None = None,
    artwork: str | None = None,
    whole_artwork: bool = False,
    gap: float | None = None,
    layout: str | Path | None = None,
    drawing: str | Path | None = None,
) -> Result:
    """Split work into the fewest equal panels that the cloth holds.

    Parameters
    ----------
    visible : tuple of float
        What is seen when it hangs (across, along). [mm]
    warp, weft : float
        Dimensional change along and across, finished over file, shrinkage negative. [%]
    width : float
        Width of the cloth. [mm]
    width_basis : {"cloth", "finished"}
        The width is that before finishing, or after it.
    margin : float, optional
        Lost at each edge; 10 by default. [mm]
    join : {"overlap", "butt"}
        How panels meet.
    overlap : float, optional
        Finished width of the shared strip; 20 by default. [mm]
    trim : float, optional
        Cut away at each edge; 3 by default. [mm]
    hem : bool
        Fold a hem of 25 mm; where there are pockets, at the sides only.
    pole : float, optional
        Diameter of poles in pockets above and below. [mm]
    stretch : float, optional
        How much the frame stretches the cloth. [%]
    eyelets : float, optional
        Eyelets at most so far apart and in the corners. [mm]
    longest : float, optional
        Most printed length of a panel: higher work is split into rows too. [mm]
    artwork : str, optional
        Name of the artwork in the layout.
    whole_artwork : bool
        The artwork holds hems, pockets and trim; otherwise it holds what is seen, and its mirror image
        stands there.
    gap : float, optional
        Finished cloth between panels of the layout; 20 by default. [mm]
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
    job = PanelJob(
        *visible,
        warp_percent=warp,
        weft_percent=weft,
        cuttable_mm=cuttable_width_mm(width, 0.0, edge),
        join=join,
        overlap_mm=_OVERLAP_MM if overlap is None else overlap,
        trim_mm=TRIM_MM if trim is None else trim,
        hem_mm=HEM_MM if hem else 0.0,
        pole_mm=pole or 0.0,
        stretch_percent=stretch or 0.0,
        longest_mm=longest,
    )
    plan = plan_panels(job)
    places: list[list[float]] = []
    if eyelets is not None:
        sides = plan.cloth_mm[0] - 2 * plan.side_mm, plan.cloth_mm[1] - 2 * plan.end_mm
        places = [list(eyelet_places_mm(side, eyelets)) for side in sides]
    warnings = cautions([])
    outputs: list[Path] = []
    if layout is not None:
        placed = panels_layout(
            plan,
            Cloth(width, edge, warp, weft),
            artwork=artwork or "",
            trim_mm=job.trim_mm,
            whole_artwork=whole_artwork,
            gap_mm=PANEL_GAP_MM if gap is None else gap,
        )
        write_layout(layout, placed)
        outputs.append(Path(layout))
    if drawing is not None:
        title = f"Panel map, {visible[0]:g} × {visible[1]:g} mm seen"
        write_drawing(drawing, panel_map_svg(plan, title, eyelets_mm=eyelets))
        outputs.append(Path(drawing))
    finished_m = sum(panel.bottom_mm - panel.top_mm for panel in plan.panels) / 1000
    results = {
        "panels": [asdict(panel) for panel in plan.panels],
        "cloth_mm": list(plan.cloth_mm),
        "side_mm": plan.side_mm,
        "end_mm": plan.end_mm,
        "overlap_mm": plan.overlap_mm,
        "finished_m": finished_m,
        "printed_m": plan.printed_m,
        "eyelets_mm": places,
        "cautions": list(warnings),
    }
    first = plan.panels[0]
    size = first.printed_mm
    lines = (
        f"{len(plan.panels)} panels, each {first.end_mm - first.start_mm:.1f} x "
        f"{first.bottom_mm - first.top_mm:.1f} mm finished, {size[0]:.1f} x {size[1]:.1f} mm printed",
        f"all one after the other {finished_m:.2f} m finished, {plan.printed_m:.2f} m printed",
        f"cloth {plan.cloth_mm[0]:.1f} x {plan.cloth_mm[1]:.1f} mm finished before making up",
        *(_panel_line(panel, split_along=plan.panels[-1].top_mm > 0) for panel in plan.panels),
        *warnings,
    )
    return Result(results, (), tuple(outputs), "done", lines)


def _panel_line(panel: Panel, *, split_along: bool) -> str:
    line = f"panel {panel.number}: {panel.start_mm:.1f} to {panel.end_mm:.1f} mm from the left"
    return line + (f", {panel.top_mm:.1f} to {panel.bottom_mm:.1f} mm from above" if split_along else "")
