"""Drawing to scale of a roll with its pieces, areas and marks; of a long one, the first stretch.

Where a fabric only goes on, its middle is left out and the cut is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.layout import svg
from strikeoff.layout.area_drawing import area_label, draw_area
from strikeoff.layout.drawing_notes import careful
from strikeoff.layout.finishing import finishing_factor
from strikeoff.layout.mark_records import Mark
from strikeoff.layout.placement import Layout
from strikeoff.layout.shortened import shortened

_WIDTH, _CLOTH, _LEFT, _TOP = 1400, 1160, 170, 190
_TALLEST = 2400.0
_COLOURS = {
    "trim": svg.DARK,
    "register": "#2b6ca3",
    "cutter": svg.ALARM,
    "code": svg.MARK,
    "fold": "#2e8b57",
    "eyelet": "#8e44ad",
}
_LEAST = {"trim": 3.0, "fold": 5.0, "code": 3.0, "eyelet": 12.0, "register": 20.0}


def marks_svg(layout: Layout, marks: Sequence[Mark], title: str, head_mm: float, tail_mm: float) -> str:
    """Return an SVG drawing of the unfinished cloth.

    Parameters
    ----------
    layout : Layout
        Pieces.
    marks : sequence of Mark
        What stands in the waste.
    title : str
        Heading.
    head_mm, tail_mm : float
        Waste at the ends that is shown. [mm]
    """
    scale = _CLOTH / layout.width_mm
    whole = layout.length_mm[0] + head_mm + tail_mm
    short = shortened(layout)
    drawn_mm = short.place_mm(whole - head_mm) + head_mm
    shown = min(drawn_mm, _TALLEST / scale)
    counts = {kind: sum(m.kind == kind for m in marks) for kind in _COLOURS}

    def box(x: float, y: float, width: float, height: float) -> tuple[float, float, float, float]:
        left, top = _LEFT + (x + layout.margin_mm) * scale, _TOP + (short.place_mm(y) + head_mm) * scale
        return left, top, width * scale, (short.place_mm(y + height) - short.place_mm(y)) * scale

    def sides(box_mm: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
        left, top, right, end = box_mm
        return box(left, top, right - left, end - top)

    bottom = _TOP + shown * scale
    body = [
        svg.words(_LEFT, 60, title, svg.fitting(title, 44, _CLOTH, bold=True), bold=True),
        svg.words(_LEFT, 110, _heading(layout, whole), svg.fitting(_heading(layout, whole), 36, _CLOTH)),
    ]
    x = float(_LEFT)
    for kind, count in counts.items():
        if count:
            body.append(_drawn(kind, (x, 140, 30, 30)))
            body.append(svg.words(x + 42, 166, f"{count} {kind}", 28))
            x += 58 + 16 * len(f"{count} {kind}")
    body += [
        svg.rectangle(_LEFT, _TOP, _CLOTH, shown * scale, svg.WASTE, line=3),
        svg.rectangle(
            _LEFT + layout.margin_mm * scale,
            _TOP,
            layout.cuttable_mm[0] * scale,
            shown * scale,
            svg.CLOTH,
            line=1,
        ),
        *svg.first_out(80, _TOP, bottom, 36),
    ]
    last_mm = _place_of(shown - head_mm, short.left_out_mm)
    for piece in layout.placements:
        left, top, right, end = layout.printed_box_mm(piece)
        if top >= last_mm:
            continue
        seen = left, top, right, min(end, last_mm)
        drawn = sides(seen)
        if piece.repeat is not None:
            body += draw_area(layout, piece, seen, sides, short.hides)
            body += area_label(piece, *drawn)
            continue
        body.append(svg.rectangle(*drawn, svg.PIECE, kind="piece"))
        size = min(44.0, drawn[2] / max(3.0, 0.65 * len(piece.code)), drawn[3] / 2)
        if size >= 6:
            middle = drawn[0] + drawn[2] / 2, drawn[1] + drawn[3] / 2 + size / 3
            body.append(svg.words(*middle, piece.code, size, anchor="middle", bold=True))
    for m in marks:
        if m.y_mm + m.height_mm <= last_mm and not short.hides(m.y_mm, m.y_mm + m.height_mm):
            left, top, width, height = box(m.x_mm, m.y_mm, m.width_mm, m.height_mm)
            # What would be too small to see is drawn larger, about its middle.
            least = max(width, _LEAST.get(m.kind, 13.0)), max(height, _LEAST.get(m.kind, 13.0))
            corner = left + (width - least[0]) / 2, top + (height - least[1]) / 2
            body.append(_drawn(m.kind, (*corner, *least), named=True))
    for start, end in short.left_out_mm:
        if end <= last_mm:
            body += _cut(
                _TOP + (short.place_mm(start) + head_mm) * scale,
                f"{(end - start) / 1000 * finishing_factor(layout.warp_percent):.2f} m finished go on, "
                f"{(end - start) / 1000:.2f} m to print",
            )
    if last_mm < whole - head_mm:
        more = (whole - head_mm - last_mm) / 1000
        finished = more * finishing_factor(layout.warp_percent)
        rest = f"… and {finished:.2f} m more finished, {more:.2f} m to print"
        body.append(svg.words(_LEFT, bottom + 52, rest, 36))
    lines, high = careful(60, bottom + 90, _WIDTH - 120, ["cutting"] if marks else ())
    return svg.page(_WIDTH, bottom + high + 130, title, [*body, *lines])


def _drawn(kind: str, box: tuple[float, float, float, float], *, named: bool = False) -> str:
    """Draw a mark, each kind in a form of its own; without a name, as a sign beside its count."""
    left, top, width, height = box
    x, y, radius, colour = left + width / 2, top + height / 2, min(width, height) / 2, _COLOURS[kind]
    name = kind if named else ""
    classed = f' class="{name}"' if name else ""
    if kind == "cutter":
        return svg.circle(x, y, radius, colour, name)
    if kind == "eyelet":
        return (
            f'<circle{classed} cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="none" stroke="{colour}" '
            f'stroke-width="{max(2.5, radius / 3):.1f}"/>'
        )
    if kind == "register":
        return (
            f'<path{classed} d="M{left:.2f},{y:.2f} h{width:.2f} M{x:.2f},{top:.2f} v{height:.2f}" '
            f'fill="none" stroke="{colour}" stroke-width="{max(5.0, radius / 2):.1f}"/>'
        )
    if kind in ("trim", "fold") and not named:
        return svg.rectangle(left, y - 3, width, 6, colour, stroke="none")
    return svg.rectangle(*box, colour, stroke="none", kind=name)


def _heading(layout: Layout, whole_mm: float) -> str:
    areas = sum(piece.repeat is not None for piece in layout.placements)
    pieces = len(layout.placements) - areas
    counts = [f"{pieces} piece{'' if pieces == 1 else 's'}"] if pieces or not areas else []
    if areas:
        counts.append(f"{areas} area{'' if areas == 1 else 's'} of a repeat")
    length = f"{layout.length_mm[1] / 1000:.2f} m finished, {whole_mm / 1000:.2f} m to print"
    return f"{', '.join(counts)}; {length}"


def _place_of(shown_mm: float, left_out_mm: Sequence[tuple[float, float]]) -> float:
    """Return the place on the cloth of a place in the drawing. [mm]."""
    for start, end in left_out_mm:
        if shown_mm > start:
            shown_mm += end - start
    return shown_mm


def _cut(y: float, text: str) -> list[str]:
    """Draw where a stretch of the roll is left out."""
    step = (_CLOTH + 40) / 24
    line = " ".join(f"l{step:.1f},{-14 if k % 2 == 0 else 14}" for k in range(24))
    back = " ".join(f"l{-step:.1f},{-14 if k % 2 == 0 else 14}" for k in range(24))
    shape = f"M{_LEFT - 20},{y - 12:.1f} {line} v46 {back} z"
    return [
        f'<path class="cut" d="{shape}" fill="#ffffff" stroke="{svg.DARK}" stroke-width="2"/>',
        svg.words(_LEFT + _CLOTH / 2, y + 14, text, 28, anchor="middle"),
    ]
