"""The same sections on paper: a PDF of A4 pages, text and drawings as vectors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, Literal

from strikeoff.base.files import atomic_path
from strikeoff.report.figures import Drawing, drawing_style
from strikeoff.report.page import Section
from strikeoff.report.style import INK, LABELS, LINE, MUTED

_WIDTH_MM, _HEIGHT_MM = 210.0, 297.0
_MARGIN_MM = 18.0
_TEXT_MM = _WIDTH_MM - 2 * _MARGIN_MM
_TOP_MM, _BOTTOM_MM = 20.0, 18.0
_MM_PER_POINT = 25.4 / 72
# Line height over type size; mean width of a letter in text, and in tables of figures.
_LEADING, _LETTER, _FIGURE = 1.42, 0.52, 0.62
_BODY, _SMALL, _HEAD = 9.0, 8.0, 14.0
_VOID = {"br", "img", "hr", "meta", "link", "input"}


@dataclass
class _Block:
    """A paragraph, a list of facts, a table, or a drawing that stands on the page by its id."""

    kind: str
    text: str = ""
    rows: list[list[str]] = field(default_factory=list)


class _Reader(HTMLParser):
    """Takes apart what the templates of this package make; drawings are named by their ids."""

    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[_Block] = []
        self.stack: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "svg" and "svg" not in self.stack:
            self.blocks.append(_Block("drawing", dict(attrs).get("id") or ""))
        if "svg" not in self.stack and tag in ("table", "dl"):
            self.blocks.append(_Block("table" if tag == "table" else "facts"))
        if tag in ("tr", "div") and self.blocks and {"table", "dl"} & set(self.stack):
            self.blocks[-1].rows.append([])
        if tag in ("p", "li", "td", "th", "dt", "dd", "h3"):
            self.words = []
        if tag not in _VOID:
            self.stack.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in self.stack:
            while self.stack.pop() != tag:
                pass
        if "svg" in self.stack:
            return
        text = " ".join("".join(self.words).split())
        if tag in ("td", "th", "dt", "dd"):
            self.blocks[-1].rows[-1].append(text)
        elif tag in ("p", "li", "h3") and text:
            self.blocks.append(_Block("text", text))

    def handle_data(self, data: str) -> None:
        if "svg" not in self.stack:
            self.words.append(data)


def write_pdf(
    path: str | Path, title: str, lead: str, sections: Sequence[Section], *, cautions: Sequence[str] = ()
) -> int:
    """Write sections as a PDF.

    Parameters
    ----------
    path : str or Path
        File to write; appears whole or not at all. Equal sections are equal bytes.
    title, lead : str
        Plain text.
    sections : sequence of Section
        In reading order. Drawings stand where the page has them, if they are among the section's own.
    cautions : sequence of str
        From `strikeoff.report.cautions.cautions`.

    Returns
    -------
    int
        Pages.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    layout = _Layout(title)
    layout.text(title, _HEAD + 6, weight="bold")
    layout.text(lead, _BODY + 1)
    for section in sections:
        reader = _Reader()
        reader.feed(section.html)
        drawings = {drawing.ident: drawing for drawing in section.drawings}
        first = drawings.get(reader.blocks[0].text) if reader.blocks else None
        labels = [LABELS[label][0] for label in section.labels]
        layout.heading(section.title, labels, 30.0 if first is None else _drawn_size_mm(first)[1])
        for block in reader.blocks:
            if block.kind == "drawing":
                if block.text in drawings:
                    layout.drawing(drawings[block.text])
            elif block.kind == "text":
                layout.text(block.text, _BODY)
            elif block.rows:
                layout.table([row for row in block.rows if row], heading=block.kind == "table")
    if cautions:
        layout.heading("Working safely", [], 30.0)
        for line in cautions:
            layout.text(f"• {line}", _BODY)
    metadata = {"Title": title, "Creator": "strikeoff", "Producer": None, "CreationDate": None}
    with atomic_path(path) as part, drawing_style(), PdfPages(part, metadata=metadata) as pdf:
        for number, page in enumerate(layout.pages, 1):
            pdf.savefig(_drawn(page, title, number, len(layout.pages)))
    return len(layout.pages)


@dataclass
class _Item:
    kind: str
    x_mm: float
    y_mm: float
    payload: Any
    style: dict[str, Any] = field(default_factory=dict)


