"""Drawing to scale of a roll with its pieces and marks; of a long one, the first stretch."""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.layout import svg
from strikeoff.layout.marks import Mark
from strikeoff.layout.placement import Layout

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
_LEAST = {"trim": 3.0, "fold": 5.0, "code": 3.0, "eyelet": 6.0}


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
    shown = min(whole, _TALLEST / scale)
    counts = {kind: sum(m.kind == kind for m in marks) for kind in _COLOURS}

    def box(x: float, y: float, width: float, height: float) -> tuple[float, float, float, float]:
        left, top = _LEFT + (x + layout.margin_mm) * scale, _TOP + (y + head_mm) * scale
        return left, top, width * scale, height * scale

    bottom = _TOP + shown * scale
    body = [
        svg.words(_LEFT, 60, title, 44, bold=True),
        svg.words(_LEFT, 110, f"{len(layout.placements)} pieces, {whole / 1000:.2f} m to print", 36),
    ]
    x = float(_LEFT)
    for kind, count in counts.items():
        if count:
            body.append(svg.rectangle(x, 138, 30, 30, _COLOURS[kind], stroke="none"))
            body.append(svg.words(x + 42, 166, f"{count} {kind}", 28))
            x += 56 + 15 * len(f"{count} {kind}")
    body += [
        svg.rectangle(_LEFT, _TOP, _CLOTH, shown * scale, svg.WASTE, line=3),
        svg.rectangle(*box(0, -head_mm, layout.cuttable_mm[0], shown), svg.CLOTH, line=1),
        f'<path d="M85,{_TOP} l40,70 h-22 v90 h-36 v-90 h-22 z" fill="{svg.ALARM}"/>',
        svg.words(85, _TOP + 200, "FEED", 40, anchor="middle", bold=True),
    ]
    for piece in layout.placements:
        left, top, right, end = layout.printed_box_mm(piece)
        if end + head_mm <= shown:
            drawn = box(left, top, right - left, end - top)
            body.append(svg.rectangle(*drawn, svg.PIECE, kind="piece"))
            size = min(44.0, drawn[2] / max(3.0, 0.65 * len(piece.code)), drawn[3] / 2)
            middle = drawn[0] + drawn[2] / 2, drawn[1] + drawn[3] / 2 + size / 3
            if size >= 6:
                body.append(svg.words(*middle, piece.code, size, anchor="middle", bold=True))
    for m in marks:
        if m.y_mm + m.height_mm + head_mm <= shown:
            left, top, width, height = box(m.x_mm, m.y_mm, m.width_mm, m.height_mm)
            # What would be too small to see is drawn larger, about its middle.
            least = max(width, _LEAST.get(m.kind, 13.0)), max(height, _LEAST.get(m.kind, 13.0))
            corner = left + (width - least[0]) / 2, top + (height - least[1]) / 2
            body.append(svg.rectangle(*corner, *least, _COLOURS[m.kind], stroke="none", kind=m.kind))
    if shown < whole:
        body.append(svg.words(_LEFT, bottom + 52, f"… and {(whole - shown) / 1000:.2f} m more", 36))
    return svg.page(_WIDTH, bottom + 80, title, body)
