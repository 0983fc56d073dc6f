"""What whole press pixels make of the repeats of a roll of pieces."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from strikeoff.layout.lying import LyingArea, LyingPiece
from strikeoff.layout.placement import Layout


def area_facts(layout: Layout, pieces: Sequence[LyingPiece | LyingArea]) -> list[dict[str, Any]]:
    """Return size and snapping error of the repeat of every area.

    Parameters
    ----------
    layout : Layout
        Pieces and areas.
    pieces : sequence
        The same in press pixels.
    """
    facts = []
    for placement, area in zip(layout.placements, pieces, strict=True):
        if not isinstance(area, LyingArea):
            continue
        unit = area.repeat
        left, top, right, bottom = layout.printed_box_mm(placement)
        repeats = area.height_px / unit.height_px if area.period_rows else 1.0
        facts.append(
            {
                "code": placement.code,
                "finished_area_mm": [placement.width_mm, placement.height_mm],
                "printed_area_mm": [round(right - left, 3), round(bottom - top, 3)],
                "repeat": unit.kind,
                "repeat_px": [unit.width_px, unit.height_px],
                "finished_asked_mm": [unit.asked_width_mm, unit.asked_height_mm],
                "finished_mm": [round(unit.finished_width_mm, 5), round(unit.finished_height_mm, 5)],
                "printed_mm": [round(unit.printed_width_mm, 5), round(unit.printed_height_mm, 5)],
                "snapping_error_mm": [round(error, 6) for error in unit.error_mm()],
                "snapping_error_over_length_mm": round(repeats * unit.error_mm()[1], 6),
            }
        )
    return facts


def area_lines(facts: Sequence[dict[str, Any]]) -> list[str]:
    """Return what a person reads of `area_facts`: finished sizes first, printed ones beside them."""
    lines = []
    for area in facts:
        error, over = area["snapping_error_mm"], area["snapping_error_over_length_mm"]
        lines.append(
            f"{area['code']}: {area['finished_area_mm'][1] / 1000:.3f} m of {area['repeat']}, repeat "
            f"{_size(area['finished_mm'])} mm finished ({_size(area['printed_mm'])} mm printed, "
            f"{area['repeat_px'][0]} x {area['repeat_px'][1]} px); whole pixels miss by "
            f"{error[0]:+.4f}, {error[1]:+.4f} mm per repeat, {over:+.3f} mm over the length"
        )
    return lines


def _size(size_mm: Sequence[float]) -> str:
    return f"{size_mm[0]:.3f} x {size_mm[1]:.3f}"