class _Layout:
    """Puts blocks on pages from the top; y is measured downwards."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.pages: list[list[_Item]] = [[]]
        self.y_mm = _TOP_MM

    def room(self, height_mm: float) -> None:
        """Start a page where so much does not fit any more."""
        if self.y_mm + height_mm > _HEIGHT_MM - _BOTTOM_MM and self.pages[-1]:
            self.pages.append([])
            self.y_mm = _TOP_MM

    def heading(self, text: str, labels: list[str], below_mm: float) -> None:
        """Write a heading on a page that holds what comes right below it."""
        self.y_mm += 4.0
        self.room(below_mm + 12.0)
        self._line(text, _MARGIN_MM, _HEAD, weight="bold")
        if labels:
            style = {"color": MUTED, "ha": "right", "style": "italic"}
            self.pages[-1].append(
                _Item("text", _WIDTH_MM - _MARGIN_MM, self.y_mm, ", ".join(labels), {"size": _SMALL, **style})
            )
        self.y_mm += _HEAD * _MM_PER_POINT * _LEADING
        self.pages[-1].append(_Item("rule", _MARGIN_MM, self.y_mm, _TEXT_MM))
        self.y_mm += 2.5

    def text(self, text: str, size: float, **style: Any) -> None:
        height = size * _MM_PER_POINT * _LEADING
        for line in _wrapped(text, _TEXT_MM, size):
            self.room(height)
            self._line(line, _MARGIN_MM, size, **style)
            self.y_mm += height
        self.y_mm += 1.5

    def table(self, rows: list[list[str]], *, heading: bool) -> None:
        """Write a table; its heading stands on every page that it reaches."""
        widths = _column_widths(rows, _TEXT_MM)
        for number, row in enumerate(rows):
            page = len(self.pages)
            first = heading and number == 0
            self.room(self._row_height_mm(row, widths) + (12.0 if first else 1.0))
            if heading and not first and len(self.pages) > page:
                self._row(rows[0], widths, "bold")
            self._row(row, widths, "bold" if first else "normal")
        self.y_mm += 2.0

    def _row_height_mm(self, row: list[str], widths: list[float]) -> float:
        lines = max(len(_cell_lines(c, w)) for c, w in zip(row, widths, strict=False))
        return lines * _SMALL * _MM_PER_POINT * _LEADING

    def _row(self, row: list[str], widths: list[float], weight: str) -> None:
        x = _MARGIN_MM
        for cell, width in zip(row, widths, strict=False):
            for k, line in enumerate(_cell_lines(cell, width)):
                down = self.y_mm + k * _SMALL * _MM_PER_POINT * _LEADING
                self.pages[-1].append(_Item("text", x, down, line, {"size": _SMALL, "weight": weight}))
            x += width
        self.y_mm += self._row_height_mm(row, widths) + 0.6
        self.pages[-1].append(_Item("rule", _MARGIN_MM, self.y_mm, sum(widths)))
        self.y_mm += 0.6

    def drawing(self, drawing: Drawing) -> None:
        width, height = _drawn_size_mm(drawing)
        self.room(height)
        self.pages[-1].append(_Item("drawing", _MARGIN_MM, self.y_mm, drawing, {"w": width, "h": height}))
        self.y_mm += height + 2.0

    def _line(self, text: str, x_mm: float, size: float, **style: Any) -> None:
        self.pages[-1].append(_Item("text", x_mm, self.y_mm, text, {"size": size, **style}))


def _drawn_size_mm(drawing: Drawing) -> tuple[float, float]:
    width = min(_TEXT_MM, drawing.size[0] * 25.4)
    return width, width * drawing.size[1] / drawing.size[0]


def _wrapped(text: str, width_mm: float, size: float) -> list[str]:
    import textwrap

    letters = max(4, int(width_mm / (size * _MM_PER_POINT * _LETTER)))
    return textwrap.wrap(text, letters, break_on_hyphens=False) or [""]


def _cell_lines(cell: str, width_mm: float) -> list[str]:
    return _wrapped(cell, width_mm - 2.0, _SMALL)


def _column_widths(rows: list[list[str]], width_mm: float) -> list[float]:
    """Return widths that hold the longest cells, shrunk together where they would not fit."""
    count = max(len(row) for row in rows)
    letter = _SMALL * _MM_PER_POINT * _FIGURE
    wanted = [max(len(row[k]) if k < len(row) else 0 for row in rows) * letter + 3.0 for k in range(count)]
    if sum(wanted) <= width_mm:
        return wanted
    # Narrow columns keep their width; wide ones share what is left.
    fair = width_mm / count
    kept = sum(w for w in wanted if w <= fair)
    wide = sum(w for w in wanted if w > fair)
    return [w if w <= fair else w * (width_mm - kept) / wide for w in wanted]


def _drawn(items: list[_Item], title: str, number: int, count: int) -> Any:
    from matplotlib.figure import Figure
    from matplotlib.gridspec import GridSpec

    # Working out a layout draws the page twice; text needs none.
    layout: Literal["constrained"] | None = None
    if any(item.kind == "drawing" for item in items):
        layout = "constrained"
    page = Figure(figsize=(_WIDTH_MM / 25.4, _HEIGHT_MM / 25.4), layout=layout)
    for item in items:
        x, y = item.x_mm / _WIDTH_MM, 1.0 - item.y_mm / _HEIGHT_MM
        if item.kind == "text":
            style: dict[str, Any] = {"va": "top", "ha": "left", "color": INK, **item.style}
            page.text(x, y, item.payload, parse_math=False, **style)
        elif item.kind == "rule":
            from matplotlib.lines import Line2D

            page.add_artist(Line2D([x, x + item.payload / _WIDTH_MM], [y, y], color=LINE, lw=0.5))
        else:
            w, h = item.style["w"], item.style["h"]
            across = [item.x_mm, w, _WIDTH_MM - item.x_mm - w]
            along = [item.y_mm, h, _HEIGHT_MM - item.y_mm - h]
            grid = GridSpec(3, 3, figure=page, width_ratios=across, height_ratios=along)
            item.payload.draw(page.add_subfigure(grid[1, 1]))
    foot: dict[str, Any] = {"size": _SMALL, "color": MUTED}
    bottom = 1.0 - (_HEIGHT_MM - 9.0) / _HEIGHT_MM
    page.text(_MARGIN_MM / _WIDTH_MM, bottom, title, **foot)
    page.text(1.0 - _MARGIN_MM / _WIDTH_MM, bottom, f"page {number} of {count}", ha="right", **foot)
    return page
