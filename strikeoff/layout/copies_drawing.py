"""Drawing to scale of a grid of copies; of a long one, the first rows."""

from __future__ import annotations

from strikeoff.base.words import counted
from strikeoff.layout import svg
from strikeoff.layout.copies import CopyGrid
from strikeoff.layout.drawing_notes import careful

_WIDTH, _CLOTH, _LEFT, _TOP = 1440, 1240, 120, 206
_TALLEST = 1500.0


def copies_svg(grid: CopyGrid, title: str) -> str:
    """Return an SVG drawing: every copy with an arrow to its top, and which end leaves the press first.

    Parameters
    ----------
    grid : CopyGrid
        What to draw.
    title : str
        Heading.
    """
    pitch = grid.pitch_mm
    width = grid.across * pitch[0] - grid.gap_mm[0] + grid.left_over_mm[1]
    scale = _CLOTH / width
    rows = max(1, min(grid.rows, int(_TALLEST / (pitch[1] * scale)), 2000 // grid.across))
    shown = (rows * pitch[1] - grid.gap_mm[1]) * scale
    metres = f"{grid.length_mm[1] / 1000:.2f} m finished, {grid.length_mm[0] / 1000:.2f} m to print"
    told = f"{grid.count} copies: {grid.across} across, {grid.rows} rows, {metres}"
    rest = f"left over across {grid.left_over_mm[1]:.0f} mm finished, {grid.left_over_mm[0]:.0f} to print"
    body = [
        svg.words(_LEFT, 56, title, 40, bold=True),
        svg.words(_LEFT, 108, told, 32),
        svg.words(_LEFT, 154, rest, 32),
        svg.rectangle(_LEFT, _TOP, _CLOTH, shown, svg.CLOTH),
        *svg.first_out(_LEFT / 2, _TOP, _TOP + shown),
    ]
    size = grid.size_mm[0] * scale, grid.size_mm[1] * scale
    tip = min(size) * 0.3
    for number, (x, y, turned) in enumerate(grid.copies()):
        if number >= rows * grid.across:
            break
        left, top = _LEFT + x * scale, _TOP + y * scale
        kind = "turned" if turned else "copy"
        body.append(svg.rectangle(left, top, *size, svg.MARK if turned else svg.PIECE, line=1.5, kind=kind))
        way, middle = (-1 if turned else 1), (left + size[0] / 2, top + size[1] / 2)
        body.append(
            f'<path d="M{middle[0]:.1f},{middle[1] - way * tip:.1f} l{tip:.1f},{way * 1.6 * tip:.1f} '
            f'h{-2 * tip:.1f} z" fill="{svg.DARK}"/>'
        )
    if rows < grid.rows:
        body.append(svg.words(_LEFT, _TOP + shown + 44, f"… and {counted(grid.rows - rows, 'row')} more", 32))
    lines, high = careful(_LEFT, _TOP + shown + 80, _CLOTH)
    return svg.page(_WIDTH, _TOP + shown + high + 110, title, [*body, *lines])
