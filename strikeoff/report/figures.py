"""From a matplotlib figure to SVG that can stand inside a page, the same bytes every time."""

from __future__ import annotations

import io
import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import escape
from typing import Any

from strikeoff.base.errors import UsageError
from strikeoff.report.style import FONTS, GRID, INK, LINE, MUTED, PAPER

_SETTINGS: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "strikeoff",
    "font.family": ["DejaVu Sans"],
    "font.size": 11.0,
    "text.color": INK,
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "axes.titlecolor": INK,
    "axes.titlesize": 12.0,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": GRID,
    "grid.linewidth": 1.0,
    "xtick.color": MUTED,
    "ytick.color": MUTED,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "legend.frameon": True,
    "legend.framealpha": 0.9,
    "legend.edgecolor": LINE,
    "legend.fancybox": False,
    "figure.facecolor": PAPER,
    "axes.facecolor": PAPER,
}
# Settings of matplotlib are one dictionary per process.
_LOCK = threading.Lock()
# Screen pixels a point.
_MAGNIFIED = 1.42
_IDENT = re.compile(r"[a-z][a-z0-9-]*")


class Drawing(str):
    """SVG text that remembers how it was drawn, so that it can stand on paper too.

    Attributes
    ----------
    ident : str
        Its id on the page.
    size : tuple of float
        Width and height. [inches]
    draw : callable
        Draws it into a ``matplotlib.figure.Figure`` or ``SubFigure``.
    """

    ident: str
    size: tuple[float, float]
    draw: Callable[[Any], None]

    def __new__(cls, svg: str, ident: str, size: tuple[float, float], draw: Callable[[Any], None]) -> Drawing:
        """Return the text with its drawing."""
        drawing = super().__new__(cls, svg)
        drawing.ident, drawing.size, drawing.draw = ident, size, draw
        return drawing


@contextmanager
def drawing_style(size: float | None = None) -> Iterator[None]:
    """Hold matplotlib's process-wide settings at those of our drawings, in type of a size in points."""
    import matplotlib

    smaller = {} if size is None else {"font.size": size, "axes.titlesize": size + 1.0}
    with _LOCK, matplotlib.rc_context(_SETTINGS | smaller):
        yield


def svg_figure(
    ident: str, title: str, description: str, size: tuple[float, float], draw: Callable[[Any], None]
) -> Drawing:
    """Draw a figure and return it as an SVG element.

    Parameters
    ----------
    ident : str
        Unique on the page; all ids inside start with it. Lower-case letters, digits, hyphens.
    title, description : str
        For people who hear the page.
    size : tuple of float
        Width and height [inches at 72 units].
    draw : callable
        Gets a ``matplotlib.figure.Figure``.

    Returns
    -------
    Drawing
        ``<svg>`` without prolog, date or outside references.

    Raises
    ------
    UsageError
        An ident that is not one.
    """
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    if not _IDENT.fullmatch(ident):
        raise UsageError("bad figure id", found=ident, expected="lower-case letters, digits and hyphens")
    buffer = io.StringIO()
    with drawing_style():
        figure = Figure(figsize=size, layout="constrained")
        FigureCanvasSVG(figure)
        draw(figure)
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    return Drawing(_embeddable(buffer.getvalue(), ident, title, description), ident, size, draw)


def svg_open(ident: str, title: str, description: str, view_box: str, extra: str = "") -> str:
    """Return the opening of an SVG element with its title and description."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" id="{ident}" class="figure" viewBox="{view_box}" '
        f'role="img" aria-labelledby="{ident}-title {ident}-desc"{extra}>'
        f'<title id="{ident}-title">{escape(title)}</title>'
        f'<desc id="{ident}-desc">{escape(description)}</desc>'
    )


def _embeddable(svg: str, ident: str, title: str, description: str) -> str:
    box = re.search(r'viewBox="([^"]+)"', svg)
    if box is None:
        raise AssertionError("matplotlib wrote an SVG without a view box")
    body = svg[svg.index(">", svg.index("<svg")) + 1 :]
    body = re.sub(r"\s*<metadata>.*?</metadata>", "", body, flags=re.S)
    # A bare style of the figure would reach every drawing of the page.
    body = re.sub(r'<style type="text/css">\*', f'<style type="text/css">#{ident} *', body)
    names: dict[str, str] = {}

    def rename(match: re.Match[str]) -> str:
        return f"{match[1]}{names.setdefault(match[2], f'{ident}-{len(names)}')}{match[3]}"

    body = re.sub(r'(\bid=")([^"]+)(")', rename, body)
    body = re.sub(r'(xlink:href="#|url\(#|href="#)([^")]+)("|\))', rename, body)
    body = body.replace("'DejaVu Sans'", FONTS)
    # Type of one size on the page, however wide the figure.
    width = float(box[1].split()[2]) * _MAGNIFIED
    extra = f' xmlns:xlink="http://www.w3.org/1999/xlink" style="max-width:{width:.0f}px"'
    return svg_open(ident, title, description, box[1], extra) + body.strip()
