"""Small pieces of SVG for drawings to scale; attributes only, so that they turn into PDF unchanged."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from pathlib import Path

from strikeoff.base.errors import UsageError
from strikeoff.base.files import write_bytes, write_text

DARK, CLOTH, WASTE, PIECE, MARK, ALARM = "#16233a", "#fdfcf8", "#ece6d8", "#b9d5ec", "#f6b26b", "#c0392b"

_FONT = "DejaVu Sans, Arial, sans-serif"


def rectangle(
    x: float,
    y: float,
    width: float,
    height: float,
    fill: str = "none",
    *,
    stroke: str = DARK,
    line: float = 2,
    kind: str = "",
) -> str:
    """Return a rectangle; ``kind`` becomes its class, by which a program finds it."""
    named = f' class="{kind}"' if kind else ""
    return (
        f'<rect{named} x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}" fill="{fill}" '
        f'stroke="{stroke}" stroke-width="{line:g}"/>'
    )


def segment(x1: float, y1: float, x2: float, y2: float, *, stroke: str = DARK, line: float = 2) -> str:
    """Return a straight line."""
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" '
        f'stroke="{stroke}" stroke-width="{line:g}"/>'
    )


def circle(x: float, y: float, radius: float, fill: str, kind: str = "") -> str:
    """Return a filled circle."""
    named = f' class="{kind}"' if kind else ""
    return f'<circle{named} cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="{fill}"/>'


def words(
    x: float,
    y: float,
    text: str,
    size: float,
    *,
    anchor: str = "start",
    bold: bool = False,
    fill: str = DARK,
) -> str:
    """Return a line of text."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family="{_FONT}" font-size="{size:.1f}" '
        f'text-anchor="{anchor}" fill="{fill}"{weight}>{escape(text)}</text>'
    )


def page(width: float, height: float, title: str, body: Iterable[str]) -> str:
    """Return an SVG document without scripts or outside references."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
            f'width="{width:g}" height="{height:g}" role="img">',
            f"<title>{escape(title)}</title>",
            rectangle(0, 0, width, height, "#ffffff", stroke="none"),
            *body,
            "</svg>",
            "",
        ]
    )


def write_drawing(path: str | Path, svg: str) -> None:
    """Write a drawing as SVG, or as PDF where the name ends in ``.pdf``.

    Raises
    ------
    UsageError
        For another ending, or a PDF without the extra ``pdf``.
    """
    ending = Path(path).suffix.lower()
    if ending == ".svg":
        write_text(path, svg)
    elif ending == ".pdf":
        try:
            import pymupdf
        except ImportError as error:
            raise UsageError(
                "PDF drawings need the extra 'pdf'", advice="Install it, or write .svg"
            ) from error
        with pymupdf.open("svg", svg.encode()) as document:
            write_bytes(path, document.convert_to_pdf())
    else:
        raise UsageError("unknown kind of drawing", found=Path(path).name, expected="a name in .svg or .pdf")


def first_out(x: float, top: float, bottom: float) -> tuple[str, ...]:
    """Return an arrow at the left of a roll: its top leaves the press first."""
    foot = max(top + 60, min(bottom, top + 300))
    return (
        segment(x, foot, x, top + 40, stroke=ALARM, line=12),
        f'<path d="M{x:.1f},{top:.1f} l30,50 h-60 z" fill="{ALARM}"/>',
        words(x, top - 20, "FEED", 30, anchor="middle", bold=True),
    )
