"""Free shapes nested on a roll."""

from __future__ import annotations

import json
from pathlib import Path

from strikeoff.base.errors import UsageError
from strikeoff.base.files import write_text
from strikeoff.base.progress import Progress, silent
from strikeoff.layout.contours import TOLERANCE_MM, Points, check_tolerance
from strikeoff.layout.cut_files import check_cut_name, write_cuts
from strikeoff.layout.cut_paths import plan_cuts
from strikeoff.layout.finishing import printed_mm
from strikeoff.layout.shape_plans import ShapeJob, ShapePlan
from strikeoff.layout.shapes import read_shapes
from strikeoff.layout.shapes_drawing import shapes_svg
from strikeoff.layout.shapes_nesting import nest_shapes
from strikeoff.layout.svg import write_drawing
from strikeoff.layout.width_options import cloth_width_mm
from strikeoff.report.cautions import cautions
from strikeoff.workbench.result import Result

NESTED_SCHEMA = "strikeoff/nested-shapes/1"

_MARGIN_MM, _GAP_MM, _SECONDS = 10.0, 2.0, 30


def nest_roll_shapes(
    shapes: str | Path,
    *,
    width: float,
    width_basis: str = "cloth",
    warp: float,
    weft: float,
    margin: float | None = None,
    gap: float | None = None,
    count: int = 1,
    turn: str = "180",
    seconds: int | None = None,
    seed: int = 1,
    threads: int = 1,
    tolerance: float | None = None,
    drawing: str | Path | None = None,
    cuts: str | Path | None = None,
    out: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Nest pieces of free shape on the cuttable width and tell how good that is.

    Parameters
    ----------
    shapes : str or Path
        SVG, DXF, or the shapes document, at finished size.
    width : float
        Width of the cloth. [mm]
    width_basis : {"cloth", "finished"}
        The width is that before finishing, or after it.
    warp, weft : float
        Dimensional change along and across, finished over file, shrinkage negative. [%]
    margin : float, optional
        Lost at each edge; 10 by default. [mm]
    gap : float, optional
        Least finished distance between pieces; 2 by default. [mm]
    count : int
        Copies of a piece of which the file tells none.
    turn : {"none", "180", "90", "any"}
        Turns that the grain allows, of a piece of which the file tells none.
    seconds : int, optional
        Time for searching; 30 by default. [s]
    seed, threads : int
        Of the search.
    tolerance : float, optional
        Most distance of curves from the straight pieces that stand for them; 0.05 by default. [mm]
    drawing : str or Path, optional
        SVG or PDF to write.
    cuts : str or Path, optional
        Cut paths to write: SVG, DXF or PDF.
    out : str or Path, optional
        Places to write, JSON.
    progress : Progress
        Told how much of the time is over.

    Returns
    -------
    Result
    """
    width = cloth_width_mm(width, width_basis, weft)
    if cuts is not None:
        check_cut_name(cuts)
    if drawing is not None and Path(drawing).suffix.lower() not in (".svg", ".pdf"):
        raise UsageError(
            "unknown kind of drawing", found=Path(drawing).name, expected="a name in .svg or .pdf"
        )
    fine = TOLERANCE_MM if tolerance is None else tolerance
    check_tolerance(fine)
    job = ShapeJob(
        read_shapes(shapes, count=count, turn=turn, tolerance_mm=fine),
        width,
        _MARGIN_MM if margin is None else margin,
        warp,
        weft,
        _GAP_MM if gap is None else gap,
    )
    plan = nest_shapes(
        job,
        seconds=_SECONDS if seconds is None else seconds,
        seed=seed,
        threads=threads,
        progress=progress,
    )
    outputs: list[Path] = []
    if out is not None:
        write_text(out, json.dumps(_record(plan), allow_nan=False) + "\n")
        outputs.append(Path(out))
    if cuts is not None:
        box = 0.0, 0.0, plan.cuttable_mm[0], plan.printed_length_mm
        lines = [contour for placed in plan.placed for contour in placed.contours()]
        write_cuts(cuts, plan_cuts(lines, warp, weft, box_mm=box), f"Cut paths of {Path(shapes).name}")
        outputs.append(Path(cuts))
    if drawing is not None:
        write_drawing(drawing, shapes_svg(plan, f"Nesting of {Path(shapes).stem}"))
        outputs.append(Path(drawing))
    return Result(_told(plan), (), tuple(outputs), "done", _lines(plan))


def _told(plan: ShapePlan) -> dict[str, object]:
    return {
        "pieces": len(plan.placed),
        "length_mm": [plan.printed_length_mm, plan.length_mm],
        "cuttable_mm": list(plan.cuttable_mm),
        "fill": plan.fill,
        "bound_mm": plan.bound_mm,
        "gap_to_bound_percent": plan.gap_percent,
        "places": [
            {
                "name": placed.name,
                "shape": placed.shape,
                "turn_degrees": placed.turn_degrees,
                "left_mm": float(placed.outline[:, 0].min()),
                "top_mm": float(placed.outline[:, 1].min()),
            }
            for placed in plan.placed
        ],
        "cautions": list(cautions(["cutting"])),
    }


def _lines(plan: ShapePlan) -> tuple[str, ...]:
    return (
        f"{len(plan.placed)} pieces on {plan.length_mm / 1000:.3f} m finished, "
        f"{plan.printed_length_mm / 1000:.3f} m printed",
        f"{100 * plan.fill:.1f} % of the cuttable cloth is used; nothing can be shorter than "
        f"{plan.bound_mm / 1000:.3f} m finished, this is {plan.gap_percent:.1f} % longer",
        "time ends the search: the same seed may find another layout, so keep the places that were written",
        *cautions(["cutting"]),
    )


def _record(plan: ShapePlan) -> dict[str, object]:
    """Return where every piece lies, finished and printed, as a document."""
    job = plan.job
    across, along = printed_mm(1.0, job.weft_percent), printed_mm(1.0, job.warp_percent)

    def rows(points: Points) -> list[list[float]]:
        return [[round(x, 4), round(y, 4)] for x, y in points.tolist()]

    return {
        "schema": NESTED_SCHEMA,
        "width_mm": job.width_mm,
        "margin_mm": job.margin_mm,
        "warp_percent": job.warp_percent,
        "weft_percent": job.weft_percent,
        "pieces": [
            {
                "name": placed.name,
                "shape": placed.shape,
                "turn_degrees": placed.turn_degrees,
                "finished_mm": rows(placed.outline),
                "printed_mm": rows(placed.outline * (across, along)),
                "printed_holes_mm": [rows(hole * (across, along)) for hole in placed.holes],
            }
            for placed in plan.placed
        ],
    }
