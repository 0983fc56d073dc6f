"""Every way to lay a repeat across the cuttable width of a roll."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from strikeoff.base.errors import UsageError
from strikeoff.layout.finishing import finished_mm, printed_mm
from strikeoff.layout.repeat import lattice_of
from strikeoff.layout.repeat_drawing import repeat_plan_svg
from strikeoff.layout.repeat_plan import repeat_plan_of_option
from strikeoff.layout.svg import write_drawing
from strikeoff.layout.width_drawing import width_options_svg
from strikeoff.layout.width_options import (
    WidthJob,
    WidthOption,
    cloth_width_mm,
    cuttable_width_mm,
    width_options,
)
from strikeoff.workbench.result import Result

_DEFAULT_MARGIN_MM = 10.0


def roll_options(
    *,
    finished: tuple[float, float],
    warp: float,
    weft: float,
    width: float,
    width_basis: str = "cloth",
    order: float,
    repeat: str = "straight",
    offset: str | None = None,
    mirror: str | None = None,
    turned: bool = False,
    only: str | None = None,
    printer_width: float | None = None,
    selvedge: float | None = None,
    margin: float | None = None,
    end_loss: float | None = None,
    overlap: float | None = None,
    drop: float | None = None,
    drawing: str | Path | None = None,
    repeat_plan: str | Path | None = None,
    plan_of: str | None = None,
) -> Result:
    """List all options across a width, with what is left over and the metres for the order.

    Parameters
    ----------
    finished : tuple of float
        Finished size of the repeat (across, along). [mm]
    warp, weft : float
        Dimensional change along and across, finished over file, shrinkage negative. [%]
    width : float
        Width of the cloth. [mm]
    width_basis : {"cloth", "finished"}
        The width is that before finishing, or after it.
    order : float
        Finished length that is ordered. [m]
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
    printer_width : float, optional
        Most that the press prints. [mm]
    selvedge, margin : float, optional
        Lost at each edge; 0 and 10 by default. [mm]
    end_loss : float, optional
        Finished length lost at the ends. [mm]
    overlap : float, optional
        Finished width that a join takes. [mm]
    drop : float, optional
        Finished length of one cut, allowance included, for joined widths. [mm]
    drawing : str or Path, optional
        SVG or PDF to write.
    repeat_plan : str or Path, optional
        SVG or PDF drawing of the lattice of one option to write.
    plan_of : str, optional
        Name of that option; by default the one that `compose_roll` lays.

    Returns
    -------
    Result

    Raises
    ------
    UsageError
        An option that there is not.
    """
    width = cloth_width_mm(width, width_basis, weft)
    cuttable = cuttable_width_mm(
        width, selvedge or 0.0, _DEFAULT_MARGIN_MM if margin is None else margin, printer_width
    )
    lattice = lattice_of(repeat, offset, mirror, turned, only)
    job = WidthJob(
        lattice, *finished, warp, weft, cuttable, 1000 * order, end_loss or 0.0, overlap or 0.0, drop
    )
    options = width_options(job)
    outputs: list[Path] = []
    title = f"{lattice.name} {finished[0]:g} × {finished[1]:g} mm finished, {order:g} m"
    chosen = _chosen(options, plan_of)
    if drawing is not None:
        write_drawing(drawing, width_options_svg(options, width, cuttable, title))
        outputs.append(Path(drawing))
    if repeat_plan is not None:
        plan = repeat_plan_of_option(job, chosen, width)
        told = f"{chosen.name}, {order:g} m finished ordered"
        write_drawing(repeat_plan, repeat_plan_svg(plan, told))
        outputs.append(Path(repeat_plan))
    cuttable_finished = finished_mm(cuttable, weft)
    lines = [
        f"repeat {finished[0]:g} x {finished[1]:g} mm finished, {printed_mm(finished[0], weft):.2f} x "
        f"{printed_mm(finished[1], warp):.2f} mm printed; scaled ones are told with their option",
        f"cuttable {cuttable_finished:.1f} mm finished, {cuttable:.1f} mm printed",
    ]
    lines += [
        f"{o.name:<11} {o.whole_across:3} whole, {o.scale_percent:7.2f} %, left {o.left_mm[1]:7.1f} "
        f"right {o.right_mm[1]:7.1f} mm finished ({o.left_mm[0]:.1f}, {o.right_mm[0]:.1f} printed) "
        f"{o.edge:<5}, {o.order_m[1]:9.3f} m finished, {o.order_m[0]:9.3f} m printed{_scaled_words(o)}"
        for o in options
    ]
    results = {
        "cuttable_mm": cuttable,
        "cuttable_finished_mm": cuttable_finished,
        "width_basis": width_basis,
        "repeat": lattice.name,
        "options": [asdict(o) for o in options],
    }
    return Result(results, (), tuple(outputs), "done", tuple(lines))


def _scaled_words(option: WidthOption) -> str:
    """Return the size of a repeat that fills the width, where it is not the one asked for."""
    if abs(option.scale_percent - 100.0) < 1e-9:
        return ""
    finished, printed = option.repeat_finished_mm, option.repeat_printed_mm
    return (
        f"; repeat {finished[0]:.2f} x {finished[1]:.2f} mm finished, "
        f"{printed[0]:.2f} x {printed[1]:.2f} mm printed"
    )


def _chosen(options: Sequence[WidthOption], name: str | None) -> WidthOption:
    """Return the option of a name; without one that with most whole repeats about the middle."""
    named = {option.name: option for option in options}
    if name is None:
        middle = [named[n] for n in ("motif-edge", "gap-edge", "motif-bare") if n in named]
        best = max(middle, key=lambda option: option.whole_across, default=options[0])
        return best if best.whole_across else named["scaled-1"]
    if name not in named:
        raise UsageError("no such option across the width", found=name, expected=", ".join(named))
    return named[name]
