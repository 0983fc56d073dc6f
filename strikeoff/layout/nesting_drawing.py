"""Drawing to scale of pieces on a roll, with their codes and groups, and the metres along the side."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from strikeoff.layout import svg
from strikeoff.layout.drawing_notes import careful
from strikeoff.layout.nesting import Nest
from strikeoff.layout.placement import Placement

_LEFT, _CLOTH, _RIGHT, _ROOM = 300, 1180, 70, 1400
_TALLEST = 2400.0
_SHAPE = 1.4
_TINTS = ("#cfe6c4", "#e3d3ee", "#fff2a8", "#f6cfca", "#c9e9e6", "#e8d2b0")
_LEAST_CODE = 6.0
_SAME_MM = 0.01

Box = tuple[float, float, float, float]


def nest_svg(nest: Nest, title: str, faults_mm: Sequence[tuple[float, float]] = ()) -> str:
    """Return an SVG drawing in printed millimetres: every piece with its code, its top and its group.

    A long roll is drawn in stretches side by side, where they can be parted without cutting a piece.

    Parameters
    ----------
    nest : Nest
        What to draw.
    title : str
        Heading.
    faults_mm : sequence of (float, float)
        Stretches of unfinished cloth that were avoided. [mm]
    """
    layout, length = nest.layout, nest.length_mm
    scale = _CLOTH / layout.cuttable_mm[0]
    count = 1
    if length * scale > _TALLEST:
        count = max(1, round(math.sqrt(_SHAPE * length * scale / (_LEFT + _CLOTH))))
    boxes = [(piece, layout.printed_box_mm(piece)) for piece in layout.placements]
    ends = stretches([box for _, box in boxes], length, count)
    tints = {
        group: _TINTS[k % len(_TINTS)]
        for k, group in enumerate(dict.fromkeys(p.group for p in layout.placements if p.group))
    }
    step = 1000.0 if length > 2000 else 100.0
    # All type grows with the page.
    size = float(len(ends))
    head, top = _head(nest, title, tints)
    top *= size
    body = [f'<g transform="scale({size:g})">', *head, "</g>"]
    lowest = top + max(end - start for start, end in ends) * scale
    grown = max(1.0, size / 3)
    side = _LEFT * grown
    for number, (start, end) in enumerate(ends):
        left = side + number * (side + _CLOTH)
        stretch = _Stretch(left, top, scale, start, end)
        body.append(svg.rectangle(left, top, _CLOTH, (end - start) * scale, svg.WASTE, kind="cloth"))
        body += stretch.faults(faults_mm)
        for piece, box in boxes:
            body += stretch.piece(piece, box, tints, 40 * min(size, 2))
        body += stretch.groups(boxes)
        body += stretch.metres(step, 32 * grown * min(size, 1.6))
        body.append(f'<g transform="translate({left - 225 * grown:.1f} {top:.1f}) scale({grown:g})">')
        body += svg.first_out(0, 0, (end - start) * scale / grown, 30 * min(size, 1.6))
        body.append("</g>")
    lines, high = careful(60, lowest / size + 40, _ROOM)
    body += [f'<g transform="scale({size:g})">', *lines, "</g>"]
    wide = len(ends) * (side + _CLOTH) + _RIGHT
    return svg.page(wide, lowest + size * (high + 80), title, body)


def stretches(boxes: Sequence[Box], length_mm: float, count: int) -> tuple[tuple[float, float], ...]:
    """Return where about equal stretches of a roll begin and end, between pieces where that can be. [mm].

    Examples
    --------
    >>> stretches([(0, 0, 9, 40), (0, 40, 9, 60), (0, 60, 9, 100)], 100, 2)
    ((0.0, 40), (40, 100.0))
    """
    each = length_mm / count
    free = [
        y
        for y in sorted({box[1] for box in boxes})
        if not any(box[1] < y - _SAME_MM and box[3] > y + _SAME_MM for box in boxes)
    ]
    cuts = [0.0]
    for k in range(1, count):
        near = min(free, key=lambda y, at=k * each: abs(y - at), default=k * each)  # type: ignore[misc]
        cut = near if abs(near - k * each) < 0.25 * each else k * each
        if cut > cuts[-1]:
            cuts.append(cut)
    return tuple(zip(cuts, [*cuts[1:], float(length_mm)], strict=True))


def _head(nest: Nest, title: str, tints: Mapping[str, str]) -> tuple[list[str], float]:
    """Return the heading and how high it is."""
    layout = nest.layout
    told = (
        f"{len(layout.placements)} pieces, {layout.length_mm[1] / 1000:.3f} m finished, "
        f"{nest.length_mm / 1000:.3f} m to print, {100 * nest.fill:.1f} % used"
    )
    wide = (
        f"cuttable {layout.cuttable_mm[1]:.0f} mm finished, {layout.cuttable_mm[0]:.0f} to print; "
        "metres as printed"
    )
    head = [
        svg.words(60, 60, title, svg.fitting(title, 44, _ROOM, bold=True), bold=True),
        svg.words(60, 114, told, svg.fitting(told, 36, _ROOM)),
        svg.words(60, 160, wide, svg.fitting(wide, 32, _ROOM)),
    ]
    x, y = 60.0, 180.0
    if any(piece.turn_degrees for piece in layout.placements):
        head += [svg.rectangle(x, y, 40, 30, svg.MARK, line=1.5), svg.words(x + 52, y + 26, "turned", 28)]
        x += 210
    if tints:
        text = "groups, each on one stretch:"
        head.append(svg.words(x, y + 26, text, 28))
        x += svg.text_width(text, 28) + 30
    for group, tint in tints.items():
        room = 90 + svg.text_width(group, 28)
        if x + room > _ROOM + 60 and x > 60:
            x, y = 60.0, y + 42
        head.append(svg.rectangle(x, y, 40, 30, tint, line=5))
        head.append(svg.words(x + 52, y + 26, group, svg.fitting(group, 28, _ROOM - 60)))
        x += room
    return head, y + (120 if x > 60 else 70)


class _Stretch:
    """A stretch of the roll on the page."""

    def __init__(self, left: float, top: float, scale: float, start_mm: float, end_mm: float) -> None:
        self._left, self._top, self._scale = left, top, scale
        self._start, self._end = start_mm, end_mm

    def faults(self, faults_mm: Sequence[tuple[float, float]]) -> Iterator[str]:
        """Draw the faulty cloth."""
        for start, end in faults_mm:
            box = self._box((0.0, start, _CLOTH / self._scale, end))
            if box is not None:
                yield svg.rectangle(*box, svg.ALARM, line=1, kind="fault")
                text = f"fault {start / 1000:g} to {end / 1000:g} m"
                if box[3] >= 16:
                    size = min(40.0, box[3] * 0.7)
                    middle = box[1] + box[3] / 2 + size * 0.36
                    yield svg.words(self._left + 20, middle, text, size, bold=True, fill="#ffffff")

    def piece(self, piece: Placement, box_mm: Box, tints: Mapping[str, str], largest: float) -> Iterator[str]:
        """Draw a piece, or the part of it that lies on this stretch."""
        box = self._box(box_mm)
        if box is None:
            return
        fill = svg.MARK if piece.turn_degrees else svg.PIECE
        is_rest = box_mm[1] < self._start - _SAME_MM
        is_cut = is_rest or box_mm[3] > self._end + _SAME_MM
        kind = "rest" if is_rest else "piece"
        yield svg.rectangle(*box, tints.get(piece.group, fill), line=1.5, kind=kind)
        if piece.turn_degrees and box[3] > 12:
            yield _top_arrow(box, piece.turn_degrees)
        code = f"{piece.code} …" if is_cut else piece.code
        room = 0.6 if piece.turn_degrees else 0.8
        yield from _code(code, piece.group, *box, largest, room)

    def groups(self, boxes: Sequence[tuple[Placement, Box]]) -> Iterator[str]:
        """Draw a line around each group."""
        around: dict[str, Box] = {}
        for piece, (left, top, right, bottom) in boxes:
            if piece.group:
                was = around.get(piece.group, (left, top, right, bottom))
                around[piece.group] = (
                    min(was[0], left), min(was[1], top), max(was[2], right), max(was[3], bottom)
                )  # fmt: skip
        for block in around.values():
            box = self._box(block)
            if box is not None:
                yield svg.rectangle(*box, line=6, kind="group")

    def metres(self, step_mm: float, size: float) -> Iterator[str]:
        """Draw the metres along the side."""
        for k in range(math.ceil(self._start / step_mm - 1e-9), int(self._end // step_mm) + 1):
            y = self._top + (k * step_mm - self._start) * self._scale
            yield svg.segment(self._left - 20, y, self._left, y, line=3)
            yield svg.words(self._left - 28, y + size / 3, f"{k * step_mm / 1000:g} m", size, anchor="end")

    def _box(self, box_mm: Box) -> Box | None:
        """Return left, top, width, height on the page of what lies on this stretch, if anything does."""
        top, bottom = max(box_mm[1], self._start), min(box_mm[3], self._end)
        if bottom - top <= _SAME_MM:
            return None
        scale = self._scale
        return (
            self._left + box_mm[0] * scale,
            self._top + (top - self._start) * scale,
            (box_mm[2] - box_mm[0]) * scale,
            (bottom - top) * scale,
        )


def _top_arrow(box: Box, turn_degrees: int) -> str:
    """Return a triangle that points to where the top of a turned piece lies."""
    left, top, wide, high = box
    tip = min(30.0, wide / 6, high / 6)
    x, y = left + wide / 2, top + high / 2
    reach = wide / 2 - 1.4 * tip, high / 2 - 1.4 * tip
    angle = math.radians(turn_degrees)
    up = math.sin(angle), -math.cos(angle)
    x, y = x + up[0] * reach[0], y + up[1] * reach[1]
    points = (
        (x + up[0] * tip, y + up[1] * tip),
        (x - up[1] * tip, y + up[0] * tip),
        (x + up[1] * tip, y - up[0] * tip),
    )
    path = " L".join(f"{a:.1f},{b:.1f}" for a, b in points)
    return f'<path class="top" d="M{path} z" fill="{svg.DARK}"/>'


def _code(
    code: str, group: str, left: float, top: float, width: float, height: float, largest: float, share: float
) -> Iterator[str]:
    """Write a code, its group below, in a share of the middle of a piece, along its longer side if narrow."""
    upright = height > 1.5 * width
    room, rise = (height, width) if upright else (width, height)
    size = svg.fitting(code, min(largest, rise * (0.4 if group else 0.7)), room * share, bold=True)
    if size < _LEAST_CODE:
        return
    x, y = left + width / 2, top + height / 2
    small = svg.fitting(f"group {group}", size * 0.75, room * share)
    first = y + size * 0.36 - (small * 0.6 if group else 0)
    lines = [svg.words(x, first, code, size, anchor="middle", bold=True)]
    if group:
        lines.append(svg.words(x, first + small * 1.2, f"group {group}", small, anchor="middle"))
    if upright:
        yield f'<g transform="rotate(-90 {x:.2f} {y:.2f})">'
    yield from lines
    if upright:
        yield "</g>"
