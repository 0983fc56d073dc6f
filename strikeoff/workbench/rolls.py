"""Planes to a roll, and a roll to drops."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.canonical import digest_file
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import keep_inputs
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.base.units import MM_PER_INCH
from strikeoff.condition.ink_space import CURVES_DIGEST, INK_SPACE
from strikeoff.inks.roles import ink_names_text
from strikeoff.inks.spaces import IDENTITY, InkSpaces, identity_spaces, spaces_from_record
from strikeoff.layout.compose import compose
from strikeoff.layout.drawing import roll_drawing_svg
from strikeoff.layout.repeat import lattice_of, snap_repeat
from strikeoff.layout.repeat_drawing import repeat_plan_svg
from strikeoff.layout.repeat_plan import repeat_plan_of_roll
from strikeoff.layout.roll import RollPlan, plan_roll
from strikeoff.layout.slug import slug_text
from strikeoff.layout.strip import StripPatches, control_strip
from strikeoff.layout.svg import write_drawing
from strikeoff.layout.width_options import cloth_width_mm
from strikeoff.measurement.iso28178 import write_iso28178
from strikeoff.measurement.records import ReadingSet
from strikeoff.raster.tiff_reader import PlanesFile, open_planes
from strikeoff.raster.tiff_writer import write_planes
from strikeoff.workbench.artwork import PLANES_SCHEMA
from strikeoff.workbench.design_marks import ENDS_MM, design_kinds, design_marks
from strikeoff.workbench.drops import DropOptions, write_drops
from strikeoff.workbench.result import Result

ROLL_SCHEMA = "strikeoff/roll/1"
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
    facts = _facts(plan) | {"marks": placed.counts}
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
    problems = _resolution_problems(source, plan) + placed.problems
    lines = _roll_lines(plan)
    if screened is not None:
        problems, lines = problems + screened.problems, lines + screened.lines
    return Result(facts, problems, tuple(outputs), "done", lines)


def screen_roll(
    roll: str | Path,
    out: str | Path,
    *,
    method: str = "masks",
    bits: int | None = None,
    compression: str = "deflate",
    split: bool = False,
    progress: Progress = silent,
) -> Result:
    """Turn the planes of a roll into drops.

    Parameters
    ----------
    roll : str or Path
        Roll, or planes, from this program.
    out : str or Path
        File to write: separated TIFF, or PWG Raster for a name that ends in ``.pwg``.
    method : {"masks", "diffusion", "contone"}
        Blue-noise masks; error diffusion; or laid-down ink for a press that screens by itself.
    bits : int, optional
        1, 2 or 8 for each drop; by default as few as one size of drop needs, 8 for several and contone.
    compression : {"none", "packbits", "deflate", "zstd"}
        Of a TIFF.
    split : bool
        Write one file for each ink.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    keep_inputs(out, roll)
    source = open_planes(roll)
    info = planes_info(source, (ROLL_SCHEMA, PLANES_SCHEMA), "'roll compose'")
    if source.bits != 16:
        raise InputError("planes to screen must have 16 bits", path=roll, found=f"{source.bits} bits")
    options = DropOptions(method, bits, compression, split)
    info = info | {"roll_digest": digest_file(roll)}
    return write_drops(source, out, roll_spaces(info, source), info=info, options=options, progress=progress)


def roll_spaces(info: dict[str, Any], source: PlanesFile) -> InkSpaces:
    """Return the ink spaces that planes say they are of; straight ones where they say none.

    Raises
    ------
    InputError
        When they are damaged or their tone curves do not hold any more.
    """
    record = info.get("ink_spaces")
    if record is None:
        return identity_spaces(source.ink_names, float(info["total_ink"]))
    spaces = spaces_from_record(record)
    if spaces.stale:
        raise InputError(
            "tone curves do not hold any more",
            path=source.path,
            where="ImageDescription",
            found="; ".join(spaces.stale),
            expected="curves made for this press",
            advice="Print and read a linearisation chart and run 'condition relinearise'",
        )
    return spaces


def planes_info(source: PlanesFile, schema: str | tuple[str, ...], maker: str) -> dict[str, Any]:
    """Return what planes say about themselves.

    Raises
    ------
    InputError
        When they do not say which condition their inks are of.
    """
    wanted = (schema,) if isinstance(schema, str) else schema
    found = source.info.get("schema")
    if found not in wanted or "condition" not in source.info or "total_ink" not in source.info:
        raise InputError(
            "TIFF does not say which condition its inks are of",
            path=source.path,
            where="ImageDescription",
            found=found,
            expected=" or ".join(wanted),
            advice=f"Use a file written by {maker}",
        )
    return source.info


