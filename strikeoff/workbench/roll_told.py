"""What a plan of a roll tells: figures, lines, doubts."""

from __future__ import annotations

from typing import Any

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.roll import RollPlan
from strikeoff.raster.planes_file import PlanesFile


def roll_facts(plan: RollPlan) -> dict[str, Any]:
    """Return the figures of a roll, as `docs/contracts.md` lists them."""
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


def roll_lines(plan: RollPlan) -> tuple[str, ...]:
    """Return what people read of a roll."""
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


def resolution_problems(source: PlanesFile, plan: RollPlan) -> tuple[Problem, ...]:
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
