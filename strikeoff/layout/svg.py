"""Small pieces of SVG for drawings to scale; attributes only, so that they turn into PDF unchanged."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

from strikeoff.base.errors import UsageError
from strikeoff.base.files import write_bytes, write_text

DARK, CLOTH, WASTE, PIECE, MARK, ALARM = "#16233a", "#fdfcf8", "#ece6d8", "#b9d5ec", "#f6b26b", "#c0392b"

_FONT = "DejaVu Sans, Arial, sans-serif"
# Widths over the size of the type, on the generous side for the fonts above.
_WIDTHS = {
    **dict.fromkeys(" ijl.,:;'|!", 0.32),
    **dict.fromkeys("()[]frt-/", 0.41),
    **dict.fromkeys("0123456789", 0.64),
    **dict.fromkeys("mwMW%×…", 1.0),
}
_CAPITAL, _SMALL, _BOLD = 0.73, 0.62, 1.14
# Readers of PDF take pages of at most 14,400 points (ISO 32000-1:2008, annex C); a unit here may be one.
_LARGEST = 14_000.0
_NOTE, _NOTE_LINE = 25.0, 36.0


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


def fitting(text: str, size: float, room: float, *, bold: bool = False) -> float:
    """Return the size of type at which a text takes no more than some room, at most ``size``."""
    return min(size, room / max(0.1, text_width(text, 1.0, bold=bold)))


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return about how wide a line of text will be, rather too wide than too narrow.

    Examples
    --------
    >>> round(text_width("roll 12", 30), 1)
    98.1
    """
    widths = (_WIDTHS.get(c, _CAPITAL if c.isupper() else _SMALL) for c in text)
    return sum(widths) * size * (_BOLD if bold else 1.0)


def broken_text(text: str, size: float, room: float) -> list[str]:
    """Return a text in lines that take no more than some room, broken between words."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def notes(left: float, top: float, width: float, lines: Sequence[str]) -> tuple[tuple[str, ...], float]:
    """Return lines to heed below a drawing, broken to its width, beside a bar; and how high they are.

    Parameters
    ----------
    left, top, width : float
        Where they stand.
    lines : sequence of str
        What to heed; nothing is drawn without any.
    """
    broken = [part for line in lines for part in broken_text(line, _NOTE, width - 30)]
    if not broken:
        return (), 0.0
    high = len(broken) * _NOTE_LINE
    text = (words(left + 30, top + _NOTE_LINE * (k + 0.75), part, _NOTE) for k, part in enumerate(broken))
    return (segment(left + 6, top, left + 6, top + high, stroke=ALARM, line=10), *text), high


def leaf(x: float, y: float, size: float, flips: tuple[bool, bool]) -> str:
    """Return a leaf with a clear top and a bud at its right, so that offset, turns and mirrors are seen."""
    aside, up = (-size if flips[0] else size), (-size if flips[1] else size)
    return (
        f'<path class="motif" d="M{x:.1f},{y - up:.1f} q{aside:.1f},{up:.1f} 0,{1.6 * up:.1f} '
        f"q{-aside:.1f},{-0.6 * up:.1f} 0,{-1.6 * up:.1f} z "
        f"M{x - aside * 0.06:.1f},{y + up * 0.5:.1f} h{aside * 0.12:.1f} v{up * 0.5:.1f} "
        f"h{-aside * 0.12:.1f} z "
        f'M{x + aside * 0.3:.1f},{y + up:.1f} l{aside * 0.5:.1f},{-up * 0.5:.1f} v{up * 0.5:.1f} z" '
        'fill="#2b6ca3" fill-opacity="0.55"/>'
    )


def page(width: float, height: float, title: str, body: Iterable[str]) -> str:
    """Return an SVG document without scripts or outside references, no larger than a page of PDF can be."""
    shown = min(1.0, _LARGEST / max(width, height))
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
            f'width="{width * shown:g}" height="{height * shown:g}" role="img">',
            f"<title>{escape(title)}</title>",
            rectangle(0, 0, width, height, "#ffffff", stroke="none"),
            *body,
            "</svg>",
            "",
        ]
    )


def check_drawing_name(path: str | Path) -> None:
    """Raise the UsageError that `write_drawing` would: long work asks before it begins.

    Examples
    --------
    >>> check_drawing_name("roll.svg")
    """
    ending = Path(path).suffix.lower()
    if ending not in (".svg", ".pdf"):
        raise UsageError("unknown kind of drawing", found=Path(path).name, expected="a name in .svg or .pdf")
    if ending == ".pdf":
        try:
            import pymupdf  # noqa: F401
        except ImportError as error:
            raise UsageError(
                "PDF drawings need the extra 'pdf'", advice="Install it, or write .svg"
            ) from error


def write_drawing(path: str | Path, svg: str) -> None:
    """Write a drawing as SVG, or as PDF where the name ends in ``.pdf``.

    Raises
    ------
    UsageError
        For another ending, or a PDF without the extra ``pdf``.
    """
    check_drawing_name(path)
    if Path(path).suffix.lower() == ".svg":
        write_text(path, svg)
        return
    import pymupdf

    with pymupdf.open("svg", svg.encode()) as document:
        write_bytes(path, document.convert_to_pdf())


def first_out(x: float, top: float, bottom: float, size: float = 30) -> tuple[str, ...]:
    """Return an arrow at the left of a roll: its top leaves the press first; ``size`` is that of the type."""
    foot = max(top + 60, min(bottom, top + 300))
    return (
        segment(x, foot, x, top + 40, stroke=ALARM, line=12),
        f'<path d="M{x:.1f},{top:.1f} l30,50 h-60 z" fill="{ALARM}"/>',
        words(x, top - 20, "FEED", size, anchor="middle", bold=True),
    )
