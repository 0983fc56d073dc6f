"""Pieces of different sizes on one roll."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from strikeoff.base.progress import Progress, silent
from strikeoff.layout.finishing import finishing_factor
from strikeoff.layout.nesting_drawing import nest_svg
from strikeoff.layout.nesting_groups import nest_groups
from strikeoff.layout.pieces_file import read_pieces
from strikeoff.layout.placement_file import write_layout
from strikeoff.layout.svg import write_drawing
from strikeoff.layout.width_options import cloth_width_mm
from strikeoff.workbench.result import Result

_MARGIN_MM, _SECONDS = 10.0, 10.0


def roll_nest(
    pieces: str | Path,
    *,
    warp: float,
    weft: float,
    width: float,
    width_basis: str = "cloth",
    margin: float | None = None,
    gap: float | None = None,
    turn: str = "none",
    faults: Sequence[tuple[float, float]] = (),
    stretch: float | None = None,
    guillotine: bool = False,
    seconds: float | None = None,
    seed: int = 0,
    layout: str | Path | None = None,
    drawing: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Lay pieces so that they need as little of the roll as can be.

    Parameters
    ----------
    pieces : str or Path
        CSV with the columns code, width_mm, height_mm and, if wanted, count, turn, artwork, group, or a
        JSON document with the same names; finished.
    warp, weft : float
        Dimensional change along and across, finished over file, shrinkage negative. [%]
    width : float
        Width of the cloth. [mm]
    width_basis : {"cloth", "finished"}
        The width is that before finishing, or after it.
    margin : float, optional
        Lost at each edge; 10 by default. [mm]
    gap : float, optional
        Finished cloth between pieces; none by default. [mm]
    turn : {"none", "180", "90"}
        How pieces that do not say may be turned.
    faults : sequence of (float, float)
        Stretches of unfinished cloth that no piece may touch. [mm]
    stretch : float, optional
        Most length of unfinished cloth from the first to the last edge of a group; any by default. [mm]
    guillotine : bool
        Whether straight cuts from edge to edge must free every piece.
    seconds : float, optional
        Longest search; 10 by default. [s]
    seed : int
        Of the search.
    layout : str or Path, optional
        Layout document to write.
    drawing : str or Path, optional
        SVG or PDF to write.
    progress : Progress
        Told how long the layout is.

    Returns
    -------
    Result
    """
    width = cloth_width_mm(width, width_basis, weft)
    found = nest_groups(
        read_pieces(pieces, turn),
        width_mm=width,
        margin_mm=_MARGIN_MM if margin is None else margin,
        warp_percent=warp,
        weft_percent=weft,
        gap_mm=gap or 0.0,
        faults_mm=faults,
        stretch_mm=stretch,
        straight=guillotine,
        seconds=_SECONDS if seconds is None else seconds,
        seed=seed,
        progress=progress,
    )
    outputs: list[Path] = []
    if layout is not None:
        write_layout(layout, found.layout)
        outputs.append(Path(layout))
    if drawing is not None:
        write_drawing(drawing, nest_svg(found, f"Nest, {Path(pieces).stem}", faults))
        outputs.append(Path(drawing))
    groups = {p.group for p in found.layout.placements if p.group}
    finished, bound = (length * finishing_factor(warp) for length in (found.length_mm, found.bound_mm))
    turned = sum(p.turn_degrees == 90 for p in found.layout.placements)
    results = {
        "pieces": len(found.layout.placements),
        "turned": turned,
        "groups": len(groups),
        "length_mm": [found.length_mm, finished],
        "bound_mm": found.bound_mm,
        "bound_finished_mm": bound,
        "gap_percent": found.gap_percent,
        "fill_percent": 100 * found.fill,
    }
    together = f"; {len(groups)} groups, each on one stretch" if groups else ""
    lines = (
        f"{len(found.layout.placements)} pieces, {turned} of them turned by 90 degrees{together}",
        f"{finished / 1000:.3f} m finished, {found.length_mm / 1000:.3f} m printed; "
        f"{100 * found.fill:.1f} % of the cloth used",
        f"no layout can be shorter than {bound / 1000:.3f} m finished, "
        f"{found.bound_mm / 1000:.3f} m printed: at most {found.gap_percent:.2f} % to gain",
    )
    return Result(results, (), tuple(outputs), "done", lines)
