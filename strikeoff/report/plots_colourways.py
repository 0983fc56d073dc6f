"""Colourways side by side on the white of the cloth: the design, and its colours as wished and as printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.files import atomic_path
from strikeoff.report.figures import Drawing, drawing_style, svg_figure
from strikeoff.report.style import INK, LINE, MUTED

#: Colourways beside each other.
ACROSS = 2
_WIDE_IN, _GAP_IN, _HEAD_IN, _ROW_IN = 3.3, 0.2, 0.62, 0.27
_MARGIN_IN = 0.14
# More swatches than this stand in two columns, without their numbers.
_ONE_COLUMN = 18
_PNG_DPI = 150


@dataclass(frozen=True)
class SwatchView:
    """One colour of a colourway; screen colours are ``#rrggbb``.

    Attributes
    ----------
    name : str
        Its name in the palette.
    wished : str or None
        As it shall be; None for a recipe.
    printed : str
        As it is predicted.
    figures, words : str
        Its numbers; what is said of it.
    """

    name: str
    wished: str | None
    printed: str
    figures: str
    words: str


@dataclass(frozen=True)
class ColourwayView:
    """One colourway.

    Attributes
    ----------
    name : str
        Its name.
    picture : ndarray of uint8, shape (rows, columns, 3)
        The design as predicted, sRGB.
    swatches : tuple of SwatchView
        Its colours.
    words : str
        What is said of the whole.
    """

    name: str
    picture: NDArray[np.uint8]
    swatches: tuple[SwatchView, ...]
    words: str


def colourway_drawings(
    views: Sequence[ColourwayView], cloth: str, *, ident: str = "colourways-drawing"
) -> list[Drawing]:
    """Return drawings of two colourways each, as wide as paper.

    Parameters
    ----------
    views : sequence of ColourwayView
        In order.
    cloth : str
        Screen colour of the bare cloth.
    ident : str
        Start of their ids; see `svg_figure`.
    """
    return [
        _drawing(views[at : at + ACROSS], cloth, f"{ident}-{at // ACROSS + 1}")
        for at in range(0, len(views), ACROSS)
    ]


def write_drawings_png(path: str | Path, drawings: Sequence[Drawing]) -> None:
    """Write drawings below each other as one PNG, whole or not at all."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    wide = max(drawing.size[0] for drawing in drawings)
    heights = [drawing.size[1] for drawing in drawings]
    with atomic_path(path) as part, drawing_style():
        figure = Figure(figsize=(wide, sum(heights)), layout="constrained")
        FigureCanvasAgg(figure)
        pieces = figure.subfigures(len(drawings), 1, height_ratios=heights, squeeze=False)
        for piece, drawing in zip(pieces[:, 0], drawings, strict=True):
            drawing.draw(piece)
        figure.savefig(part, format="png", dpi=_PNG_DPI, metadata={"Software": None})


def _drawing(views: Sequence[ColourwayView], cloth: str, ident: str) -> Drawing:
    rows, columns = views[0].picture.shape[:2]
    inner = _WIDE_IN - 2 * _MARGIN_IN
    # A tall design is shown narrower, so that the page stays whole.
    high = min(inner * rows / columns, 1.25 * inner)
    most = max(len(view.swatches) for view in views)
    lines = most if most <= _ONE_COLUMN else -(-most // 2)
    panel = _HEAD_IN + high + 2 * _MARGIN_IN + lines * _ROW_IN
    size = (ACROSS * _WIDE_IN + (ACROSS - 1) * _GAP_IN, panel)

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        for k, view in enumerate(views):
            _panel(axes, view, cloth, k * (_WIDE_IN + _GAP_IN), high, panel)
        axes.set(xlim=(0, size[0]), ylim=(size[1], 0), aspect="auto")
        axes.axis("off")

    said = "; ".join(f"{view.name}: {view.words}" for view in views)
    return svg_figure(ident, "Colourways", f"Predicted on the cloth. {said}", size, draw)


def _panel(axes: Any, view: ColourwayView, cloth: str, left: float, high: float, tall: float) -> None:
    rows, columns = view.picture.shape[:2]
    axes.text(left, 0.2, _short(view.name, 34), fontsize=12, color=INK, va="center", weight="bold")
    axes.text(left, 0.44, _short(view.words, 62), fontsize=7.5, color=MUTED, va="center")
    _patch(axes, left, _HEAD_IN, _WIDE_IN, tall - _HEAD_IN, cloth)
    wide = high * columns / rows
    x, y = left + (_WIDE_IN - wide) / 2, _HEAD_IN + _MARGIN_IN
    axes.imshow(
        view.picture, extent=(x, x + wide, y + high, y), aspect="auto", interpolation="nearest", zorder=2
    )
    y += high + 0.5 * _MARGIN_IN
    columns = 1 if len(view.swatches) <= _ONE_COLUMN else 2
    step = (_WIDE_IN - _MARGIN_IN) / columns
    for k, swatch in enumerate(view.swatches):
        line, column = divmod(k, columns)
        _row(axes, swatch, left + _MARGIN_IN + column * step, y + line * _ROW_IN, columns)


def _row(axes: Any, view: SwatchView, x: float, y: float, columns: int) -> None:
    halves = [view.printed] if view.wished is None else [view.wished, view.printed]
    for k, colour in enumerate(halves):
        _patch(axes, x + k * 0.5 / len(halves), y + 0.02, 0.5 / len(halves), _ROW_IN - 0.05, colour)
    # A swatch of the cloth's own white needs an outline to be seen.
    axes.plot(*_box(x, y + 0.02, 0.5, _ROW_IN - 0.05), color=LINE, linewidth=0.5)
    axes.text(
        x + 0.58, y + 0.075, _short(view.name, 24 if columns == 1 else 14), fontsize=7, color=INK, va="center"
    )
    if columns == 1:
        edge = x + _WIDE_IN - 2 * _MARGIN_IN
        axes.text(edge, y + 0.075, view.figures, fontsize=6.5, color=INK, va="center", ha="right")
    axes.text(
        x + 0.58,
        y + 0.19,
        _short(view.words, 58 if columns == 1 else 17),
        fontsize=6,
        color=MUTED,
        va="center",
    )


def _box(x: float, y: float, wide: float, high: float) -> tuple[list[float], list[float]]:
    return [x, x + wide, x + wide, x, x], [y, y, y + high, y + high, y]


def _patch(axes: Any, x: float, y: float, wide: float, high: float, colour: str) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((x, y), wide, high, facecolor=colour, edgecolor=colour, linewidth=0.3))


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"
