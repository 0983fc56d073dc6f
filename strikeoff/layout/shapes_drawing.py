"""Nested free shapes to scale: names, which way each stands, the cloth and what leaves the press first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from strikeoff.layout import svg
from strikeoff.layout.contours import Points, import_shapely
from strikeoff.layout.drawing_notes import careful
from strikeoff.layout.shape_plans import PlacedShape, ShapePlan

_LEFT, _TOP, _BOX = 130, 200, (1180, 3600)
_FILLS = ("#b9d5ec", "#f9dfb8", "#cfe6c4", "#e3d3ee", "#f6cfca", "#d7d7d7")


def shapes_svg(plan: ShapePlan, title: str) -> str:
    """Return an SVG drawing of a roll of free shapes; shapes of one name have one colour.

    Parameters
    ----------
    plan : ShapePlan
        What to draw, at finished size.
    title : str
        Heading.
    """
    wide, length = plan.cuttable_mm[1], plan.length_mm
    scale = min(_BOX[0] / wide, _BOX[1] / length)
    right, bottom = _LEFT + wide * scale, _TOP + length * scale
    page = max(right + 60, 1100.0)
    told = (
        f"{len(plan.placed)} pieces, {plan.length_mm / 1000:.2f} m finished "
        f"({plan.printed_length_mm / 1000:.2f} printed)"
    )
    used = (
        f"cloth used {100 * plan.fill:.0f} %, cuttable {plan.cuttable_mm[1]:.0f} mm finished "
        f"({plan.cuttable_mm[0]:.0f} printed)"
    )
    fills = {shape.name: _FILLS[k % len(_FILLS)] for k, shape in enumerate(plan.job.shapes)}
    body = [
        svg.words(_LEFT, 62, title, 44, bold=True),
        svg.words(_LEFT, 114, told, svg.fitting(told, 36, page - _LEFT - 40, bold=True), bold=True),
        svg.words(_LEFT, 160, used, svg.fitting(used, 32, page - _LEFT - 40)),
        svg.rectangle(_LEFT, _TOP, wide * scale, length * scale, svg.CLOTH, line=4, kind="cloth"),
        *svg.first_out(_LEFT / 2, _TOP, bottom),
    ]
    for placed in plan.placed:
        body += _piece(placed, fills[placed.shape], scale)
    lines, high = careful(_LEFT, bottom + 50, page - _LEFT - 40, ["cutting"])
    return svg.page(page, bottom + high + 90, title, [*body, *lines])


def _piece(placed: PlacedShape, fill: str, scale: float) -> Iterator[str]:
    rings = " ".join(_ring(points, scale) for points in (placed.outline, *placed.holes))
    yield (
        f'<path class="piece" d="{rings}" fill="{fill}" fill-rule="evenodd" stroke="{svg.DARK}" '
        'stroke-width="2.5"/>'
    )
    shapely = import_shapely()
    polygon = shapely.Polygon(placed.outline, placed.holes)
    extent = max(polygon.bounds[2] - polygon.bounds[0], polygon.bounds[3] - polygon.bounds[1])
    radius = shapely.maximum_inscribed_circle(polygon, tolerance=extent / 100)
    (x, y), (x2, y2) = shapely.get_coordinates(radius)[:2]
    room = math.hypot(x2 - x, y2 - y) * scale
    sideways = placed.turn_degrees % 180 != 0
    # Beside an arrow to a side a name stays within the circle; else it takes the width that there is.
    first, last = (
        (x - room / scale * 0.6, x + room / scale * 0.6) if sideways else _line(polygon, x, y, room / scale)
    )
    size = svg.fitting(placed.name, min(46.0, room * 0.8), 0.92 * (last - first) * scale, bold=True)
    middle = _LEFT + (first + last) / 2 * scale
    x, y = _LEFT + x * scale, _TOP + y * scale
    # The arrow shows where the top of the piece is, as it was drawn.
    angle = math.radians(placed.turn_degrees)
    up = math.sin(angle), -math.cos(angle)
    reach, half = room * 0.9, max(5.0, room * 0.16)
    tip = x + up[0] * reach, y + up[1] * reach
    back = tip[0] - up[0] * half * 1.5, tip[1] - up[1] * half * 1.5
    side = -up[1] * half, up[0] * half
    yield (
        f'<path d="M{tip[0]:.1f},{tip[1]:.1f} L{back[0] + side[0]:.1f},{back[1] + side[1]:.1f} '
        f'L{back[0] - side[0]:.1f},{back[1] - side[1]:.1f} z" fill="{svg.ALARM}"/>'
    )
    if size >= 6:
        yield svg.words(middle, y + size * 0.35, placed.name, size, anchor="middle", bold=True)


def _line(polygon: Any, x: float, y: float, rise: float) -> tuple[float, float]:
    """Return where a line of text so high, through a place within a piece, may begin and end. [mm]."""
    shapely = import_shapely()
    left, _, right, _ = polygon.bounds
    first, last = left, right
    for level in (y - rise / 3, y, y + rise / 3):
        cut = shapely.intersection(polygon, shapely.LineString([(left, level), (right, level)]))
        for part in shapely.get_parts(cut):
            if part.bounds[0] <= x <= part.bounds[2]:
                first, last = max(first, part.bounds[0]), min(last, part.bounds[2])
    return first, last


def _ring(points: Points, scale: float) -> str:
    places = " ".join(f"{_LEFT + x * scale:.2f},{_TOP + y * scale:.2f}" for x, y in points.tolist())
    return f"M{places}Z"
