"""How wide the columns of a table are on paper."""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.report.paper_reader import Cell
from strikeoff.report.paper_type import SMALL, text_width_mm

#: Room after each column; it is part of the column. [mm]
GUTTER_MM = 4.0
#: Room of the chip before a name. [mm]
CHIP_ROOM_MM = 3.6

# Least room of a column of words beside figures that leave too little. [mm]
_NARROW_MM = 12.0
# Cells of words up to the first width that leaves room for all columns do not break.
_UNBROKEN_MM = (26.0, 22.0, 18.0)


def table_widths(rows: Sequence[Sequence[Cell]], width_mm: float) -> list[float]:
    """Return widths that fill a page's width.

    Parameters
    ----------
    rows : sequence of sequence of Cell
        The first is the heading.
    width_mm : float
        Room; the last gutter may lie outside. [mm]
    """
    natural = natural_widths(rows)
    widths = natural if sum(natural) <= width_mm + GUTTER_MM else _shrunk(rows, natural, width_mm + GUTTER_MM)
    left = (width_mm + GUTTER_MM - sum(widths)) / len(widths)
    return [width + left for width in widths]


def natural_widths(rows: Sequence[Sequence[Cell]]) -> list[float]:
    """Return widths, gutters included, in which no cell breaks."""
    return [
        max(
            text_width_mm(row[k].text, SMALL, bold=number == 0) + (CHIP_ROOM_MM if row[k].colour else 0.0)
            for number, row in enumerate(rows)
        )
        + GUTTER_MM
        for k in range(len(rows[0]))
    ]


def _shrunk(rows: Sequence[Sequence[Cell]], wanted: list[float], width_mm: float) -> list[float]:
    """Return widths that fit: words break between lines, figures and short cells do not if that can be."""
    least: list[float] = []
    for unbroken in _UNBROKEN_MM:
        least = [
            max(_least_width(row[k], unbroken, is_head=number == 0) for number, row in enumerate(rows))
            + GUTTER_MM
            for k in range(len(wanted))
        ]
        if sum(least) < width_mm:
            break
    if sum(least) >= width_mm:
        return _tight(rows, least, width_mm)
    share = (width_mm - sum(least)) / (sum(wanted) - sum(least))
    return [low + share * (w - low) for w, low in zip(wanted, least, strict=True)]


def _tight(rows: Sequence[Sequence[Cell]], least: list[float], width_mm: float) -> list[float]:
    """Return widths that fit where even the least do not: words give way to figures, which do not break."""
    figures = [any(row[k].is_number for row in rows[1:]) for k in range(len(least))]
    words = sum(width for width, is_figures in zip(least, figures, strict=True) if not is_figures)
    left = width_mm - sum(least) + words
    if left < (_NARROW_MM + GUTTER_MM) * figures.count(False) or not words:
        return [w * width_mm / sum(least) for w in least]
    return [w if is_figures else w * left / words for w, is_figures in zip(least, figures, strict=True)]


def _least_width(cell: Cell, unbroken_mm: float, *, is_head: bool) -> float:
    indent = CHIP_ROOM_MM if cell.colour else 0.0
    whole = text_width_mm(cell.text, SMALL, bold=is_head)
    if not is_head and (cell.is_number or whole <= unbroken_mm):
        return whole + indent
    return max(text_width_mm(word, SMALL, bold=is_head) for word in cell.text.split(" ")) + indent
