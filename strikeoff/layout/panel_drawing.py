"""Panel map to scale: numbers in hanging order, arrows up, shared strips, eyelets."""

from __future__ import annotations

from collections.abc import Iterator

from strikeoff.layout import svg
from strikeoff.layout.drawing_notes import careful
from strikeoff.layout.panels import HEM_MM, PanelMap, eyelet_places_mm

_WIDTH, _BOX, _LEFT, _TOP = 1400, (1240, 760), 80, 150
_SEEN = "#2b6ca3"


def panel_map_svg(plan: PanelMap, title: str, *, eyelets_mm: float | None = None) -> str:
    """Return an SVG drawing of the work as it hangs, seen from the front.

    Parameters
    ----------
    plan : PanelMap
        What to draw.
    title : str
        Heading.
    eyelets_mm : float, optional
        Draw eyelets at most so far apart. [mm]
    """
    scale = min(_BOX[0] / plan.cloth_mm[0], _BOX[1] / plan.cloth_mm[1])
    bottom = _TOP + plan.cloth_mm[1] * scale
    first = plan.panels[0]
    size, width, height = first.printed_mm, first.end_mm - first.start_mm, first.bottom_mm - first.top_mm
    each = "1 panel," if len(plan.panels) == 1 else f"{len(plan.panels)} panels, each"
    told = f"{each} {width:.0f} × {height:.0f} mm finished, {size[0]:.0f} × {size[1]:.0f} to print"
    body = [
        svg.words(_LEFT, 58, title, svg.fitting(title, 44, _BOX[0], bold=True), bold=True),
        svg.words(_LEFT, 112, told, svg.fitting(told, 34, _BOX[0])),
        *_panels(plan, scale),
        *(_eyelets(plan, scale, eyelets_mm) if eyelets_mm is not None else ()),
    ]
    legend = list(_legend(plan, eyelets_mm))
    for k, (sign, text) in enumerate(legend):
        y = bottom + 66 + 46 * k
        body += _sign(sign, y - 12)
        body.append(svg.words(_LEFT + 66, y, text, svg.fitting(text, 30, _BOX[0] - 66)))
    end = bottom + 50 + 46 * len(legend)
    lines, high = careful(_LEFT, end, _BOX[0])
    return svg.page(_WIDTH, end + high + 40, title, [*body, *lines])


def _legend(plan: PanelMap, eyelets_mm: float | None) -> Iterator[tuple[str, str]]:
    """Yield the signs of a map and what they mean."""
    if len(plan.panels) > 1:
        shared = f"shared strip, {plan.overlap_mm:g} mm finished"
        yield ("shared", shared) if plan.overlap_mm > 0 else ("edge", "panels meet edge to edge")
    yield "seen", "edge of what is seen; beyond it what is folded, sewn or cut off:"
    yield "", f"{plan.side_mm:.0f} mm at the sides, {plan.end_mm:.0f} mm above and below, finished"
    if eyelets_mm is not None:
        yield "eyelet", f"eyelets, at most {eyelets_mm:g} mm apart, half a hem inside that edge"
    yield "", "the top of every panel goes first through the press"


def _sign(sign: str, y: float) -> Iterator[str]:
    if sign == "shared":
        yield svg.rectangle(_LEFT, y - 12, 46, 24, svg.MARK, line=1)
    elif sign == "eyelet":
        yield svg.circle(_LEFT + 23, y, 9, svg.DARK)
    elif sign:
        yield svg.segment(_LEFT, y, _LEFT + 46, y, stroke=_SEEN if sign == "seen" else svg.DARK, line=4)


def _panels(plan: PanelMap, scale: float) -> Iterator[str]:
    for panel in plan.panels:
        yield _box(panel.start_mm, panel.top_mm, panel.end_mm, panel.bottom_mm, scale, svg.PIECE, "panel", 2)
    if plan.overlap_mm > 0:
        wide, high = plan.cloth_mm
        for left in sorted({p.start_mm for p in plan.panels} - {0.0}):
            yield _box(left, 0.0, left + plan.overlap_mm, high, scale, svg.MARK, "shared", 1)
        for top in sorted({p.top_mm for p in plan.panels} - {0.0}):
            yield _box(0.0, top, wide, top + plan.overlap_mm, scale, svg.MARK, "shared", 1)
    side, end = plan.side_mm * scale, plan.end_mm * scale
    inner = (plan.cloth_mm[0] - 2 * plan.side_mm) * scale, (plan.cloth_mm[1] - 2 * plan.end_mm) * scale
    yield svg.rectangle(_LEFT + side, _TOP + end, *inner, stroke=_SEEN, line=3, kind="seen")
    for panel in plan.panels:
        middle = _LEFT + (panel.start_mm + panel.end_mm) / 2 * scale
        high = (panel.bottom_mm - panel.top_mm) * scale
        size = min(90.0, (panel.end_mm - panel.start_mm) * scale / 3, high / 4)
        top = _TOP + (panel.top_mm + panel.bottom_mm) / 2 * scale - size
        yield (
            f'<path d="M{middle:.1f},{top - size * 0.8:.1f} l{size * 0.4:.1f},{size * 0.6:.1f} '
            f'h{-size * 0.8:.1f} z" fill="{svg.ALARM}"/>'
        )
        yield svg.words(middle, top + size * 0.9, str(panel.number), size, anchor="middle", bold=True)
        yield svg.words(middle, top + size * 1.4, "UP", size * 0.35, anchor="middle", bold=True)


def _box(
    left: float, top: float, right: float, bottom: float, scale: float, fill: str, kind: str, line: float
) -> str:
    """Draw part of the cloth, in its millimetres."""
    return svg.rectangle(
        _LEFT + left * scale,
        _TOP + top * scale,
        (right - left) * scale,
        (bottom - top) * scale,
        fill,
        line=line,
        kind=kind,
    )


def _eyelets(plan: PanelMap, scale: float, apart_mm: float) -> Iterator[str]:
    across = plan.cloth_mm[0] - 2 * plan.side_mm
    along = plan.cloth_mm[1] - 2 * plan.end_mm
    places = {(x, y) for x in eyelet_places_mm(across, apart_mm) for y in (0.0, along)}
    places |= {(x, y) for x in (0.0, across) for y in eyelet_places_mm(along, apart_mm)}
    # A ring on the fold itself would tear out: it stands in the doubled cloth of a hem.
    inset = min(HEM_MM, across, along) / 2
    for x, y in sorted(places):
        yield svg.circle(
            _LEFT + (plan.side_mm + min(max(x, inset), across - inset)) * scale,
            _TOP + (plan.end_mm + min(max(y, inset), along - inset)) * scale,
            6,
            svg.DARK,
            "eyelet",
        )
