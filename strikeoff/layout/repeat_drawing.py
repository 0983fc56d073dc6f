"""Drawing to scale of the lattice of repeats on a roll; of a long one, the first repeats."""

from __future__ import annotations

from collections.abc import Iterator

from strikeoff.layout import svg
from strikeoff.layout.drawing_notes import careful
from strikeoff.layout.repeat_plan import RepeatCell, RepeatPlan, finished_of, repeat_cells

_WIDTH, _CLOTH, _LEFT, _TOP, _ROOM = 1400, 1030, 130, 440, 1240
_TALLEST, _MOST_CELLS = 1300.0, 2500
_PART, _FIRST = "#e4eef7", "#f6b26b"
_LEAST_NAME = 9.0


def repeat_plan_svg(plan: RepeatPlan, title: str) -> str:
    """Return an SVG drawing: every repeat with its name, sizes finished and printed, what is left over.

    Parameters
    ----------
    plan : RepeatPlan
        What to draw; the drawing is to scale as the cloth is printed.
    title : str
        Heading.
    """
    scale = _CLOTH / plan.cloth_mm
    high = plan.printed_mm[1]
    rows = max(1, min(int(_TALLEST / (high * scale)), _MOST_CELLS // max(1, plan.whole[0])))
    # The start of the next row shows that it goes on.
    shown = min(plan.length_mm, (rows + 0.5) * high, max(_TALLEST / scale, high))
    top = _TOP + plan.leader_mm * scale
    bottom = top + shown * scale
    body = [
        *_head(plan, title),
        *_cloth(plan, scale, shown),
        *_repeats(plan, scale, top, shown),
        *_sizes(plan, scale, top, shown),
        *svg.first_out(_LEFT / 2 - 5, _TOP, bottom),
        *_widths(plan, scale, bottom),
    ]
    if shown < plan.length_mm:
        body.append(svg.words(_LEFT, bottom + 44, f"… on to row {plan.whole[1]}", 36, bold=True))
    end = bottom + 310
    lines, room = careful(_LEFT, end, _ROOM)
    return svg.page(_WIDTH, end + room + 40, title, [*body, *lines])


def _head(plan: RepeatPlan, title: str) -> Iterator[str]:
    finished, printed = _size(plan.finished_mm), _size(plan.printed_mm)
    offset = {
        "none": "",
        "drop": f": each column {_mm(plan.offset_mm[1])} mm lower ({_mm(plan.offset_mm[0])} printed)",
        "brick": f": each row {_mm(plan.offset_mm[1])} mm further right ({_mm(plan.offset_mm[0])} printed)",
    }[plan.lattice.offset]
    length = finished_of(plan, 0, plan.length_mm)[1] / 1000
    whole = "whole repeat" if plan.count == 1 else "whole repeats"
    told = (
        f"{plan.count} {whole}: {plan.whole[0]} across, {plan.whole[1]} along; "
        f"{length:.2f} m finished ({plan.length_mm / 1000:.2f} printed)"
    )
    lattice = plan.lattice.name + offset
    yield svg.words(_LEFT, 58, title, svg.fitting(title, 44, _ROOM, bold=True), bold=True)
    yield svg.words(_LEFT, 112, "repeat finished [mm]", 32)
    yield svg.words(_LEFT, 188, finished, svg.fitting(finished, 80, 720, bold=True), bold=True)
    yield svg.words(_LEFT + 760, 112, "printed [mm]", 32)
    yield svg.words(_LEFT + 760, 188, printed, svg.fitting(printed, 56, 480))
    yield svg.words(_LEFT, 252, lattice, svg.fitting(lattice, 40, _ROOM, bold=True), bold=True)
    yield svg.words(_LEFT, 308, told, svg.fitting(told, 38, _ROOM))


def _cloth(plan: RepeatPlan, scale: float, shown: float) -> Iterator[str]:
    lead = plan.leader_mm * scale
    high = lead + shown * scale
    left, wide = _LEFT + plan.edge_mm * scale, plan.cuttable_mm * scale
    yield svg.rectangle(_LEFT, _TOP, _CLOTH, high, svg.WASTE, line=3, kind="cloth")
    yield svg.rectangle(left, _TOP + lead, wide, shown * scale, svg.CLOTH, line=1, kind="cuttable")
    if lead >= 30:
        text = f"waste before the design: {_mm(plan.leader_mm)} mm"
        yield svg.words(_LEFT + 16, _TOP + lead / 2 + 11, text, min(32.0, lead * 0.7))


def _repeats(plan: RepeatPlan, scale: float, top: float, shown: float) -> Iterator[str]:
    start, end = (_LEFT + (plan.edge_mm + v) * scale for v in plan.design_mm)
    bottom = top + shown * scale
    for cell in repeat_cells(plan, shown):
        left, upper = _LEFT + (plan.edge_mm + cell.left_mm) * scale, top + cell.top_mm * scale
        right, lower = left + plan.printed_mm[0] * scale, upper + plan.printed_mm[1] * scale
        box = max(left, start), max(upper, top), min(right, end), min(lower, bottom)
        kind = "whole" if cell.name else "part"
        fill = _FIRST if cell.name == "A1" else svg.PIECE if cell.name else _PART
        size = box[2] - box[0], box[3] - box[1]
        yield svg.rectangle(box[0], box[1], *size, fill, line=1.5, kind=kind)
        if cell.name and lower <= bottom + 0.01:
            yield from _inside(plan, cell, left, upper, right - left, lower - upper)


def _inside(
    plan: RepeatPlan, cell: RepeatCell, left: float, top: float, wide: float, high: float
) -> Iterator[str]:
    """Draw the name of a repeat and, where repeats stand in different ways, a leaf above it."""
    is_shown = plan.lattice.turned or plan.lattice.mirror != "none"
    room = high * (0.4 if is_shown else 0.7)
    size = svg.fitting(cell.name, min(60.0, room), wide * 0.85, bold=True)
    middle = left + wide / 2
    if size >= _LEAST_NAME:
        y = top + high * (0.72 if is_shown else 0.5) + size * 0.36
        yield svg.words(middle, y, cell.name, size, anchor="middle", bold=True)
    if is_shown:
        yield svg.leaf(middle, top + high * 0.32, min(high * 0.22, wide * 0.3), cell.flips)


def _sizes(plan: RepeatPlan, scale: float, top: float, shown: float) -> Iterator[str]:
    """Draw what the first repeat measures, finished first, and how far the next one is moved."""
    wide, high = (v * scale for v in plan.printed_mm)
    left = _LEFT + (plan.edge_mm + plan.first_mm) * scale
    first, last = max(left, _LEFT), min(left + wide, _LEFT + _CLOTH)
    yield from _line_across(first, last, _TOP - 30)
    told = f"{_mm(plan.finished_mm[0])} finished ({_mm(plan.printed_mm[0])} printed)"
    yield svg.words(first, _TOP - 52, told, 34, bold=True)
    x = _LEFT + _CLOTH + 26
    lower = top + min(high, shown * scale)
    yield from _line_along(x, top, lower)
    middle = (top + lower) / 2
    yield svg.words(x + 18, middle - 28, _mm(plan.finished_mm[1]), 40, bold=True)
    yield svg.words(x + 18, middle + 6, "finished", 30)
    yield svg.words(x + 18, middle + 44, f"({_mm(plan.printed_mm[1])}", 30)
    yield svg.words(x + 18, middle + 78, "printed)", 30)
    # A repeat beside the first, or below it, shows the offset.
    moved, told = plan.offset_mm[0] * scale, f"{_mm(plan.offset_mm[1])} mm"
    if plan.lattice.offset == "drop" and plan.whole[0] > 1:
        yield from _line_along(left + wide, top, top + moved, svg.ALARM)
        size = svg.fitting(told, min(34.0, moved * 0.8), wide - 40, bold=True)
        if size >= 14:
            y = top + moved / 2 + size * 0.36
            yield svg.words(left + wide + 24, y, told, size, bold=True, fill=svg.ALARM)
    if plan.lattice.offset == "brick" and shown * scale > 1.3 * high:
        yield from _line_across(left, left + moved, top + high, svg.ALARM)
        size = svg.fitting(told, min(34.0, high * 0.4), moved - 12, bold=True)
        if size >= 14:
            yield svg.words(left + 4, top + high + size + 14, told, size, bold=True, fill=svg.ALARM)


def _widths(plan: RepeatPlan, scale: float, bottom: float) -> Iterator[str]:
    left, right = _LEFT + plan.edge_mm * scale, _LEFT + (plan.edge_mm + plan.cuttable_mm) * scale
    y = bottom + 76
    yield from _line_across(left, right, y)
    finished = finished_of(plan, plan.cuttable_mm, 0)[0]
    told = (
        f"cuttable {_mm(finished)} mm finished ({_mm(plan.cuttable_mm)} printed), cloth {_mm(plan.cloth_mm)}"
    )
    yield svg.words(_LEFT, y + 56, told, svg.fitting(told, 38, _ROOM, bold=True), bold=True)
    for k, line in enumerate(_left_over(plan)):
        yield svg.words(_LEFT, y + 110 + 46 * k, line, svg.fitting(line, 34, _ROOM))


def _left_over(plan: RepeatPlan) -> tuple[str, str, str]:
    """Return what is told below the widths."""
    before, after, rest = plan.left_over_mm
    sides = [
        f"{side} {_mm(finished_of(plan, mm, 0)[0])} mm ({_mm(mm)} printed)"
        for side, mm in (("left", before), ("right", after))
    ]
    return (
        "left over: " + ", ".join(sides),
        f"left over at the end: {_mm(finished_of(plan, 0, rest)[1])} mm ({_mm(rest)} printed)",
        f"warp {plan.warp_percent:+g} %, weft {plan.weft_percent:+g} %; "
        "drawn as printed, the top leaves the press first",
    )


def _line_across(first: float, last: float, y: float, stroke: str = svg.DARK) -> Iterator[str]:
    yield svg.segment(first, y, last, y, stroke=stroke, line=4)
    for x in (first, last):
        yield svg.segment(x, y - 12, x, y + 12, stroke=stroke, line=4)


def _line_along(x: float, first: float, last: float, stroke: str = svg.DARK) -> Iterator[str]:
    yield svg.segment(x, first, x, last, stroke=stroke, line=4)
    for y in (first, last):
        yield svg.segment(x - 12, y, x + 12, y, stroke=stroke, line=4)


def _size(size_mm: tuple[float, float]) -> str:
    return f"{_mm(size_mm[0])} × {_mm(size_mm[1])}"


def _mm(value: float) -> str:
    """Return a length to a tenth of a millimetre, without a tenth that is nought."""
    return f"{value:.1f}".removesuffix(".0")
