"""Colours and their prints side by side under several lights, and how far they are apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.report.figures import Drawing, svg_figure
from strikeoff.report.style import ACCENT, INK, MUTED, SECOND, UNDECIDED

FloatArray = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]

_ROW_IN, _COLUMN_IN, _NAMES_IN, _HEAD_IN, _CHART_IN = 0.42, 0.86, 1.25, 0.95, 2.1
_GAP = 0.06
# Below this nobody sees a bar, and there is nothing to explain. [CIEDE2000]
_LEAST_BAR = 0.01
# Where dark and white figures stand out alike: (Y + 0.05)^2 = 1.05 (0.05 + Y of dark type), WCAG 2.1.
_EVEN_LUMINANCE = 0.215


@dataclass(frozen=True)
class LightsView:
    """What is drawn: ``n`` colours under ``m`` lights, the reference first.

    Attributes
    ----------
    names : tuple of str
        Of the colours.
    lights : tuple of str
        Of the lights.
    printed : ndarray of uint8, shape (n, m, 3)
        Screen colours of the print, for an eye that is adapted to each light.
    wanted : ndarray of uint8, shape (n, m, 3), or None
        The same of the colour that it is compared with.
    figures : ndarray, shape (n, m)
        Number under each patch.
    what : str
        What the numbers are.
    unsure : ndarray of bool, shape (n,)
        Colours for which no number means anything under another light; none are drawn there.
    means, worst : ndarray, shape (m,)
        Of all colours under each light; not a number where all are undecided.
    """

    names: tuple[str, ...]
    lights: tuple[str, ...]
    printed: Bytes
    wanted: Bytes | None
    figures: FloatArray
    what: str
    unsure: Mask
    means: FloatArray
    worst: FloatArray


def lights_picture(view: LightsView, title: str, *, label: str, ident: str = "lights-drawing") -> Drawing:
    """Return patches under each light with their numbers, and a bar per light.

    Parameters
    ----------
    view : LightsView
        What is drawn.
    title : str
        Of the figure.
    label : str
        What the figures rest on.
    ident : str
        See `svg_figure`.

    Returns
    -------
    Drawing

    Raises
    ------
    UsageError
        When names, lights and patches disagree.
    """
    rows, columns = len(view.names), len(view.lights)
    if view.printed.shape != (rows, columns, 3) or view.figures.shape != (rows, columns):
        raise UsageError("colours, lights and patches disagree", found=view.printed.shape)
    height = _HEAD_IN + rows * _ROW_IN
    size = (_NAMES_IN + columns * _COLUMN_IN + 0.3, height + _CHART_IN)
    halves = "left the colour, right its print" if view.wanted is not None else "the print"
    text = f"{title}. {rows} colours under {columns} lights: {halves}; numbers are {view.what}."

    def draw(figure: Any) -> None:
        upper, lower = figure.subfigures(2, 1, height_ratios=(height, _CHART_IN))
        upper.suptitle(f"{title}\n{label}", x=0.01, ha="left", fontsize=11, fontweight="bold")
        _patches(upper.subplots(), view, halves)
        _bars(lower.subplots(), view)

    return svg_figure(ident, title, text, size, draw)


def _patches(axes: Any, view: LightsView, halves: str) -> None:
    rows, columns = len(view.names), len(view.lights)
    axes.set(xlim=(0, columns), ylim=(rows, 0), xticks=np.arange(columns) + 0.5, yticks=np.arange(rows) + 0.5)
    axes.set_xticklabels(view.lights)
    axes.set_yticklabels(view.names)
    axes.xaxis.tick_top()
    axes.tick_params(length=0, labelsize=9)
    axes.grid(False)
    for side in axes.spines.values():
        side.set_visible(False)
    doubt = "\n?: undecided, nobody knows how it looks there" if view.unsure.any() else ""
    axes.set_xlabel(f"{halves}; numbers: {view.what}{doubt}", loc="left", color=MUTED, fontsize=9)
    axes.xaxis.set_label_position("bottom")
    wide, high = 1 - 2 * _GAP, 1 - 4 * _GAP
    for row in range(rows):
        for column in range(columns):
            parts = [view.printed] if view.wanted is None else [view.wanted, view.printed]
            place = (column + 0.5, row + 0.5)
            if view.unsure[row] and column > 0:
                # Any colour here would be taken for how it looks.
                axes.text(*place, "?", ha="center", va="center", fontsize=10, color=UNDECIDED)
                continue
            for k, part in enumerate(parts):
                colour = "#" + bytes(part[row, column]).hex()
                share = wide / len(parts)
                at = (column + _GAP + k * share, row + 2 * _GAP)
                axes.add_patch(_rectangle(at, share, high, colour))
            bright = _luminance(view.printed[row, column]) > _EVEN_LUMINANCE
            words = f"{view.figures[row, column]:.1f}"
            axes.text(*place, words, ha="center", va="center", fontsize=8, color=INK if bright else "#ffffff")


def _luminance(rgb: Bytes) -> float:
    """Return relative luminance, 0-1, of a screen colour (IEC 61966-2-1:1999)."""
    share = rgb / 255.0
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def _rectangle(at: tuple[float, float], width: float, height: float, colour: str) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle(at, width, height, facecolor=colour, edgecolor="none")


def _bars(axes: Any, view: LightsView) -> None:
    """Draw mean and worst of each light; where nothing is known a question mark stands in their place."""
    place = np.arange(len(view.lights)) + 0.5
    known = np.isfinite(view.means)
    axes.bar(place[known] - 0.18, view.means[known], 0.34, color=ACCENT, label="mean")
    axes.bar(place[known] + 0.18, view.worst[known], 0.34, color=SECOND, label="worst")
    for x in place[~known]:
        axes.text(x, 0, "?", ha="center", va="bottom", color=UNDECIDED, fontsize=12)
    axes.set(xlim=(0, len(view.lights)), xticks=place, ylabel=view.what)
    axes.set_xticklabels(view.lights, fontsize=9)
    tallest = float(np.nanmax(view.worst, initial=0.0))
    axes.set_ylim(0, max(1.0, 1.35 * tallest))
    axes.grid(False, axis="x")
    if tallest > _LEAST_BAR:
        axes.legend(loc="upper left", fontsize=9, ncols=2)
