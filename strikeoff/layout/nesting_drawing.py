"""Drawing to scale of pieces on a roll, with their codes and the metres along the side."""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.layout import svg
from strikeoff.layout.nesting import Nest

_WIDTH, _LEFT, _TOP = 1400, 150, 170
_CLOTH = 1180.0
_TALLEST = 6000.0


def nest_svg(nest: Nest, title: str, faults_mm: Sequence[tuple[float, float]] = ()) -> str:
    """Return an SVG drawing in printed millimetres: every piece, its code, and what is turned.

    Parameters
    ----------
    nest : Nest
        What to draw.
    title : str
        Heading.
    faults_mm : sequence of (float, float)
        Stretches of unfinished cloth that were avoided. [mm]
    """
    layout = nest.layout
    wide = layout.cuttable_mm[0]
    scale = min(_CLOTH / wide, _TALLEST / nest.length_mm)
    told = (
        f"{len(layout.placements)} pieces, {layout.length_mm[1] / 1000:.3f} m finished, "
        f"{nest.length_mm / 1000:.3f} m to print, "
        f"{100 * nest.fill:.1f} % used"
    )
    body = [
        svg.words(_LEFT, 60, title, 44, bold=True),
        svg.words(_LEFT, 116, told, 34),
        svg.rectangle(_LEFT, _TOP, wide * scale, nest.length_mm * scale, svg.WASTE),
    ]
    for start, end in faults_mm:
        if start < nest.length_mm:
            tall = (min(end, nest.length_mm) - start) * scale
            body.append(
                svg.rectangle(
                    _LEFT, _TOP + start * scale, wide * scale, tall, svg.ALARM, line=1, kind="fault"
                )
            )
    for piece in layout.placements:
        left, top, right, bottom = (v * scale for v in layout.printed_box_mm(piece))
        fill = svg.MARK if piece.turn_degrees else svg.PIECE
        body.append(
            svg.rectangle(_LEFT + left, _TOP + top, right - left, bottom - top, fill, line=1.5, kind="piece")
        )
        body += _code(piece.code, _LEFT + left, _TOP + top, right - left, bottom - top)
    step = 1000.0 if nest.length_mm > 2000 else 100.0
    for k in range(int(nest.length_mm // step) + 1):
        y = _TOP + k * step * scale
        body.append(svg.segment(_LEFT - 20, y, _LEFT, y, line=3))
        body.append(svg.words(_LEFT - 28, y + 11, f"{k * step / 1000:g} m", 30, anchor="end"))
    return svg.page(_WIDTH, _TOP + nest.length_mm * scale + 60, title, body)


def _code(code: str, left: float, top: float, width: float, height: float) -> list[str]:
    """Write a code in the middle of its piece, along the longer side where the other is narrow."""
    upright = height > 1.5 * width
    room, rise = (height, width) if upright else (width, height)
    size = min(40.0, rise * 0.7, room / (0.8 * max(2, len(code))))
    if size < 6:
        return []
    x, y = left + width / 2, top + height / 2
    text = svg.words(x, y + size * 0.36, code, size, anchor="middle", bold=True)
    return [f'<g transform="rotate(-90 {x:.2f} {y:.2f})">{text}</g>' if upright else text]
