"""How wide the columns of a table are on paper."""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.report.paper_reader import Cell
from strikeoff.report.paper_type import SMALL, text_width_mm

#: Usual room after each column; it is part of the column. [mm]
GUTTER_MM = 4.0
#: Room of the chip before a name. [mm]
CHIP_ROOM_MM = 3.6

# Least room of a column of words beside figures that leave too little. [mm]
_NARROW_MM = 12.0
# Cells of words up to the first width that leaves room for all columns do not break.
_UNBROKEN_MM = (26.0, 22.0, 18.0)
# Room after each column where the usual one makes figures break, as with the recipes of many inks. [mm]
_GUTTERS_MM = (GUTTER_MM, 3.0, 2.2, 1.6)


def table_gutter_mm(rows: Sequence[Sequence[Cell]], width_mm: float) -> float:
    """Return the room after each column, less than usual where figures would break for it.

    Parameters
    ----------
    rows : sequence of sequence of Cell
        The first is the heading.
    width_mm : float
        Room; the last gutter may lie outside. [mm]

    Returns
    -------
    float
        One gutter. [mm]
    """
    for gutter in _GUTTERS_MM:
        room = width_mm + gutter
        least = _least_widths(rows, _UNBROKEN_MM[-1], gutter)
        if sum(least) < room or _words_give_way(rows, least, room, gutter):
            return gutter
    return _GUTTERS_MM[-1]


def table_widths(
    rows: Sequence[Sequence[Cell]], width_mm: float, gutter_mm: float = GUTTER_MM
) -> list[float]:
    """Return widths that fill a page's width.

    Parameters
    ----------
    rows : sequence of sequence of Cell
        The first is the heading.
    width_mm : float
        Room; the last gutter may lie outside. [mm]
    gutter_mm : float
        Room after each column, as `table_gutter_mm` has it. [mm]
    """
    room = width_mm + gutter_mm
    natural = natural_widths(rows, gutter_mm)
    widths = natural if sum(natural) <= room else _shrunk(rows, natural, room, gutter_mm)
    left = (room - sum(widths)) / len(widths)
    return [width + left for width in widths]


def natural_widths(rows: Sequence[Sequence[Cell]], gutter_mm: float = GUTTER_MM) -> list[float]:
    """Return widths, gutters included, in which no cell breaks."""
    return [
        max(
            text_width_mm(row[k].text, SMALL, bold=number == 0) + (CHIP_ROOM_MM if row[k].colour else 0.0)
            for number, row in enumerate(rows)
        )
        + gutter_mm
        for k in range(len(rows[0]))
    ]


def _shrunk(
    rows: Sequence[Sequence[Cell]], wanted: list[float], width_mm: float, gutter_mm: float
) -> list[float]:
    """Return widths that fit: words break between lines, figures and short cells do not if that can be."""
    least: list[float] = []
    for unbroken in _UNBROKEN_MM:
        least = _least_widths(rows, unbroken, gutter_mm)
        if sum(least) < width_mm:
            break
    if sum(least) >= width_mm:
        return _tight(rows, least, width_mm, gutter_mm)
    share = (width_mm - sum(least)) / (sum(wanted) - sum(least))
    return [low + share * (w - low) for w, low in zip(wanted, least, strict=True)]


def _tight(
    rows: Sequence[Sequence[Cell]], least: list[float], width_mm: float, gutter_mm: float
) -> list[float]:
    """Return widths that fit where even the least do not: words give way to figures, which do not break."""
    if not _words_give_way(rows, least, width_mm, gutter_mm):
        return [w * width_mm / sum(least) for w in least]
    figures = _figures(rows)
    words = sum(width for width, is_figures in zip(least, figures, strict=True) if not is_figures)
    left = width_mm - sum(least) + words
    return [w if is_figures else w * left / words for w, is_figures in zip(least, figures, strict=True)]


def _words_give_way(
    rows: Sequence[Sequence[Cell]], least: list[float], width_mm: float, gutter_mm: float
) -> bool:
    """Return whether figures leave enough for the columns of words."""
    figures = _figures(rows)
    words = sum(width for width, is_figures in zip(least, figures, strict=True) if not is_figures)
    left = width_mm - sum(least) + words
    return words > 0 and left >= (_NARROW_MM + gutter_mm) * figures.count(False)


def _figures(rows: Sequence[Sequence[Cell]]) -> list[bool]:
    return [any(row[k].is_number for row in rows[1:]) for k in range(len(rows[0]))]


def _least_widths(rows: Sequence[Sequence[Cell]], unbroken_mm: float, gutter_mm: float) -> list[float]:
    return [
        max(_least_width(row[k], unbroken_mm, is_head=number == 0) for number, row in enumerate(rows))
        + gutter_mm
        for k in range(len(rows[0]))
    ]


def _least_width(cell: Cell, unbroken_mm: float, *, is_head: bool) -> float:
    indent = CHIP_ROOM_MM if cell.colour else 0.0
    whole = text_width_mm(cell.text, SMALL, bold=is_head)
    if not is_head and (cell.is_number or whole <= unbroken_mm):
        return whole + indent
    return max(text_width_mm(word, SMALL, bold=is_head) for word in cell.text.split(" ")) + indent
