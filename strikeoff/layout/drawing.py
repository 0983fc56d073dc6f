"""A to-scale drawing of a roll, to be read from two metres away."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from strikeoff.layout import svg
from strikeoff.layout.drawing_notes import careful
from strikeoff.layout.repeat_plan import repeat_cells, repeat_plan_of_roll
from strikeoff.layout.roll import RollPlan
from strikeoff.layout.strip import PlacedPatch

_PAGE_WIDTH = 1240
_BOX = (170, 120, 500, 1080)
_FACTS_X, _FACTS_WIDTH = 725, 495
_TITLE, _TITLE_LINES = 40, 3
# Of a roll longer than so many widths the middle is left out, where that is more than a little.
_LONGEST, _LITTLE_MORE = 2.4, 1.4
_MOST_CELLS = 3000

_FONT = "DejaVu Sans, Arial, sans-serif"
# As attributes, not as a style sheet: PDF is made by a converter that knows no style sheets.
_LOOKS = {
    "cloth": 'fill="none" stroke="#16233a" stroke-width="3"',
    "margin": 'fill="#dcd5c5"',
    "waste": 'fill="#ece6d8"',
    "design": 'fill="#e4eef7"',
    "whole": 'fill="#b9d5ec" stroke="#2b6ca3" stroke-width="2"',
    "repeat": 'fill="#e4eef7" stroke="#2b6ca3" stroke-width="2"',
    "first": 'fill="#f6b26b" stroke="#a8500b" stroke-width="4"',
    "patch": 'fill="#7b8794" stroke="#fdfcf8" stroke-width="0.6"',
    "line": 'fill="none" stroke="#16233a" stroke-width="2.5"',
    "cut": 'fill="#ffffff" stroke="#16233a" stroke-width="2.5"',
    "arrow": 'fill="#c0392b"',
}


@dataclass(frozen=True)
class _Scale:
    """Millimetres of cloth to the page; a long roll is cut in the middle and the cut is drawn."""

    left: float
    top: float
    per_mm: float
    head_mm: float
    skipped_mm: float

    def x(self, mm: float) -> float:
        return self.left + mm * self.per_mm

    def hides(self, top_mm: float, end_mm: float) -> bool:
        """Whether something lies in what is left out, in part or in whole."""
        return self.skipped_mm > 0 and end_mm > self.head_mm and top_mm < self.head_mm + self.skipped_mm

    def seen_mm(self, end_mm: float) -> tuple[tuple[float, float], ...]:
        """Return the stretches of the roll that are drawn, up to an end."""
        if self.skipped_mm <= 0:
            return ((0.0, end_mm),)
        return ((0.0, self.head_mm), (self.head_mm + self.skipped_mm, end_mm))

    def y(self, mm: float) -> float:
        return (
            self.top + (mm if mm <= self.head_mm else max(self.head_mm, mm - self.skipped_mm)) * self.per_mm
        )


def roll_drawing_svg(plan: RollPlan, *, patches: Sequence[PlacedPatch] = (), title: str = "") -> str:
    """Return an SVG drawing of a roll plan.

    Cloth edges, unprinted margins, waste at both ends, every repeat in its place, one of them
    labelled with its finished and printed size, feed direction and what is left over. Lengths are
    to scale; a roll longer than about three times its width is cut in its middle, and the cut is drawn.

    Parameters
    ----------
    plan : RollPlan
        What to draw.
    patches : sequence of PlacedPatch
        Control strip, in millimetres of the roll.
    title : str
        Heading.

    Returns
    -------
    str
        SVG document without scripts or outside references.
    """
    width, height = plan.across_mm(plan.width_px), plan.along_mm(plan.height_px)
    shown = max(_LONGEST * width, plan.along_mm(plan.leader_px + plan.tail_px) * 1.5)
    shown = height if height < _LITTLE_MORE * shown else shown
    per_mm = min(_BOX[2] / width, _BOX[3] / shown)
    tail = plan.along_mm(plan.tail_px) + shown * 0.15
    head = height if shown == height else shown - tail
    scale = _Scale(_BOX[0] + (_BOX[2] - width * per_mm) / 2, _BOX[1], per_mm, head, height - shown)
    notes, room = careful(60, _BOX[1] + _BOX[3] + 50, _PAGE_WIDTH - 120)
    page = _PAGE_WIDTH, round(_BOX[1] + _BOX[3] + room + 90)
    body = [
        *_cloth(plan, scale),
        *_lattice(plan, scale),
        *(_rectangle(scale, p.x_mm, p.y_mm, p.width_mm, p.height_mm, "patch") for p in patches),
        *_dimensions(plan, scale),
        *_facts(plan, title),
    ]
    text = "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {page[0]} {page[1]}" role="img">',
            f"<title>{escape(title or 'Roll plan')}</title>",
            f'<rect width="{page[0]}" height="{page[1]}" fill="#ffffff"/>',
            *body,
            "</svg>",
            "",
        ]
    )
    for kind, look in _LOOKS.items():
        text = text.replace(f'class="{kind}"', f'class="{kind}" {look}')
    text = text.replace("<text ", f'<text font-family="{_FONT}" fill="#16233a" ')
    return text.replace("</svg>", "\n".join([*notes, "</svg>"]))


def _cloth(plan: RollPlan, scale: _Scale) -> Iterator[str]:
    width, height = plan.across_mm(plan.width_px), plan.along_mm(plan.height_px)
    margin, leader = plan.across_mm(plan.margin_px), plan.along_mm(plan.leader_px)
    design = plan.along_mm(plan.design_rows)
    yield _rectangle(scale, 0, 0, width, height, "waste")
    yield _rectangle(scale, margin, leader, width - 2 * margin, design, "design")
    yield _rectangle(scale, 0, 0, margin, height, "margin")
    yield _rectangle(scale, width - margin, 0, margin, height, "margin")


def _lattice(plan: RollPlan, scale: _Scale) -> Iterator[str]:
    """Draw the repeats, cut off where the printable cloth ends."""
    margin, leader = plan.across_mm(plan.margin_px), plan.along_mm(plan.leader_px)
    right, bottom = plan.across_mm(plan.width_px - plan.margin_px), leader + plan.along_mm(plan.design_rows)
    w, h = plan.repeat.printed_width_mm, plan.repeat.printed_height_mm
    size, lattice = min(w, h) * 0.16, repeat_plan_of_roll(plan)
    # Of very many repeats those at the ends are drawn.
    most = h * max(3, _MOST_CELLS // (plan.whole_across + 1))
    for number, (start, stop) in enumerate(scale.seen_mm(bottom)):
        start = max(start, leader) if number == 0 else max(start, stop - most)
        stop = min(stop, start + most)
        for cell in repeat_cells(lattice, stop - leader, start - leader):
            x, y = margin + cell.left_mm, leader + cell.top_mm
            kind = "first" if cell.name == "A1" else "whole" if cell.name else "repeat"
            first, last = max(x, margin), min(x + w, right)
            top, end = max(y, start), min(y + h, bottom, stop)
            if first < last and top < end:
                yield _rectangle(scale, first, top, last - first, end - top, kind)
            across, along = x + w / 2, y + h / 2
            is_inside = margin + size <= across <= right - size and start + size <= along <= stop - size
            if is_inside and not scale.hides(y, y + h):
                yield svg.leaf(scale.x(across), scale.y(along), size * scale.per_mm, cell.flips)


def _dimensions(plan: RollPlan, scale: _Scale) -> Iterator[str]:
    width, height = plan.across_mm(plan.width_px), plan.along_mm(plan.height_px)
    yield _rectangle(scale, 0, 0, width, height, "cloth")
    left, right, top, bottom = scale.x(0), scale.x(width), scale.y(0), scale.y(height)
    yield f'<path class="line" d="M{left:.1f},{top - 30:.1f} H{right:.1f}"/>'
    for x in (left, right):
        yield f'<path class="line" d="M{x:.1f},{top - 42:.1f} v24"/>'
    yield _text((left + right) / 2, top - 48, f"{width:.0f} mm cloth", 34, "middle")
    if scale.skipped_mm > 0:
        yield _break(left, right, scale.y(scale.head_mm))
    middle, x = (top + bottom) / 2, left - 30
    yield f'<path class="line" d="M{x:.1f},{top:.1f} V{bottom:.1f}"/>'
    for y in (top, bottom):
        yield f'<path class="line" d="M{x - 12:.1f},{y:.1f} h24"/>'
    yield (
        f'<text transform="translate({x - 16:.1f},{middle:.1f}) rotate(-90)" font-size="34" '
        f'text-anchor="middle">{height / 1000:.2f} m cloth</text>'
    )
    yield (
        f'<path class="arrow" d="M60,{top:.1f} l34,60 h-20 v90 h-28 v-90 h-20 z"/>'
        f'<text x="60" y="{top + 190:.1f}" font-size="34" text-anchor="middle" font-weight="bold">FEED</text>'
    )
    repeat = plan.repeat
    x = scale.x(plan.across_mm(plan.column_px) + repeat.printed_width_mm / 2)
    y = scale.y(plan.along_mm(plan.leader_px) + repeat.printed_height_mm / 2)
    size = min(30.0, repeat.printed_width_mm * scale.per_mm / 7, repeat.printed_height_mm * scale.per_mm / 7)
    if size >= 14:
        label = f"{repeat.finished_width_mm:.0f} × {repeat.finished_height_mm:.0f}"
        yield _text(x, y + size * 2.1 * 1.3, label, size, "middle", bold=True)
        yield _text(x, y - size * 2.1, "finished mm", size * 0.8, "middle")


def _break(left: float, right: float, y: float) -> str:
    step = (right - left + 40) / 12
    zigzag = " ".join(f"l{step / 2:.1f},-14 l{step / 2:.1f},14" for _ in range(12))
    back = " ".join(f"l{-step / 2:.1f},-14 l{-step / 2:.1f},14" for _ in range(12))
    return f'<path class="cut" d="M{left - 20:.1f},{y - 6:.1f} {zigzag} v16 {back} z"/>'


def _facts(plan: RollPlan, title: str) -> Iterator[str]:
    repeat = plan.repeat
    across, along = plan.leftover_across_mm, plan.leftover_along_mm
    error = [round(e, 2) + 0.0 for e in repeat.error_mm(10)]
    blocks = [
        (
            "Repeat",
            f"{repeat.kind}",
            f"{repeat.finished_width_mm:.2f} × {repeat.finished_height_mm:.2f} mm finished",
            f"{repeat.printed_width_mm:.2f} × {repeat.printed_height_mm:.2f} mm printed",
            f"snapping × 10: {error[0]:+.2f}, {error[1]:+.2f} mm",
        ),
        (
            "Finishing",
            f"warp {repeat.warp_percent:+.2f} %, weft {repeat.weft_percent:+.2f} %",
        ),
        (
            "Whole repeats",
            f"{plan.whole_across} across × {plan.whole_along} along",
        ),
        (
            "Left over",
            f"across {across[1]:.0f} mm finished",
            f"({across[0]:.0f} mm printed)",
            f"along {along[1]:.0f} mm finished",
            f"({along[0]:.0f} mm printed)",
        ),
        (
            "Design",
            f"{plan.design_m[1]:.2f} m finished",
            f"{plan.design_m[0]:.2f} m printed",
        ),
        (
            "Waste and edges",
            f"leader {plan.along_mm(plan.leader_px):.0f} mm",
            "slug, control strip" + ("" if plan.nozzle_px is None else ", nozzles"),
            f"tail {plan.along_mm(plan.tail_px):.0f} mm, margins {plan.across_mm(plan.margin_px):.0f} mm",
        ),
    ]
    y = 70.0
    for line in _broken(title):
        yield _text(_FACTS_X, y, line, svg.fitting(line, _TITLE, _FACTS_WIDTH, bold=True), bold=True)
        y += 48
    y -= 16
    for heading, first, *rest in blocks:
        y += 50
        yield _text(_FACTS_X, y, heading, 26)
        y += 42
        # Long words still end on the page.
        yield _text(_FACTS_X, y, first, svg.fitting(first, 36, _FACTS_WIDTH, bold=True), bold=True)
        for line in rest:
            y += 38
            yield _text(_FACTS_X, y, line, svg.fitting(line, 30, _FACTS_WIDTH))


def _broken(title: str) -> list[str]:
    """Return a heading in lines that fit beside the roll; of a very long one its beginning."""
    return textwrap.wrap(title, int(_FACTS_WIDTH / (0.64 * _TITLE)), max_lines=_TITLE_LINES, placeholder=" …")


def _rectangle(scale: _Scale, x: float, y: float, width: float, height: float, kind: str) -> str:
    left, top = scale.x(x), scale.y(y)
    right, bottom = scale.x(x + width), scale.y(y + height)
    return (
        f'<rect class="{kind}" x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" '
        f'height="{bottom - top:.1f}"/>'
    )


def _text(x: float, y: float, text: str, size: float, anchor: str = "start", bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    place = f'x="{x:.1f}" y="{y:.1f}" font-size="{size:.0f}" text-anchor="{anchor}"'
    return f"<text {place}{weight}>{escape(text)}</text>"
