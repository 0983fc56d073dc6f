"""The same sections on paper: a PDF of A4 pages, text and drawings as vectors."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Literal

from strikeoff.base.files import atomic_path
from strikeoff.report.figures import drawing_style
from strikeoff.report.page import Section
from strikeoff.report.paper_boxes import BoxMaker, section_boxes
from strikeoff.report.paper_pages import Item, fill_pages
from strikeoff.report.paper_reader import read_blocks
from strikeoff.report.paper_type import BODY, HEAD, SMALL
from strikeoff.report.style import INK, LABELS, LINE, MUTED

_WIDTH_MM, _HEIGHT_MM = 210.0, 297.0
_MARGIN_MM = 18.0
_TOP_MM, _BOTTOM_MM = 16.0, 18.0
#: Type in drawings, so that they read like the text beside them. [points]
_DRAWN = 8.5


def write_pdf(
    path: str | Path,
    title: str,
    lead: str,
    sections: Sequence[Section],
    *,
    cautions: Sequence[str] = (),
    mark: str = "",
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
    mark : str
        Stands at the foot of every page, so that a single sheet says where it belongs.

    Returns
    -------
    int
        Pages.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    maker = BoxMaker(_MARGIN_MM, _WIDTH_MM - 2 * _MARGIN_MM)
    boxes = [
        maker.text(title, HEAD + 6, bold=True, holds_next=True),
        maker.text(lead, BODY + 1, holds_next=True),
    ]
    for section in sections:
        drawings = {drawing.ident: drawing for drawing in section.drawings}
        boxes.append(maker.heading(section.title, [LABELS[label][0] for label in section.labels]))
        boxes += section_boxes(maker, read_blocks(section.html), drawings)
    if cautions:
        boxes.append(maker.heading("Working safely", []))
        boxes += [maker.point(line, holds_next=line != cautions[-1]) for line in cautions]
    pages = fill_pages(boxes, _TOP_MM, _HEIGHT_MM - _TOP_MM - _BOTTOM_MM)
    metadata = {"Title": title, "Creator": "strikeoff", "Producer": None, "CreationDate": None}
    foot = f"{title}   {mark}".strip()
    with atomic_path(path) as part, drawing_style(_DRAWN), PdfPages(part, metadata=metadata) as pdf:
        for number, page in enumerate(pages, 1):
            pdf.savefig(_drawn(page, foot, f"page {number} of {len(pages)}"))
    return len(pages)


def _drawn(items: Sequence[Item], foot: str, count: str) -> Any:
    from matplotlib.figure import Figure
    from matplotlib.gridspec import GridSpec
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle

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
            ruled = {"color": LINE, "lw": 0.5, **item.style}
            page.add_artist(Line2D([x, x + item.payload / _WIDTH_MM], [y, y], **ruled))
        elif item.kind == "chip":
            side = item.style["w"]
            size = (side / _WIDTH_MM, side / _HEIGHT_MM)
            page.add_artist(
                Rectangle((x, y - size[1]), *size, facecolor=item.payload, edgecolor=INK, linewidth=0.4)
            )
        else:
            w, h = item.style["w"], item.style["h"]
            across = [item.x_mm, w, _WIDTH_MM - item.x_mm - w]
            along = [item.y_mm, h, _HEIGHT_MM - item.y_mm - h]
            grid = GridSpec(3, 3, figure=page, width_ratios=across, height_ratios=along)
            item.payload.draw(page.add_subfigure(grid[1, 1]))
    style = {"size": SMALL - 1, "color": MUTED}
    bottom = 9.0 / _HEIGHT_MM
    page.text(_MARGIN_MM / _WIDTH_MM, bottom, foot, parse_math=False, **style)
    page.text(1.0 - _MARGIN_MM / _WIDTH_MM, bottom, count, ha="right", **style)
    return page
