"""Named colours beside their prints, and the tints of the prints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from strikeoff.report.figures import Drawing, svg_figure
from strikeoff.report.style import INK, MUTED

_ROW_IN, _WIDE_IN = 0.62, 9.0
_TARGET, _SOLID, _WEDGE = 3.0, 4.0, 5.2


@dataclass(frozen=True)
class SpotView:
    """One named colour; screen colours are ``#rrggbb``.

    Attributes
    ----------
    name : str
        Its name.
    target : str or None
        Colour asked for.
    printed : str
        Print at full tint.
    wedge : tuple of str
        Tints from bare cloth to the print.
    words : str
        What is said of it.
    """

    name: str
    target: str | None
    printed: str
    wedge: tuple[str, ...]
    words: str


def spots_picture(views: Sequence[SpotView], title: str, *, ident: str = "spots-drawing") -> Drawing:
    """Return a row for each colour: what was asked for, its print beside it, and the print's tints.

    Parameters
    ----------
    views : sequence of SpotView
        In order from the top.
    title : str
        Of the figure.
    ident : str
        See `svg_figure`.

    Returns
    -------
    Drawing
    """
    size = (_WIDE_IN, 0.5 + _ROW_IN * len(views))

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        axes.set(xlim=(0, _WIDE_IN), ylim=(len(views), -0.45))
        axes.axis("off")
        for x, text in ((_TARGET, "asked for"), (_SOLID, "print"), (_WEDGE, "tints of the print")):
            axes.text(x, -0.12, text, fontsize=9, color=MUTED)
        for row, view in enumerate(views):
            _row(axes, row, view)

    said = "; ".join(f"{view.name}: {view.words}" for view in views)
    return svg_figure(ident, title, f"{title}. {said}", size, draw)


def _row(axes: Any, row: int, view: SpotView) -> None:
    axes.text(0, row + 0.3, _short(view.name, 30), fontsize=11, color=INK, va="center")
    axes.text(0, row + 0.68, _short(view.words, 46), fontsize=8, color=MUTED, va="center")
    if view.target is not None:
        _patch(axes, _TARGET, row, _SOLID - _TARGET, view.target)
    _patch(axes, _SOLID, row, 1.0, view.printed)
    step = (_WIDE_IN - _WEDGE) / len(view.wedge)
    for place, colour in enumerate(view.wedge):
        _patch(axes, _WEDGE + place * step, row, step, colour)


def _patch(axes: Any, x: float, row: int, width: float, colour: str) -> None:
    from matplotlib.patches import Rectangle

    # The edge in the patch's own colour closes the seams that viewers leave between neighbours.
    axes.add_patch(Rectangle((x, row + 0.04), width, 0.9, facecolor=colour, edgecolor=colour, linewidth=0.4))


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"
