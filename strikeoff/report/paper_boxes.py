"""Blocks of a report as boxes of a page."""

from __future__ import annotations

from collections.abc import Sequence

from strikeoff.report.figures import Drawing
from strikeoff.report.paper_columns import (
    CHIP_ROOM_MM,
    GUTTER_MM,
    natural_widths,
    table_gutter_mm,
    table_widths,
)
from strikeoff.report.paper_pages import Box, Item
from strikeoff.report.paper_reader import Block, Cell
from strikeoff.report.paper_type import BODY, HEAD, SMALL, line_mm, text_width_mm, wrapped
from strikeoff.report.style import INK, LINE, MUTED

_CHIP_MM = 2.4
_FORM_ROW_MM = 9.5
#: Share of its height that a drawing may lose or win.
_SHRINK, _GROW = 0.72, 1.2
# A table as high as this is broken where the page ends; this many rows stay together at either end.
_WHOLE_MM, _TOGETHER = 110.0, 4
_LONG_ROWS = 8


class BoxMaker:
    """Makes boxes for one width.

    Parameters
    ----------
    left_mm, width_mm : float
        Left edge and width of what a page holds. [mm]
    """

    def __init__(self, left_mm: float, width_mm: float) -> None:
        self.left, self.width = left_mm, width_mm

    def heading(self, title: str, labels: Sequence[str]) -> Box:
        """Return the heading of a section, its labels at the right."""

        def place(y: float, _: float) -> list[Item]:
            y += 4.0
            under = y + line_mm(HEAD)
            right = {"size": SMALL, "color": MUTED, "ha": "right", "style": "italic"}
            return [
                Item("text", self.left, y, title, {"size": HEAD, "weight": "bold"}),
                *(
                    [Item("text", self.left + self.width, y + 1.6, ", ".join(labels), right)]
                    if labels
                    else []
                ),
                Item("rule", self.left, under, self.width, {"color": LINE, "lw": 0.8}),
            ]

        return Box(4.0 + line_mm(HEAD) + 2.5, place, holds_next=True)

    def text(
        self, text: str, size: float = BODY, *, color: str = INK, bold: bool = False, holds_next: bool = False
    ) -> Box:
        """Return a paragraph."""
        lines = wrapped(text, self.width, size, bold=bold)
        style = {"size": size, "color": color, "weight": "bold" if bold else "normal"}

        def place(y: float, _: float) -> list[Item]:
            return [
                Item("text", self.left, y + k * line_mm(size), line, style) for k, line in enumerate(lines)
            ]

        return Box(len(lines) * line_mm(size) + 1.8, place, holds_next=holds_next)

    def point(self, text: str, *, holds_next: bool = False) -> Box:
        """Return a point of a list."""
        indent = 3.5
        lines = wrapped(text, self.width - indent, BODY)

        def place(y: float, _: float) -> list[Item]:
            rows = [
                Item("text", self.left + indent, y + k * line_mm(BODY), line, {"size": BODY})
                for k, line in enumerate(lines)
            ]
            return [Item("text", self.left, y, "•", {"size": BODY}), *rows]

        return Box(len(lines) * line_mm(BODY) + 1.2, place, holds_next=holds_next)

    def drawing(self, drawing: Drawing, *, holds_next: bool = False) -> Box:
        """Return a drawing in the middle of the page."""
        width = min(self.width, drawing.size[0] * 25.4)
        height = width * drawing.size[1] / drawing.size[0]

        def place(y: float, given: float) -> list[Item]:
            x = self.left + (self.width - width) / 2
            return [Item("drawing", x, y, drawing, {"w": width, "h": given - 2.0})]

        return Box(height + 2.0, place, _SHRINK * height + 2.0, _GROW * height + 2.0, holds_next)

    def facts(self, rows: Sequence[Sequence[Cell]]) -> list[Box]:
        """Return named facts, two beside each other."""
        half = (self.width - 6.0) / 2
        name_mm = min(max(text_width_mm(row[0].text, SMALL) for row in rows) + 3.0, 0.48 * half)
        cells = [
            (
                wrapped(row[0].text, name_mm - 1.5, SMALL),
                wrapped(row[1].text, half - name_mm, SMALL, bold=True),
            )
            for row in rows
        ]
        boxes = [self._facts_row(cells[k : k + 2], half, name_mm) for k in range(0, len(cells), 2)]
        return _held(boxes, self._gap(2.0))

    def _facts_row(self, pair: list[tuple[list[str], list[str]]], half: float, name_mm: float) -> Box:
        height = max(len(lines) for cell in pair for lines in cell) * line_mm(SMALL)

        def place(y: float, _: float) -> list[Item]:
            items = []
            for side, (names, values) in enumerate(pair):
                x = self.left + side * (half + 6.0)
                for lines, at, style in (
                    (names, x, {"color": MUTED}),
                    (values, x + name_mm, {"weight": "bold"}),
                ):
                    items += [
                        Item("text", at, y + k * line_mm(SMALL), line, {"size": SMALL, **style})
                        for k, line in enumerate(lines)
                    ]
                items.append(Item("rule", x, y + height + 0.3, half))
            return items

        return Box(height + 1.3, place)

    def form(self, rows: Sequence[Sequence[Cell]]) -> list[Box]:
        """Return lines to be filled in by hand."""
        count = len(rows[0])
        first = max(text_width_mm(row[0].text, SMALL, bold=True) for row in rows) + GUTTER_MM
        each = (self.width - first) / max(count - 1, 1)
        edges = [0.0, *(first + k * each for k in range(count - 1))]

        def row_box(row: Sequence[Cell], high: float, size_style: dict[str, object], *, ruled: bool) -> Box:
            def place(y: float, _: float) -> list[Item]:
                low = y + high - line_mm(SMALL)
                return [
                    *(
                        Item("text", self.left + edge, low, cell.text, {"size": SMALL, **size_style})
                        for cell, edge in zip(row, edges, strict=False)
                        if cell.text
                    ),
                    *(
                        Item("rule", self.left + edge, y + high, each - 3.0, {"color": MUTED})
                        for edge in edges[1:] * ruled
                    ),
                ]

            return Box(high, place)

        head = row_box(rows[0], line_mm(SMALL) + 1.0, {"color": MUTED}, ruled=False)
        return _held(
            [head, *(row_box(row, _FORM_ROW_MM, {}, ruled=True) for row in rows[1:])], self._gap(3.0)
        )

    def table(self, rows: Sequence[Sequence[Cell]]) -> list[Box]:
        """Return a table; a narrow long one stands in two halves beside each other."""
        if sum(natural_widths(rows)) <= 0.47 * self.width and len(rows) > _LONG_ROWS:
            body = list(rows[1:])
            middle = -(-len(body) // 2)
            blank = [Cell("", cell.is_number) for cell in rows[0]]
            right = [*body[middle:], *([blank] if len(body) % 2 else [])]
            pairs = [(rows[0], rows[0]), *zip(body[:middle], right, strict=True)]
            half = 0.47 * self.width
            return self._rows(pairs, table_widths(rows, half), [0.0, self.width - half], GUTTER_MM)
        gutter = table_gutter_mm(rows, self.width)
        return self._rows([(row,) for row in rows], table_widths(rows, self.width, gutter), [0.0], gutter)

    def _rows(
        self,
        rows: Sequence[Sequence[Sequence[Cell]]],
        widths: list[float],
        starts: list[float],
        gutter_mm: float,
    ) -> list[Box]:
        head, *body = (
            self._row(parts, widths, starts, gutter_mm, bold=k == 0) for k, parts in enumerate(rows)
        )
        if head.height_mm + sum(box.height_mm for box in body) <= _WHOLE_MM or len(body) < 2 * _TOGETHER:
            return _held([head, *body], self._gap(3.0))
        boxes = [_with(head, holds_next=True)]
        for k, box in enumerate(body):
            near_end = k < _TOGETHER - 1 or len(body) - _TOGETHER <= k < len(body) - 1
            boxes.append(_with(box, holds_next=near_end, again=head))
        return [*boxes, self._gap(3.0)]

    def _row(
        self,
        parts: Sequence[Sequence[Cell]],
        widths: list[float],
        starts: list[float],
        gutter_mm: float,
        *,
        bold: bool,
    ) -> Box:
        lined = [
            [_cell_lines(cell, width - gutter_mm, bold) for cell, width in zip(row, widths, strict=False)]
            for row in parts
        ]
        height = max(len(lines) for row in lined for lines in row) * line_mm(SMALL)
        weight, color = ("bold", MUTED) if bold else ("normal", INK)

        def place(y: float, _: float) -> list[Item]:
            items = []
            for row, lines_of, start in zip(parts, lined, starts, strict=True):
                x = self.left + start
                for cell, lines, width in zip(row, lines_of, widths, strict=False):
                    indent = CHIP_ROOM_MM if cell.colour else 0.0
                    if cell.colour:
                        items.append(Item("chip", x, y + 0.6, cell.colour, {"w": _CHIP_MM}))
                    at, side = (x + width - gutter_mm, "right") if cell.is_number else (x + indent, "left")
                    style = {"size": SMALL, "weight": weight, "color": color, "ha": side}
                    items += [
                        Item("text", at, y + k * line_mm(SMALL), line, style) for k, line in enumerate(lines)
                    ]
                    x += width
                ruled = {"color": MUTED if bold else LINE, "lw": 0.8 if bold else 0.5}
                items.append(
                    Item("rule", self.left + start, y + height + 0.4, sum(widths) - gutter_mm, ruled)
                )
            return items

        return Box(height + 1.3, place)

    def _gap(self, height_mm: float) -> Box:
        return Box(height_mm, lambda *_: [])


def section_boxes(maker: BoxMaker, blocks: Sequence[Block], drawings: dict[str, Drawing]) -> list[Box]:
    """Return the boxes of a section's body; words stay with the drawing or table that they belong to.

    Parameters
    ----------
    maker : BoxMaker
        For the page.
    blocks : sequence of Block
        From `read_blocks`.
    drawings : dict
        By id; blocks of other drawings are left out.
    """
    known = [block for block in blocks if block.kind != "drawing" or block.text in drawings]
    boxes: list[Box] = []
    for block, following in zip(known, [*known[1:], None], strict=True):
        leads = following is not None and following.kind not in ("text", "note", "point", "subhead")
        if block.kind == "drawing":
            holds = following is not None and following.kind in ("note", "text")
            boxes.append(maker.drawing(drawings[block.text], holds_next=holds))
        elif block.kind == "facts":
            boxes += maker.facts(block.rows)
        elif block.kind == "form":
            boxes += maker.form(block.rows)
            if following is not None and following.kind == "form":
                boxes[-1] = _with(boxes[-1], holds_next=True)
        elif block.kind == "table":
            boxes += maker.table(block.rows)
        elif block.kind == "point":
            boxes.append(maker.point(block.text))
        elif block.kind == "subhead":
            boxes.append(maker.text(block.text, BODY + 1, bold=True, holds_next=True))
        else:
            is_note = block.kind == "note"
            boxes.append(
                maker.text(
                    block.text, SMALL if is_note else BODY, color=MUTED if is_note else INK, holds_next=leads
                )
            )
    return boxes


def _held(boxes: Sequence[Box], gap: Box) -> list[Box]:
    """Keep boxes on one page."""
    return [*(_with(box, holds_next=True) for box in boxes), gap]


def _with(box: Box, *, holds_next: bool, again: Box | None = None) -> Box:
    return Box(box.height_mm, box.place, box.least_mm, box.most_mm, holds_next, again)


def _cell_lines(cell: Cell, width_mm: float, bold: bool) -> list[str]:
    indent = CHIP_ROOM_MM if cell.colour else 0.0
    # A hair more, so that a cell as wide as its column does not break.
    return wrapped(cell.text, width_mm - indent + 0.05, SMALL, bold=bold)
