"""Plots of ramps: where an ink has enough, and what its tone curve does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import fill
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.report.figures import svg_figure
from strikeoff.report.style import INK, MUTED, PAPER

FloatArray = NDArray[np.float64]

_LIMIT = "#a61b1b"


@dataclass(frozen=True)
class RampPlot:
    """A ramp of one ink.

    Attributes
    ----------
    name, colour : str
        Ink and its own colour on the screen.
    amount : ndarray, shape (n,)
        Ink, 0-1. [-]
    value : ndarray, shape (n,)
        What is drawn over it, 0-1. [-]
    limit : float
        Where the ink ends, 0-1. [-]
    note : str
        Shown beside the name.
    points : tuple of ndarray, optional
        Steps as read: amount, value.
    """

    name: str
    colour: str
    amount: FloatArray
    value: FloatArray
    limit: float
    note: str = ""
    points: tuple[FloatArray, FloatArray] | None = None


def ramp_panels(
    plots: Sequence[RampPlot],
    title: str,
    *,
    value_label: str,
    threshold: float | None = None,
    label: str,
    across: str = "ink [%]",
    ident: str = "ramps-drawing",
) -> str:
    """Return a panel for each ink with its curve, its steps and its limit.

    Parameters
    ----------
    plots : sequence of RampPlot
        One per ink.
    title : str
        Of the figure.
    value_label : str
        Of the vertical axis; values are shown in percent.
    threshold : float, optional
        Level that decides, 0-1. [-]
    label : str
        What the figures rest on.
    across : str
        Of the horizontal axis.
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    columns = min(4, len(plots))
    rows = -(-len(plots) // columns)

    def draw(figure: Any) -> None:
        grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True).ravel()
        for axes, plot in zip(grid, plots, strict=False):
            axes.plot(100 * plot.amount, 100 * plot.value, color=INK, lw=3.6)
            axes.plot(100 * plot.amount, 100 * plot.value, color=plot.colour, lw=2.2)
            if plot.points is not None:
                axes.plot(100 * plot.points[0], 100 * plot.points[1], "o", color=INK, ms=3.5)
            if threshold is not None:
                axes.axhline(100 * threshold, color=MUTED, lw=1, ls=(0, (4, 3)))
            axes.axvline(100 * plot.limit, color=_LIMIT, lw=1.5, ls=(0, (5, 3)))
            axes.set_title(f"{plot.name}  {round(100 * plot.limit, 1):g} %")
            # In the corner that the curve leaves free, and over the lines.
            rises = plot.value[-1] > plot.value[0]
            low = rises and _fills_upper_left(plot)
            axes.annotate(
                fill(plot.note, 28),
                (0.04 if rises and not low else 0.97, 0.06 if low else 0.96),
                xycoords="axes fraction",
                va="bottom" if low else "top",
                ha="left" if rises and not low else "right",
                fontsize=8.5,
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.5},
            )
        for axes in grid[len(plots) :]:
            axes.set_visible(False)
        grid[0].set_ylim(bottom=0)
        figure.suptitle(f"{title} ({label})", fontsize=11, x=0.01, ha="left")
        for axes in grid[: len(plots) : columns]:
            axes.set_ylabel(value_label)
        for axes in grid[max(0, len(plots) - columns) : len(plots)]:
            axes.set_xlabel(across)
        for axes in grid[: len(plots)]:
            axes.tick_params(labelbottom=True)

    words = "; ".join(f"{plot.name} ends at {round(100 * plot.limit, 1):g} %" for plot in plots)
    return svg_figure(ident, f"{title} ({label})", words, (3.2 * columns, 2.9 * rows), draw)


def _fills_upper_left(plot: RampPlot) -> bool:
    """Say whether a rising curve is high so early that a note in the upper left would lie on it."""
    ends = plot.amount[[0, -1]]
    middle = float(np.interp(ends.mean(), plot.amount, plot.value))
    return middle > 0.5 * float(plot.value[0] + plot.value[-1])
