"""A page for the eye: how much ink in one place the cloth still holds.

Steps of rising total ink, each carrying what fills in or bleeds first: reversed lines, small
reversed letters, and narrow gaps and lines at its edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from strikeoff.base.errors import UsageError
from strikeoff.chart.designs import channels
from strikeoff.chart.drawing import Page, Rect, Text, letters, only, page_heading, wrapped
from strikeoff.chart.layout import MOST_PAGES, check_page
from strikeoff.inks.roles import darkest_ink, process_channels

#: Reversed lines, and gaps and lines at the lower edge. [mm]
LINE_MM = (0.2, 0.3, 0.5, 0.8)
#: Nominal sizes of the reversed letters. [mm], here 5, 6, 8 and 10 point.
LETTER_MM = (1.8, 2.1, 2.8, 3.5)

_EDGE_MM = 10.0
_TEXT_MM = 3.2
_CELL_MM = (32.0, 30.0)
_BETWEEN_MM = 4.0
_LABEL_MM = 4.0
_HEADING_MM = 5.0
_ROW_MM = _HEADING_MM + _LABEL_MM + _CELL_MM[1] + _BETWEEN_MM
_MOST_STEPS = 60
_STEP = 0.25
_SINGLE_STEP = 0.1
_SINGLE_FROM = 0.3

_ADVICE = (
    "Total ink, judged by eye after finishing. In every row look from left to right: are the reversed lines "
    "open over their whole length, can every line of letters be read, are the gaps at the lower edge open "
    "and the thin lines no wider than they were drawn? Rub, turn the cloth over, look at the back. The last "
    "step that is still clean is the limit of this combination. The lowest of all rows is safe for all."
)


def usual_combinations(ink_names: Sequence[str]) -> list[tuple[str, ...]]:
    """Return pairs of the coloured inks, all of them, all of them with black, and all inks.

    Examples
    --------
    >>> ["".join(inks) for inks in usual_combinations(["C", "M", "Y", "K"])]
    ['CM', 'CY', 'MY', 'CMY', 'CMYK']
    >>> usual_combinations(["K"]), usual_combinations(["C", "M", "Y", "K", "Orange"])[-1]
    ([('K',)], ('C', 'M', 'Y', 'K', 'Orange'))
    """
    process = process_channels(ink_names)
    places = sorted(process[letter] for letter in "CMY" if letter in process)
    coloured = [ink_names[place] for place in places] or list(ink_names[:3])
    black = [ink_names[process["K"]]] if "K" in process and ink_names[process["K"]] not in coloured else []
    found: list[tuple[str, ...]] = [*combinations(coloured, 2)]
    if len(coloured) > 2:
        found.append(tuple(coloured))
    if black and coloured:
        found.append((*coloured, *black))
    if not found or {ink for group in found for ink in group} != set(ink_names):
        found.append(tuple(ink_names))
    return found


def usual_steps(n_inks: int) -> tuple[float, ...]:
    """Return totals from full single ink to all inks full, in steps of 25 %.

    Examples
    --------
    >>> usual_steps(2), usual_steps(1)[-2:]
    ((1.0, 1.25, 1.5, 1.75, 2.0), (0.9, 1.0))
    """
    first, step = (_SINGLE_FROM, _SINGLE_STEP) if n_inks == 1 else (1.0, _STEP)
    return tuple(np.arange(first, n_inks + 1e-9, step).round(4).tolist())


def total_ink_pages(
    ink_names: tuple[str, ...],
    groups: Sequence[Sequence[str]],
    totals: Sequence[float] | None,
    page_mm: tuple[float, float],
    title: str,
) -> tuple[list[Page], list[tuple[float, ...]]]:
    """Return the pages, and the recipe of every step in reading order.

    Parameters
    ----------
    ink_names : tuple of str
        Inks in channel order.
    groups : sequence of sequence of str
        Combinations of inks; all inks of one get the same amount.
    totals : sequence of float, optional
        Sums of the steps (2.5 is 250 %); steps that a combination cannot reach are left out. [-]
    page_mm : tuple of float
        Width and height. [mm]
    title : str
        First line.

    Raises
    ------
    UsageError
        Unknown inks, steps that cannot be, no room.
    """
    check_page(page_mm)
    columns, rows, top, advice = _room(page_mm, title)
    width = page_mm[0] - 2 * _EDGE_MM
    dark = only(len(ink_names), darkest_ink(ink_names))
    lines: list[tuple[str, list[tuple[float, tuple[float, ...]]]]] = []
    for group in groups:
        steps = _steps(ink_names, group, totals)
        lines += [("+".join(group), steps[i : i + columns]) for i in range(0, len(steps), columns)]
    count = -(-len(lines) // rows)
    pages = []
    for number in range(count):
        items: list[Rect | Text] = [
            Text(_EDGE_MM, _EDGE_MM + 1.6 * _TEXT_MM * i, _TEXT_MM, line, dark)
            for i, line in enumerate([*page_heading(title, number + 1, count, width, _TEXT_MM), *advice])
        ]
        for row, (name, steps) in enumerate(lines[number * rows : (number + 1) * rows]):
            y = top + row * _ROW_MM
            items.append(Text(_EDGE_MM, y, _TEXT_MM, letters(name), dark))
            y += _HEADING_MM
            for column, (total, recipe) in enumerate(steps):
                x = _EDGE_MM + column * (_CELL_MM[0] + _BETWEEN_MM)
                items.append(Text(x, y, _TEXT_MM, f"{100 * total:.4g} %", dark))
                items += _cell(x, y + _LABEL_MM, recipe)
        pages.append(Page(*page_mm, ink_names, tuple(items)))
    return pages, [recipe for _, steps in lines for _, recipe in steps]


def _room(page_mm: tuple[float, float], title: str) -> tuple[int, int, float, list[str]]:
    width = page_mm[0] - 2 * _EDGE_MM
    advice = wrapped(_ADVICE, width, _TEXT_MM)
    heading = page_heading(title, MOST_PAGES, MOST_PAGES, width, _TEXT_MM)
    top = _EDGE_MM + 1.6 * _TEXT_MM * (len(heading) + len(advice)) + 2.0
    columns = int((width + _BETWEEN_MM) / (_CELL_MM[0] + _BETWEEN_MM))
    rows = int((page_mm[1] - top - _EDGE_MM + _BETWEEN_MM) / _ROW_MM)
    if columns < 1 or rows < 1:
        raise UsageError(
            "not one step fits on the page",
            found=f"{page_mm[0]:g}x{page_mm[1]:g} mm",
            expected=f"room for {_CELL_MM[0]:g}x{_CELL_MM[1]:g} mm below the header",
        )
    return columns, rows, top, advice


def _steps(
    ink_names: tuple[str, ...], group: Sequence[str], totals: Sequence[float] | None
) -> list[tuple[float, tuple[float, ...]]]:
    """Return total and recipe of each step of a combination."""
    there = channels(ink_names, group)
    wanted = usual_steps(len(there)) if totals is None else totals
    if len(wanted) > _MOST_STEPS or any(not 0 < t <= len(ink_names) for t in wanted):
        raise UsageError(
            "steps of total ink cannot be",
            found=", ".join(f"{100 * t:g}" for t in wanted[:8]),
            expected=f"at most {_MOST_STEPS} between 0 and {100 * len(ink_names)} %",
        )
    steps = []
    for total in sorted(t for t in wanted if t <= len(there) + 1e-9):
        recipe = [0.0] * len(ink_names)
        for channel in there:
            recipe[channel] = min(1.0, total / len(there))
        steps.append((float(total), tuple(recipe)))
    if not steps:
        raise UsageError(
            "combination reaches none of the steps",
            found="+".join(group),
            expected=f"a step of at most {100 * len(there)} %",
        )
    return steps


def _cell(x: float, y: float, inks: tuple[float, ...]) -> list[Rect | Text]:
    """Return one step: a solid with reversed lines and letters, gaps and lines at its lower edge."""
    none = tuple(0.0 for _ in inks)
    width, height = _CELL_MM
    foot = 6.0
    items: list[Rect | Text] = [Rect(x, y, width, height - foot, inks)]
    across = x + 2.0
    for line in LINE_MM:
        items.append(Rect(across, y + 2.0, line, 9.0, none))
        across += line + 2.0
    along = y + 2.0
    for line in LINE_MM:
        items.append(Rect(x + 13.0, along, width - 15.0, line, none))
        along += line + 1.8
    at = y + 13.0
    for size in LETTER_MM:
        items.append(Text(x + 2.0, at, size, f"Hae 3856 {size / 0.3528:.0f} pt", none))
        at += 0.85 * size + 0.9
    # Fine gaps and fine lines, side by side, in the same widths.
    bottom, at = y + height - foot, x
    for line in LINE_MM:
        block = (width / 2 - sum(LINE_MM)) / len(LINE_MM)
        items.append(Rect(at, bottom, block, foot, inks))
        at += block + line
    at = x + width / 2 + 2.0
    for line in LINE_MM:
        items.append(Rect(at, bottom, line, foot, inks))
        at += line + 2.2
    return items
