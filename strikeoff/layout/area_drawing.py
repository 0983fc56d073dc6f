"""Areas of a repeat in drawings to scale: every repeat in its place, with a flag that shows how it stands."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from strikeoff.layout import svg
from strikeoff.layout.finishing import printed_mm
from strikeoff.layout.placement import Layout, Placement
from strikeoff.raster.lattice import Lattice

_AREA, _CELL = "#dcebd3", "#5f8f4e"
_MOST_CELLS, _LEAST_PX, _LEAST_TEXT = 1500, 12.0, 6.0
# A flag on its pole, upright, a unit high: its top and its right side are seen.
_FLAG = ((-0.05, 0.5), (-0.05, -0.5), (0.45, -0.28), (0.05, -0.06), (0.05, 0.5))

Box = tuple[float, float, float, float]
#: Left, top, right, bottom on the printed cloth to left, top, width, height on the page.
Drawn = Callable[[Box], Box]


def draw_area(
    layout: Layout, area: Placement, window_mm: Box, drawn: Drawn, hides: Callable[[float, float], bool]
) -> Iterator[str]:
    """Yield an area and its repeats.

    Parameters
    ----------
    layout : Layout
        Its roll.
    area : Placement
        A checked placement with a repeat.
    window_mm : tuple of float
        What is seen of it, printed: left, top, right, bottom. [mm]
    drawn : callable
        From printed cloth to the page.
    hides : callable
        Whether a stretch of the cloth is left out of the drawing.
    """
    x, y, width, height = drawn(window_mm)
    yield svg.rectangle(x, y, width, height, _AREA, kind="area")
    for cell, flips in _cells(layout, area, window_mm, width / max(window_mm[2] - window_mm[0], 1e-9)):
        if hides(cell[1], cell[3]):
            continue
        inside = (
            max(cell[0], window_mm[0]),
            max(cell[1], window_mm[1]),
            min(cell[2], window_mm[2]),
            min(cell[3], window_mm[3]),
        )
        if inside[0] < inside[2] and inside[1] < inside[3]:
            yield svg.rectangle(*drawn(inside), stroke=_CELL, line=1, kind="repeat")
        if inside == cell:
            yield _flag(drawn(cell), area, flips)


def area_label(area: Placement, x: float, y: float, width: float, height: float) -> Iterator[str]:
    """Yield name and repeat of an area near the head of its box on the page, on a ground of their own."""
    if area.repeat is None:
        return
    wide, high = area.repeat.size_mm
    texts = (
        area.code,
        area.repeat.lattice.name,
        f"{wide:g} × {high:g} mm finished, {area.height_mm / 1000:.2f} m",
    )
    size = min(34.0, height / 6, 0.9 * width / (0.62 * max(len(text) for text in texts)))
    if size < _LEAST_TEXT:
        return
    half = 0.34 * size * max(len(text) for text in texts)
    middle, top = x + width / 2, y + 0.5 * size
    yield svg.rectangle(middle - half, top, 2 * half, 4.0 * size, svg.CLOTH, stroke="none")
    for line, text in enumerate(texts):
        yield svg.words(middle, top + (1.1 + 1.25 * line) * size, text, size, anchor="middle", bold=line == 0)


def _cells(
    layout: Layout, area: Placement, window: Box, px_per_mm: float
) -> Iterator[tuple[Box, tuple[bool, bool]]]:
    """Yield the printed box of every repeat that touches a window, and how it is mirrored.

    None where they would be too small or too many to be seen.
    """
    fill = area.repeat
    if fill is None:
        return
    weft, warp = layout.weft_percent, layout.warp_percent
    wide, high = printed_mm(fill.size_mm[0], weft), printed_mm(fill.size_mm[1], warp)
    x, y = fill.origin_mm or (area.x_mm, area.y_mm)
    left, top = printed_mm(x, weft), printed_mm(y, warp)
    count = (window[2] - window[0]) / wide * (window[3] - window[1]) / high
    if count > _MOST_CELLS or min(wide, high) * px_per_mm < _LEAST_PX:
        return
    for column, row, x, y in _places(fill.lattice, (left, top, wide, high), window):
        if fill.lattice.shown(column, row):
            yield (x, y, x + wide, y + high), fill.lattice.flips(column, row)


def _places(lattice: Lattice, first: Box, window: Box) -> Iterator[tuple[int, int, float, float]]:
    """Yield column, row, left and top of every cell; ``first`` is left, top, width, height of cell (0, 0)."""
    left, top, wide, high = first
    share = float(lattice.share)
    if lattice.offset == "brick":
        for row in _steps(window[1], window[3], top, high):
            moved = left + row * share * wide
            for column in _steps(window[0], window[2], moved, wide):
                yield column, row, moved + column * wide, top + row * high
        return
    for column in _steps(window[0], window[2], left, wide):
        moved = top + column * share * high
        for row in _steps(window[1], window[3], moved, high):
            yield column, row, left + column * wide, moved + row * high


def _steps(low: float, end: float, start: float, size: float) -> range:
    return range(math.floor((low - start) / size), math.ceil((end - start) / size))


def _flag(cell: Box, area: Placement, flips: tuple[bool, bool]) -> str:
    size = 0.55 * min(cell[2], cell[3])
    middle = cell[0] + cell[2] / 2, cell[1] + cell[3] / 2
    places = []
    for x, y in _FLAG:
        x = -x if area.mirror else x
        for _ in range(area.turn_degrees // 90):
            x, y = -y, x
        x, y = (-x if flips[0] else x), (-y if flips[1] else y)
        places.append(f"{middle[0] + x * size:.1f},{middle[1] + y * size:.1f}")
    return f'<path class="flag" d="M{" L".join(places)} z" fill="{_CELL}" fill-opacity="0.6"/>'
