"""Pages of patches with their labels, from places."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.chart.drawing import Page, Rect, Text, corner_ticks, hidden_channels, only, page_heading
from strikeoff.chart.layout import LABEL_MM, Placed, row_label
from strikeoff.chart.screen_inks import screen_colours
from strikeoff.inks.roles import darkest_ink

FloatArray = NDArray[np.float64]

_SEPARATOR_MM = 0.8
_HEADER_TEXT_MM = 4.0
_EDGE_MM = 10.0
#: Middles of the lowest and highest line of a header of several [mm]; from line to line, in sizes of letters.
_LOWEST_LINE_MM, _LEAST_TOP_MM, _LEADING = 15.0, 2.0, 1.6
#: Mean of red, green and blue above which a patch counts as light.
_LIGHT = 0.35


def patch_pages(placed: Placed, recipes: FloatArray, ink_names: tuple[str, ...], title: str) -> list[Page]:
    """Return the pages of a chart: patches, row letters, column numbers, a line that says what it is.

    Parameters
    ----------
    placed : Placed
        Where the patches stand.
    recipes : ndarray, shape (n, n_inks)
        As printed. [-]
    ink_names : tuple of str
        Inks in channel order.
    title : str
        What the chart is; the page number is added.
    """
    dark = only(len(ink_names), darkest_ink(ink_names))
    return [_page(placed, recipes, ink_names, title, number, dark) for number in range(1, placed.pages + 1)]


def _page(
    placed: Placed,
    recipes: FloatArray,
    ink_names: tuple[str, ...],
    title: str,
    number: int,
    dark: tuple[float, ...],
) -> Page:
    here = np.flatnonzero(placed.page == number)
    side, tool = placed.patch_mm, placed.instrument
    title = f"{title} | patches {side:g} mm"
    items: list[Rect | Text] = list(_header(title, number, placed, dark))
    hidden = hidden_channels(ink_names)
    size = min(_HEADER_TEXT_MM, 0.45 * side)
    for left in np.unique(placed.x_mm[here]):
        column = placed.column[here[placed.x_mm[here] == left][0]]
        y = float(placed.y_mm[here].min()) - 0.8 * size
        items.append(Text(float(left) + side / 2, y, size, str(column), dark, centred=True))
    for row in np.unique(placed.row[here]):
        at = here[placed.row[here] == row][0]
        first = float(placed.x_mm[at]) - (float(placed.column[at]) - 1) * (side + tool.gap_mm)
        y = float(placed.y_mm[at]) + side / 2
        items.append(Text(first - LABEL_MM, y, size, row_label(int(row)), dark))
    for slot in here:
        x, y = float(placed.x_mm[slot]), float(placed.y_mm[slot])
        inks = tuple(float(v) for v in recipes[placed.patch[slot]])
        items.append(Rect(x, y, side, side, inks))
        items += corner_ticks(x, y, side, inks, dark, hidden)
    if tool.separators:
        items += _separators(placed, recipes, ink_names, here, dark)
    return Page(*placed.page_mm, ink_names, tuple(items))


def _header(title: str, number: int, placed: Placed, dark: tuple[float, ...]) -> list[Text]:
    """Return the line that says what the page is; on narrow cloth several, upwards from the first patches."""
    room = placed.page_mm[0] - 2 * _EDGE_MM
    size = header_size(room, title)
    lines = page_heading(title, number, placed.pages, room, size)
    top = max(_LEAST_TOP_MM, min(_EDGE_MM, _LOWEST_LINE_MM - _LEADING * size * (len(lines) - 1)))
    return [Text(_EDGE_MM, top + _LEADING * size * i, size, line, dark) for i, line in enumerate(lines)]


def _separators(
    placed: Placed,
    recipes: FloatArray,
    ink_names: tuple[str, ...],
    here: NDArray[np.int64],
    dark: tuple[float, ...],
) -> list[Rect]:
    """Return lines between neighbours of a stroke: bare cloth beside a dark patch, else the darkest ink."""
    light = screen_colours(recipes[placed.patch], ink_names).mean(axis=1) > _LIGHT
    none = tuple(0.0 for _ in dark)
    items = []
    for slot in here:
        x, y = float(placed.x_mm[slot]), float(placed.y_mm[slot])
        ends = slot + 1 >= len(placed.row) or placed.row[slot + 1] != placed.row[slot]
        starts = placed.column[slot] == 1
        if starts:
            items.append(Rect(x - _SEPARATOR_MM / 2, y, _SEPARATOR_MM, placed.patch_mm, dark))
        both_light = light[slot] and (ends or light[slot + 1])
        inks = dark if ends or both_light else none
        left = x + placed.patch_mm - _SEPARATOR_MM / 2
        items.append(Rect(left, y, _SEPARATOR_MM, placed.patch_mm, inks))
    return items


def header_size(room_mm: float, text: str) -> float:
    """Return the size of letters with which a header fits, 1.5 to 4 mm."""
    return float(np.clip(room_mm / (0.56 * max(1, len(text) + 16)), 1.5, _HEADER_TEXT_MM))
