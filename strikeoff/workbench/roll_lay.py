"""A layout of pieces and their planes to a roll."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from strikeoff.base.canonical import digest_file
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.progress import Progress, silent
from strikeoff.base.units import MM_PER_INCH, pixels
from strikeoff.inks.roles import darkest_ink
from strikeoff.layout.lay import LaidRoll, lay_roll, press_grids
from strikeoff.layout.leader import Leader, leader_places_mm, leader_with_nozzles_mm
from strikeoff.layout.lying import PressGrid
from strikeoff.layout.mark_records import KINDS, Mark
from strikeoff.layout.marks import place_marks
from strikeoff.layout.marks_drawing import marks_svg
from strikeoff.layout.marks_file import check_positions_name, write_positions
from strikeoff.layout.marks_problems import told_together
from strikeoff.layout.marks_raster import DrawnMark
from strikeoff.layout.placement import Layout
from strikeoff.layout.placement_file import read_layout
from strikeoff.layout.sheets import artwork_files, open_sheets
from strikeoff.layout.slug import slug_text
from strikeoff.layout.strip import control_strip
from strikeoff.layout.svg import check_drawing_name, write_drawing
from strikeoff.raster.planes_file import PlanesFile
from strikeoff.raster.strip_cache import StripCache
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.raster.tiff_writer import write_planes
from strikeoff.workbench.artwork import PLANES_SCHEMA
from strikeoff.workbench.design_marks import ENDS_MM, mark_options
from strikeoff.workbench.drops import DropOptions, write_drops
from strikeoff.workbench.lay_areas import area_facts, area_lines
from strikeoff.workbench.lay_resolution import resolution_problems
from strikeoff.workbench.lay_snapping import piece_snapping_line, piece_snapping_mm
from strikeoff.workbench.result import Result
from strikeoff.workbench.roll_planes import (
    ROLL_SCHEMA,
    planes_info,
    planes_problems,
    roll_spaces,
    write_strip,
)
from strikeoff.workbench.targets import check_targets

_HELD_BYTES = 256 << 20
_TAIL_MM = 20.0
_LEAST_DPI, _MOST_DPI = 10, 10_000


def lay_out_roll(
    layout: str | Path,
    out: str | Path | None = None,
    *,
    planes: Sequence[str] = (),
    dpi: tuple[float, float],
    marks: tuple[str, ...] | None = None,
    cutter_every: float | None = None,
    bare: float | None = None,
    fold: tuple[float, float] | None = None,
    eyelets: float | None = None,
    nozzles: bool = False,
    job: str | None = None,
    positions: str | Path | None = None,
    drawing: str | Path | None = None,
    strip_reference: str | Path | None = None,
    drops: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Lay the pieces of a layout on a roll of unfinished cloth.

    Parameters
    ----------
    layout : str or Path
        Layout document.
    out : str or Path, optional
        Separated TIFF of the roll to write, 16 bit, at press pitch.
    planes : sequence of str
        ``NAME=FILE`` for an artwork of the layout, ``FILE`` for the one that is left; a name that is a
        file beside the layout needs neither.
    dpi : tuple of float
        Addressability (across, along). [dots per inch]
    marks : tuple of str, optional
        Kinds of marks, or ``all``; none by default.
    cutter_every, bare, fold, eyelets
        As for `roll_marks`. [mm]
    nozzles : bool
        A nozzle pattern stands in the leader.
    job : str, optional
        Name in the slug and the codes; that of the layout by default.
    positions, drawing : str or Path, optional
        Positions of the marks, and a drawing of the roll, to write.
    strip_reference : str or Path, optional
        ISO 28178 reference of the control strip to write.
    drops : str or Path, optional
        Drops of the roll to write. One of ``out`` and ``drops`` is needed.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    target = out or drops
    if target is None:
        raise UsageError("nothing to write", expected="a file for the roll, or for its drops")
    roll = read_layout(layout)
    if not roll.placements:
        raise InputError("layout has no pieces", path=layout, expected="at least one")
    if not all(_LEAST_DPI <= value <= _MOST_DPI for value in dpi):
        raise InputError(
            "addressability cannot be",
            found=f"{dpi[0]:g} x {dpi[1]:g}",
            expected=f"{_LEAST_DPI} to {_MOST_DPI:,} dots per inch",
        )
    files = artwork_files(roll, planes, Path(layout).parent)
    check_targets((out, drops, positions, drawing, strip_reference), (layout, *files.values()))
    if positions is not None:
        check_positions_name(positions)
    if drawing is not None:
        check_drawing_name(drawing)
    sources = _opened(files)
    first = next(iter(sources.values()))
    info = planes_info(first, PLANES_SCHEMA, "'artwork separate'")
    passed = planes_problems(info)
    spaces = roll_spaces(info, first) if drops is not None else None
    name = job or Path(layout).stem
    kinds = KINDS if marks == ("all",) else marks or ()
    options = mark_options(kinds, cutter_every, bare, fold, eyelets, name)
    placed, without_room = place_marks(roll, options)
    leader, leader_mm = _leader(roll, dpi, first, info, name, nozzles)
    grids = press_grids(roll, *dpi)
    outputs: list[Path] = []
    screened = None
    with open_sheets(grids, sources, Path(target).parent, progress) as sheets:
        laid = lay_roll(
            roll,
            sheets,
            leader=leader,
            leader_mm=leader_mm + (ENDS_MM if placed else 0.0),
            tail_mm=ENDS_MM if placed else _TAIL_MM,
            marks=[DrawnMark(mark, *dpi) for mark in placed],
        )
        facts = _facts(roll, laid, grids, placed, len(without_room), dpi)
        roll_info = info | {
            "schema": ROLL_SCHEMA,
            "planes_digest": {artwork: digest_file(file) for artwork, file in files.items()},
            "layout_digest": digest_file(layout),
            "plan": facts,
            "strip": [
                {"id": p.sample_id, "x_mm": p.x_mm, "y_mm": p.y_mm, "size_mm": p.width_mm}
                for p in leader.patches_mm()
            ],
        }
        if out is not None:
            write_planes(
                out,
                laid,
                ink_names=first.ink_names,
                info=roll_info,
                progress=lambda stage, f: progress("lay the roll", f),
            )
            outputs.append(Path(out))
        if drops is not None and spaces is not None:
            screened = write_drops(
                laid, drops, spaces, info=roll_info, options=DropOptions(), progress=progress
            )
            outputs += screened.outputs
    if positions is not None:
        write_positions(positions, roll, placed)
        outputs.append(Path(positions))
    if drawing is not None:
        ends = (ENDS_MM, ENDS_MM) if placed else (0.0, 0.0)
        write_drawing(drawing, marks_svg(roll, placed, name, *ends))
        outputs.append(Path(drawing))
    if strip_reference is not None and leader.strip is not None:
        write_strip(strip_reference, leader.strip, info, leader.ink_names)
        outputs.append(Path(strip_reference))
    problems = (*passed, *told_together(without_room), *resolution_problems(roll, sources))
    lines = _lines(facts)
    results = facts | {"drops": None if screened is None else screened.results}
    if screened is not None:
        problems, lines = problems + screened.problems, lines + screened.lines
    return Result(results, problems, tuple(outputs), "done", lines)


def _opened(files: dict[str, Path]) -> dict[str, PlanesFile]:
    """Open planes that share one cache; all must be of one condition and its inks."""
    cache = StripCache(_HELD_BYTES)
    by_file = {file: open_planes(file, cache) for file in dict.fromkeys(files.values())}
    first: tuple[PlanesFile, Any] | None = None
    for source in by_file.values():
        info = planes_info(source, PLANES_SCHEMA, "'artwork separate'")
        if source.bits != 16:
            raise InputError(
                "planes of pieces must have 16 bits", path=source.path, found=f"{source.bits} bits"
            )
        inks = source.ink_names, info["condition"], info["total_ink"], info.get("ink_spaces")
        if first is None:
            first = source, inks
        elif inks != first[1]:
            what = "set of inks" if inks[0] != first[1][0] else "condition"
            raise InputError(
                f"planes are not of one {what}",
                path=source.path,
                found=" ".join(inks[0]) if what == "set of inks" else str(inks[1].get("name")),
                expected=f"that of {first[0].path}: "
                + (" ".join(first[1][0]) if what == "set of inks" else str(first[1][1].get("name"))),
                advice="Separate all artwork of a roll through one condition",
            )
    return {name: by_file[file] for name, file in files.items()}


def _leader(
    roll: Layout,
    dpi: tuple[float, float],
    source: PlanesFile,
    info: dict[str, Any],
    name: str,
    nozzles: bool,
) -> tuple[Leader, float]:
    """Return what stands in the leader, and its least length. [mm]."""
    strip = control_strip(source.ink_names, float(info["total_ink"]))
    margin = pixels(roll.margin_mm, dpi[0])
    printable = pixels(roll.width_mm, dpi[0]) - 2 * margin
    slug_mm, strip_mm, needed_mm = leader_places_mm(strip, printable * MM_PER_INCH / dpi[0])
    nozzle_px = None
    if nozzles:
        nozzle_mm, needed_mm = leader_with_nozzles_mm(needed_mm, len(source.ink_names), dpi[1])
        nozzle_px = pixels(nozzle_mm, dpi[1])
    slug = slug_text(
        job=name,
        condition_digest=str(info["condition"]["digest"]),
        ink_names=source.ink_names,
        finished_w_mm=roll.cuttable_mm[1],
        finished_h_mm=roll.length_mm[1],
        warp_percent=roll.warp_percent,
        weft_percent=roll.weft_percent,
    )
    places = pixels(slug_mm, dpi[1]), pixels(strip_mm, dpi[1])
    leader = Leader(source.ink_names, *dpi, margin, printable, *places, strip, slug, nozzle_px)
    # Whole pixels of a coarse press may need a little more.
    return leader, max(needed_mm, leader.needed_mm)


def _facts(
    roll: Layout,
    laid: LaidRoll,
    grids: Sequence[PressGrid],
    placed: Sequence[Mark],
    without_room: int,
    dpi: tuple[float, float],
) -> dict[str, Any]:
    period = laid.period_rows
    return {
        "width_px": laid.width,
        "height_px": laid.height,
        "dpi": list(dpi),
        "pieces": sum(piece.repeat is None for piece in roll.placements),
        "areas": area_facts(roll, laid.pieces),
        "grids": len(grids),
        "snapping_error_mm": piece_snapping_mm(roll, laid.pieces, dpi),
        "period_rows": period,
        "warp_percent": roll.warp_percent,
        "weft_percent": roll.weft_percent,
        "length_mm": [round(v, 4) for v in roll.length_mm],
        "margin_px": laid.leader.margin_px,
        "leader_px": laid.leader_px,
        "tail_px": laid.tail_px,
        "marks": {kind: sum(m.kind == kind for m in placed) for kind in KINDS},
        "mark_ink": laid.leader.ink_names[darkest_ink(laid.leader.ink_names)],
        "without_room": without_room,
    }


def _lines(facts: dict[str, Any]) -> tuple[str, ...]:
    printed, finished = facts["length_mm"]
    lines = [
        f"roll {facts['width_px']} x {facts['height_px']} px, {facts['pieces']} pieces"
        + (f", {len(facts['areas'])} filled with a repeat" if facts["areas"] else ""),
        f"{finished / 1000:.3f} m finished, {printed / 1000:.3f} m printed, without waste",
        *area_lines(facts["areas"]),
        piece_snapping_line(facts["snapping_error_mm"]),
    ]
    counts = ", ".join(f"{count} {kind}" for kind, count in facts["marks"].items() if count)
    if counts:
        lines.append(f"{counts} marks in {facts['mark_ink']}")
    if facts["period_rows"]:
        lines.append(f"rows repeat after {facts['period_rows']} px and are stored once")
    return tuple(lines)
