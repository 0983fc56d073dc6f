"""Planes to a roll, and a roll to drops."""

from __future__ import annotations

from pathlib import Path

from strikeoff.base.canonical import digest_file
from strikeoff.base.errors import UsageError
from strikeoff.base.files import keep_inputs
from strikeoff.base.progress import Progress, silent
from strikeoff.layout.compose import compose
from strikeoff.layout.drawing import roll_drawing_svg
from strikeoff.layout.repeat import lattice_of, snap_repeat
from strikeoff.layout.repeat_drawing import repeat_plan_svg
from strikeoff.layout.repeat_plan import repeat_plan_of_roll
from strikeoff.layout.roll import plan_roll
from strikeoff.layout.slug import slug_text
from strikeoff.layout.strip import control_strip
from strikeoff.layout.svg import write_drawing
from strikeoff.layout.width_options import cloth_width_mm
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.raster.tiff_writer import write_planes
from strikeoff.workbench.artwork import PLANES_SCHEMA
from strikeoff.workbench.design_marks import ENDS_MM, design_kinds, design_marks
from strikeoff.workbench.drops import DropOptions, write_drops
from strikeoff.workbench.result import Result
from strikeoff.workbench.roll_planes import (
    ROLL_SCHEMA,
    planes_info,
    planes_problems,
    roll_spaces,
    write_strip,
)
from strikeoff.workbench.roll_told import resolution_problems, roll_facts, roll_lines

_DEFAULT_MARGIN_MM = 10.0


def compose_roll(
    planes: str | Path,
    out: str | Path | None = None,
    *,
    repeat: str = "straight",
    offset: str | None = None,
    mirror: str | None = None,
    turned: bool = False,
    only: str | None = None,
    finished: tuple[float, float],
    warp: float,
    weft: float,
    width: float,
    width_basis: str = "cloth",
    length: float,
    dpi: tuple[float, float],
    margin: float | None = None,
    nozzles: bool = False,
    marks: tuple[str, ...] | None = None,
    cutter_every: float | None = None,
    bare: float | None = None,
    job: str | None = None,
    positions: str | Path | None = None,
    drawing: str | Path | None = None,
    repeat_plan: str | Path | None = None,
    strip_reference: str | Path | None = None,
    drops: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Lay a repeat out over a roll of unfinished cloth.

    Parameters
    ----------
    planes : str or Path
        Planes of one repeat.
    out : str or Path, optional
        Separated TIFF of the roll to write, 16 bit, at press pitch.
    repeat : {"straight", "half-drop", "drop", "brick"}
        How repeats join.
    offset : str, optional
        How far a drop or brick moves, as a fraction such as ``1/3`` of its height or width.
    mirror : {"across", "along", "both"}, optional
        Which repeats are mirrored.
    turned : bool
        Every other repeat is turned by 180 degrees.
    only : {"across", "along"}, optional
        The one direction in which a stripe or border repeats.
    finished : tuple of float
        Finished size of the repeat (across, along). [mm]
    warp, weft : float
        Dimensional change along and across, finished over file, shrinkage negative. [%]
    width, length : float
        Unfinished cloth. [mm]
    width_basis : {"cloth", "finished"}
        The width is that before finishing, or after it; the length is always that before.
    dpi : tuple of float
        Addressability (across, along). [dots per inch]
    margin : float, optional
        Unprinted cloth at each edge; 10 by default. [mm]
    nozzles : bool
        A nozzle pattern stands in the leader.
    marks : tuple of str, optional
        Marks around the design, of trim, register, cutter, code, or ``("all",)``; none by default.
    cutter_every, bare : float, optional
        As for `roll_marks`. [mm]
    job : str, optional
        Name in the slug and the code; that of the artwork by default.
    positions : str or Path, optional
        JSON or CSV file of positions of the marks to write.
    drawing : str or Path, optional
        SVG or PDF drawing of the roll to write.
    repeat_plan : str or Path, optional
        SVG or PDF drawing of the lattice of repeats to write.
    strip_reference : str or Path, optional
        ISO 28178 reference of the control strip to write.
    drops : str or Path, optional
        Drops of the roll to write, as `screen_roll` does by default, without the roll's planes in
        between. One of ``out`` and ``drops`` is needed.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    width = cloth_width_mm(width, width_basis, weft)
    if out is None and drops is None:
        raise UsageError("nothing to write", expected="a file for the roll, or for its drops")
    kinds = design_kinds(marks)
    for path in (out, drops):
        if path is not None:
            keep_inputs(path, planes)
    source = open_planes(planes)
    info = planes_info(source, PLANES_SCHEMA, "'artwork separate'")
    passed = planes_problems(info)
    spaces = roll_spaces(info, source) if drops is not None else None
    lattice = lattice_of(repeat, offset, mirror, turned, only)
    unit = snap_repeat(
        *finished, warp_percent=warp, weft_percent=weft, dpi_x=dpi[0], dpi_y=dpi[1], kind=lattice
    )
    strip = control_strip(source.ink_names, float(info["total_ink"]))
    plan = plan_roll(
        unit,
        width_mm=width,
        length_mm=length,
        margin_mm=_DEFAULT_MARGIN_MM if margin is None else margin,
        strip=strip,
        nozzle_inks=len(source.ink_names) if nozzles else 0,
        marks_mm=ENDS_MM if kinds else 0.0,
    )
    title = job or str(info.get("artwork", {}).get("name", Path(planes).stem))
    slug = slug_text(
        job=title,
        condition_digest=str(info["condition"]["digest"]),
        ink_names=source.ink_names,
        finished_w_mm=finished[0],
        finished_h_mm=finished[1],
        warp_percent=warp,
        weft_percent=weft,
    )
    bare_roll = compose(source, plan, ink_names=source.ink_names, strip=strip, slug=slug)
    placed = design_marks(plan, kinds, cutter_every, bare, title)
    roll = placed.on(bare_roll)
    facts = roll_facts(plan) | {"marks": placed.counts}
    patches = bare_roll.patches_mm()
    roll_info = info | {
        "schema": ROLL_SCHEMA,
        "planes_digest": digest_file(planes),
        "plan": facts,
        "strip": [
            {"id": p.sample_id, "x_mm": p.x_mm, "y_mm": p.y_mm, "size_mm": p.width_mm} for p in patches
        ],
    }
    outputs: list[Path] = []
    if out is not None:
        write_planes(
            out,
            roll,
            ink_names=source.ink_names,
            info=roll_info,
            progress=lambda stage, f: progress("compose the roll", f),
        )
        outputs.append(Path(out))
    screened = None
    facts = facts | {"drops": None}
    if drops is not None and spaces is not None:
        options = DropOptions()
        screened = write_drops(roll, drops, spaces, info=roll_info, options=options, progress=progress)
        outputs += screened.outputs
        facts = facts | {"drops": screened.results}
    if positions is not None:
        placed.write(positions)
        outputs.append(Path(positions))
    if drawing is not None:
        write_drawing(drawing, roll_drawing_svg(plan, patches=patches, title=title))
        outputs.append(Path(drawing))
    if repeat_plan is not None:
        write_drawing(repeat_plan, repeat_plan_svg(repeat_plan_of_roll(plan), title))
        outputs.append(Path(repeat_plan))
    if strip_reference is not None:
        write_strip(strip_reference, strip, info, source.ink_names)
        outputs.append(Path(strip_reference))
    problems = (*passed, *resolution_problems(source, plan), *placed.problems)
    lines = roll_lines(plan)
    if screened is not None:
        problems, lines = problems + screened.problems, lines + screened.lines
    return Result(facts, problems, tuple(outputs), "done", lines)
