"""Preview of pages as a PDF of vectors; its colours are approximate.

References
----------
PDF 1.4: ISO 32000-1:2008, clauses 8.5 (paths), 9.6.2.2 (standard fonts).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.files import write_bytes
from strikeoff.base.units import MM_PER_INCH
from strikeoff.chart.drawing import CAP_HEIGHT, Page, Rect, Text, letters
from strikeoff.report.pdf_file import pdf_bytes, stream_object

_POINTS = 72.0 / MM_PER_INCH
#: Largest side of a page in points that readers must take (ISO 32000-1, annex C.2).
_LARGEST = 14_400.0
# Place and size of the line at the foot, and about the width of a letter over the size.
_FOOT_MM, _FOOT_TEXT_MM, _LETTER = 3.0, 2.5, 0.52

#: Ink amounts, shape (n, n_inks), to red, green and blue, 0-1, shape (n, 3).
Colours = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def write_pdf(path: str | Path, pages: Sequence[Page], colours: Colours, words: str = "") -> None:
    """Write a preview; the file appears whole or not at all.

    Pages above 5.08 m are scaled down to what readers take.

    Parameters
    ----------
    path : str or Path
        File to write.
    pages : sequence of Page
        In order.
    colours : callable
        Ink amounts to screen colours.
    words : str
        What they are worth, ASCII: a line at the foot of each page, which is not printed.
    """
    objects: list[bytes] = [b"<< /Type /Catalog /Pages 2 0 R >>", b"", _FONT]
    kids = []
    for page in pages:
        scale = min(1.0, _LARGEST / (max(page.width_mm, page.height_mm) * _POINTS))
        content = _content(page, colours, scale * _POINTS)
        if words:
            content += b"\n" + _foot(page, words, scale * _POINTS)
        width, height = (v * _POINTS * scale for v in (page.width_mm, page.height_mm))
        objects.append(stream_object(content))
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {width:.2f} {height:.2f}] "
            f"/Contents {len(objects)} 0 R /Resources << /Font << /F 3 0 R >> >> >>".encode("ascii")
        )
        kids.append(f"{len(objects)} 0 R")
    objects[1] = f"<< /Type /Pages /Kids [{' '.join(kids)}] /Count {len(kids)} >>".encode("ascii")
    write_bytes(path, pdf_bytes(objects, version=b"1.4", trailer=b"trailer << /Size %d /Root 1 0 R >>"))


_FONT = b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>"


def _content(page: Page, colours: Colours, unit: float) -> bytes:
    """Return the drawing operators of a page; y points upwards in PDF."""
    amounts = np.array([item.inks for item in page.items]).reshape(-1, len(page.ink_names))
    distinct, where = np.unique(amounts, axis=0, return_inverse=True)
    fills = colours(distinct) if len(distinct) else np.zeros((0, 3))
    lines, last = [], -1
    for item, colour in zip(page.items, where.reshape(-1), strict=True):
        if colour != last:
            lines.append("{:.4g} {:.4g} {:.4g} rg".format(*np.clip(fills[colour], 0.0, 1.0)))
            last = int(colour)
        if isinstance(item, Rect):
            bottom = page.height_mm - item.y_mm - item.height_mm
            box = (item.x_mm, bottom, item.width_mm, item.height_mm)
            lines.append(" ".join(f"{v * unit:.3f}" for v in box) + " re f")
        else:
            lines.append(_text(item, page.height_mm, unit))
    return "\n".join(lines).encode("ascii")


def _foot(page: Page, words: str, unit: float) -> bytes:
    room = page.width_mm - 2.0 * _FOOT_MM
    size = min(_FOOT_TEXT_MM, room / (_LETTER * len(words)))
    line = Text(_FOOT_MM, page.height_mm - _FOOT_MM, size, letters(words), ())
    return ("0 0 0 rg\n" + _text(line, page.height_mm, unit)).encode("ascii")


def _text(item: Text, height_mm: float, unit: float) -> str:
    x = item.x_mm - (0.25 * item.size_mm * len(item.text) if item.centred else 0.0)
    y = height_mm - item.y_mm - 0.5 * CAP_HEIGHT * item.size_mm
    escaped = item.text.replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")
    return f"BT /F {item.size_mm * unit:.3f} Tf {x * unit:.3f} {y * unit:.3f} Td ({escaped}) Tj ET"
