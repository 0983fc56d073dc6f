"""Lines of inks in drawings: edged, marked and named, so that they are told apart without their colour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.report.style import INK

FloatArray = NDArray[np.float64]

#: Marks of inks in their order.
MARKS = "osD^vPX*<>hd"

_NAMES_ACROSS = 7
# Least distance between names at the ends of lines, as a share of the height, and on paper. [-], [points]
_APART, _APART_PT = 0.075, 11.0


def end_names(axes: Any, ends: Sequence[tuple[str, float]], *, start: float | None = None) -> None:
    """Write names beside the ends of lines, or before their start, moved apart where they would touch."""
    low, high = axes.get_ylim()
    tall = 72.0 * axes.bbox.height / axes.figure.dpi
    step = max(_APART, _APART_PT / tall) * (high - low)
    ranked = sorted(ends, key=lambda end: end[1])
    places = spread([value for _, value in ranked], step, low, high)
    at, coordinates = (1.0, ("axes fraction", "data")) if start is None else (start, "data")
    for (name, _), place in zip(ranked, places, strict=True):
        axes.annotate(
            name,
            (at, place),
            xycoords=coordinates,
            xytext=(6 if start is None else -6, 0),
            textcoords="offset points",
            ha="left" if start is None else "right",
            va="center",
            fontsize="small",
            annotation_clip=False,
        )


def spread(values: Sequence[float], step: float, low: float, high: float) -> list[float]:
    """Return rising values moved apart by at least a step, each as near to where it was as the others let it.

    Parameters
    ----------
    values : sequence of float
        From low to high.
    step : float
        Least distance between two.
    low, high : float
        Where they stay; if they do not all fit, the lowest pass below.

    Returns
    -------
    list of float

    Notes
    -----
    Least squares under an order, by pooling neighbours that violate it (M. Ayer and others, 1955, from
    memory).

    Examples
    --------
    >>> spread([4.0, 5.0, 6.0, 20.0], 3.0, 0.0, 30.0)
    [2.0, 5.0, 8.0, 20.0]
    """
    pools: list[tuple[float, int]] = []
    for k, value in enumerate(values):
        mean, count = value - k * step, 1
        while pools and pools[-1][0] > mean:
            before, size = pools.pop()
            mean, count = (before * size + mean * count) / (size + count), size + count
        pools.append((mean, count))
    level = [mean for mean, count in pools for _ in range(count)]
    most = high - (len(level) - 1) * step
    return [min(max(value, low), most) + k * step for k, value in enumerate(level)]


def legend_below(figure: Any, samples: Sequence[Any], words: Sequence[str]) -> None:
    """Write a legend below the panels, in rows of like length."""
    across = -(-len(words) // -(-len(words) // _NAMES_ACROSS))
    figure.legend(samples, words, loc="outside lower center", ncols=across, frameon=False)


def marks(axes: Any, x: FloatArray, y: FloatArray, colour: str, mark: str) -> Any:
    """Draw marks that tell inks apart for eyes that colours do not."""
    style = {"color": colour, "mec": INK, "mew": 0.7, "ms": 5, "ls": "none", "zorder": 3}
    return axes.plot(x, y, mark, clip_on=False, **style)[0]


def ink_line(axes: Any, x: FloatArray, y: FloatArray, colour: str, name: str, *, style: str = "-") -> Any:
    """Draw in the ink's own colour, edged so that yellow and white stand out from the page."""
    from matplotlib.patheffects import Normal, Stroke

    light = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) @ [0.2126, 0.7152, 0.0722] > 150
    effects = [Stroke(linewidth=4.0, foreground=INK), Normal()] if light else [Normal()]
    return axes.plot(x, y, style, color=colour, lw=2.4, label=name, path_effects=effects, clip_on=True)[0]