def _facts(plan: RollPlan) -> dict[str, Any]:
    unit = plan.repeat
    errors = unit.error_mm()
    over = unit.error_mm(max(plan.whole_along, 1))
    return {
        "width_px": plan.width_px,
        "height_px": plan.height_px,
        "dpi": [unit.dpi_x, unit.dpi_y],
        "repeat": unit.kind,
        "repeat_px": [unit.width_px, unit.height_px],
        "finished_asked_mm": [unit.asked_width_mm, unit.asked_height_mm],
        "finished_mm": [round(unit.finished_width_mm, 5), round(unit.finished_height_mm, 5)],
        "printed_mm": [round(unit.printed_width_mm, 5), round(unit.printed_height_mm, 5)],
        "snapping_error_mm": [round(e, 6) for e in errors],
        "snapping_error_over_length_mm": round(over[1], 6),
        "warp_percent": unit.warp_percent,
        "weft_percent": unit.weft_percent,
        "whole_repeats_across": plan.whole_across,
        "whole_repeats_along": plan.whole_along,
        "leftover_across_printed_finished_mm": [round(v, 3) for v in plan.leftover_across_mm],
        "leftover_along_printed_finished_mm": [round(v, 3) for v in plan.leftover_along_mm],
        "design_printed_finished_m": [round(v, 4) for v in plan.design_m],
        "margin_px": plan.margin_px,
        "leader_px": plan.leader_px,
        "tail_px": plan.tail_px,
        "first_column_px": plan.column_px,
    }


def _roll_lines(plan: RollPlan) -> tuple[str, ...]:
    unit = plan.repeat
    left, length = plan.leftover_across_mm, plan.design_m
    off, over = unit.error_mm(), unit.error_mm(max(plan.whole_along, 1))[1]
    return (
        f"{unit.kind} repeat {unit.finished_width_mm:.3f} x {unit.finished_height_mm:.3f} mm finished, "
        f"{unit.printed_width_mm:.3f} x {unit.printed_height_mm:.3f} mm printed",
        f"{plan.whole_across} whole repeats across, {left[1]:.1f} mm left finished, "
        f"{left[0]:.1f} mm printed; {plan.whole_along} along, {length[1]:.3f} m finished, "
        f"{length[0]:.3f} m printed",
        f"snapping to press pixels: {off[0]:+.4f} x {off[1]:+.4f} mm a repeat, {over:+.3f} mm along all; "
        "shrink spread is apart: finishing risk tells it",
        f"roll {plan.width_px} x {plan.height_px} px, repeat {unit.width_px} x {unit.height_px} px",
    )


def write_strip(
    path: str | Path, strip: StripPatches, info: dict[str, Any], ink_names: Sequence[str]
) -> None:
    """Write the reference of a control strip for planes that say this about themselves."""
    columns = tuple(info["ink_columns"])
    reference = ReadingSet(strip.ids, columns, strip.coverages)
    header = {
        "ORIGINATOR": "strikeoff",
        "DESCRIPTOR": "control strip reference, calibrated ink",
        "INK_NAMES": ink_names_text(ink_names),
        "CONDITION_NAME": str(info["condition"]["name"]),
        "CONDITION_DIGEST": str(info["condition"]["digest"]),
        INK_SPACE: "calibrated",
        CURVES_DIGEST: IDENTITY
        if info.get("ink_spaces") is None
        else str(info["ink_spaces"]["curves_digest"]),
    }
    write_iso28178(path, reference, header=header)


def _resolution_problems(source: PlanesFile, plan: RollPlan) -> tuple[Problem, ...]:
    """Warn when the artwork is coarse or its pixels are stretched unevenly at the finished size."""
    unit = plan.repeat
    across = source.width / (unit.finished_width_mm / MM_PER_INCH)
    along = source.height / (unit.finished_height_mm / MM_PER_INCH)
    problems = []
    if min(across, along) < 72.0:
        problems.append(
            Problem(
                "warning",
                "artwork",
                "is coarse at the finished size",
                f"{min(across, along):.0f} ppi",
                "72 ppi or more",
            )
        )
    stretch = across / along
    if not np.isclose(stretch, 1.0, atol=0.01):
        problems.append(
            Problem(
                "warning",
                "artwork",
                "is stretched: its sides do not have the ratio of the repeat",
                f"{stretch:.3f}",
                "1.00 within 1 %",
                "Check the repeat's finished size",
            )
        )
    return tuple(problems)
