"""Drawing to scale of every way to lay a repeat across a width."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from strikeoff.layout import svg
from strikeoff.layout.drawing_notes import careful
from strikeoff.layout.width_options import WidthOption

_WIDTH, _LEFT, _CLOTH, _TOP, _ROW, _STRIP = 1400, 60, 1280, 120, 230, 90


def width_options_svg(
    options: Sequence[WidthOption], fabric_mm: float, cuttable_mm: float, title: str
) -> str:
    """Return an SVG drawing: a strip of cloth for each option, all to one scale across.

    Parameters
    ----------
    options : sequence of WidthOption
        What to draw.
    fabric_mm, cuttable_mm : float
        Width of the unfinished cloth, and of it what can be used. [mm]
    title : str
        Heading.
    """
    scale = _CLOTH / fabric_mm
    factor = options[0].repeat_finished_mm[0] / options[0].repeat_printed_mm[0] if options else 1.0
    told = (
        f"cuttable {cuttable_mm * factor:.0f} mm finished ({cuttable_mm:.0f} mm printed), "
        f"cloth {fabric_mm:.0f} mm before finishing"
    )
    size = svg.fitting(title, 40, _CLOTH, bold=True)
    body = [svg.words(_LEFT, 52, title, size, bold=True), svg.words(_LEFT, 98, told, 30)]
    for number, option in enumerate(options):
        body += _strip(option, _TOP + number * _ROW, scale, fabric_mm, cuttable_mm)
    bottom = _TOP + _ROW * len(options) + 20
    lines, high = careful(_LEFT, bottom, _CLOTH)
    return svg.page(_WIDTH, bottom + high + 40, title, [*body, *lines])


def _strip(
    option: WidthOption, top: float, scale: float, fabric_mm: float, cuttable_mm: float
) -> Iterator[str]:
    start = _LEFT + (fabric_mm - cuttable_mm) / 2 * scale
    end, y = start + cuttable_mm * scale, top + 96
    size = f", at {option.scale_percent:.2f} %" if abs(option.scale_percent - 100) > 0.005 else ""
    yield svg.words(_LEFT, top + 40, f"{option.name}: {option.whole_across} whole{size}", 36, bold=True)
    left, right = option.left_mm, option.right_mm
    told = (
        f"left {left[1]:.0f}, right {right[1]:.0f} mm finished ({left[0]:.0f}, {right[0]:.0f} printed); "
        f"{option.order_m[1]:.2f} m finished ({option.order_m[0]:.2f} printed)"
    )
    yield svg.words(_LEFT, top + 82, told, svg.fitting(told, 30, _CLOTH))
    yield svg.rectangle(_LEFT, y, _CLOTH, _STRIP, svg.WASTE)
    yield svg.rectangle(start, y, cuttable_mm * scale, _STRIP, svg.CLOTH, line=1)
    step = option.repeat_printed_mm[0] * scale
    first = start + option.first_mm * scale
    if option.edge == "parts":
        yield from _part(start, first, y)
        yield from _part(first + option.whole_across * step, end, y)
    for k in range(option.whole_across):
        yield svg.rectangle(first + k * step, y, step, _STRIP, svg.PIECE, kind="whole")
        if step > 24:
            yield svg.circle(first + (k + 0.5) * step, y + _STRIP / 2, min(18, step / 4), "#2b6ca3")
    middle = _LEFT + _CLOTH / 2
    yield svg.segment(middle, y - 8, middle, y + _STRIP + 8, stroke=svg.ALARM, line=3)


def _part(start: float, end: float, y: float) -> Iterator[str]:
    if end - start > 0.01:
        yield svg.rectangle(start, y, end - start, _STRIP, "#e4eef7", kind="part")
