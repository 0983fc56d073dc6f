"""Gamuts side by side: from above, cuts at a lightness, cuts through the grey axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.report.figures import svg_figure
from strikeoff.report.style import ACCENT, INK, MUTED, SECOND

FloatArray = NDArray[np.float64]

_COLOURS = (INK, SECOND)
_ACROSS = 3
_NAMED_CUTS = {90.0: "Blue - yellow", 0.0: "Green - red"}


@dataclass(frozen=True)
class GamutOutline:
    """A gamut to be drawn.

    Attributes
    ----------
    name : str
        What it is called.
    mesh : ndarray, shape (levels, hues, 3)
        Surface in Lab, rings from dark to light.
    cuts : sequence of ndarray, shape (hues, 2)
        a* and b* round the body at each L* that is drawn.
    """

    name: str
    mesh: FloatArray
    cuts: Sequence[FloatArray]


def gamut_comparison(
    outlines: Sequence[GamutOutline],
    lightness: Sequence[float],
    *,
    hues: Sequence[float] = (90.0, 0.0),
    colours: FloatArray | None = None,
    ident: str = "gamut-comparison",
) -> str:
    """Return one or two gamuts from above, cut at lightnesses and through the grey axis, as SVG.

    Parameters
    ----------
    outlines : sequence of GamutOutline
        One or two.
    lightness : sequence of float
        L* of the cuts.
    hues : sequence of float
        Hue angles of the cuts through the grey axis; each shows its opposite too. [degrees]
    colours : ndarray, shape (n, 3), optional
        Lab of single colours to mark.
    ident : str
        See `svg_figure`.
    """
    count = 1 + len(lightness) + len(hues)
    rows = -(-count // _ACROSS)

    def draw(figure: Any) -> None:
        plots = figure.subplots(rows, _ACROSS, squeeze=False).ravel()
        above, level, upright = plots[0], plots[1 : len(lightness) + 1], plots[len(lightness) + 1 : count]
        for axes in plots[count:]:
            axes.set_axis_off()
        for number, outline in enumerate(outlines):
            colour, style = _COLOURS[number], ("-", "--")[number]
            _ring(above, _widest(outline.mesh), colour, style, outline.name)
            for axes, cut in zip(level, outline.cuts, strict=True):
                if len(cut):
                    _ring(axes, cut, colour, style, outline.name)
            for axes, degrees in zip(upright, hues, strict=True):
                _upright(axes, outline.mesh, degrees, colour, style)
        titles = ("From above", *(f"L* {value:g}" for value in lightness))
        for axes, title in zip((above, *level), titles, strict=True):
            axes.set(title=title, xlabel="a*", ylabel="b*")
            axes.axhline(0, color=MUTED, lw=0.6)
            axes.axvline(0, color=MUTED, lw=0.6)
            axes.set_aspect("equal", adjustable="datalim")
        for number, axes in enumerate(level):
            if not any(len(outline.cuts[number]) for outline in outlines):
                axes.set(xticks=[], yticks=[])
                axes.text(0.5, 0.5, "nothing reached", ha="center", va="center", transform=axes.transAxes)
        for axes, degrees in zip(upright, hues, strict=True):
            opposite = (degrees + 180.0) % 360.0
            title = _NAMED_CUTS.get(degrees, f"Hue {opposite:g} - {degrees:g} degrees")
            axes.set(title=title, ylabel="L*", ylim=(0, 100))
            axes.set_xlabel(f"C* at hue {opposite:g}°  |  C* at hue {degrees:g}°")
            axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):g}")
            axes.axvline(0, color=MUTED, lw=0.6)
        if colours is not None:
            above.plot(colours[:, 1], colours[:, 2], ".", ms=4, color=ACCENT, zorder=5)
        if len(outlines) > 1:
            lines, words = above.get_legend_handles_labels()
            figure.legend(lines, words, loc="outside lower center", ncols=len(words), frameon=False)

    names = " and ".join(outline.name for outline in outlines)
    said = (
        f"Reachable colours of {names} from above, at L* {_listed(lightness)} and through the grey axis at "
        f"hue {_listed(hues)}."
    )
    return svg_figure(ident, "Gamut", said, (9.6, 3.1 * rows), draw)


def _listed(values: Sequence[float]) -> str:
    return ", ".join(f"{value:g}" for value in values) or "none"


def _ring(axes: Any, points: FloatArray, colour: str, style: str, name: str) -> None:
    closed = np.concatenate([points, points[:1]])
    axes.plot(closed[:, 0], closed[:, 1], style, color=colour, lw=1.6, label=name)


def _widest(mesh: FloatArray) -> FloatArray:
    """Return a* and b*, shape (hues, 2), of the largest chroma at any lightness, hue by hue."""
    degrees = np.arange(0.0, 360.0, 4.0)
    chroma = np.array([hue_side(mesh, angle)[:, 0].max() for angle in degrees])
    angle = np.radians(degrees)
    return np.stack([chroma * np.cos(angle), chroma * np.sin(angle)], axis=1)


def _upright(axes: Any, mesh: FloatArray, degrees: float, colour: str, style: str) -> None:
    """Draw the cut of a body by the plane through a* = b* = 0 at a hue and its opposite."""
    for outline in _plane_cut(mesh, degrees):
        axes.plot(outline[:, 0], outline[:, 1], style, color=colour, lw=1.6)


def _plane_cut(mesh: FloatArray, degrees: float) -> list[FloatArray]:
    """Return outlines, shape (n, 2) of signed C* and L*, where a plane upright on a* = b* = 0 cuts a body.

    Rings near the cloth need not go round a* = b* = 0, so what is cut are the facets, not rings by hue.
    """
    angle = np.radians(degrees)
    across = mesh[..., 1] * np.cos(angle) + mesh[..., 2] * np.sin(angle)
    side = mesh[..., 2] * np.cos(angle) - mesh[..., 1] * np.sin(angle)
    levels, hues = side.shape
    above = side > 0
    joined: dict[tuple[int, int, str], list[tuple[int, int, str]]] = {}

    def point(edge: tuple[int, int, str]) -> list[float]:
        i, j, way = edge
        k, m = (i, (j + 1) % hues) if way == "ring" else (i + 1, j)
        u = side[i, j] / (side[i, j] - side[k, m])
        return [(1 - u) * values[i, j] + u * values[k, m] for values in (across, mesh[..., 0])]

    def join(edges: list[tuple[int, int, str]]) -> None:
        for first, second in zip(edges[::2], edges[1::2], strict=False):
            joined.setdefault(first, []).append(second)
            joined.setdefault(second, []).append(first)

    for i in range(levels - 1):
        for j in range(hues):
            k = (j + 1) % hues
            corners = (above[i, j], above[i, k], above[i + 1, k], above[i + 1, j])
            edges = ((i, j, "ring"), (i, k, "up"), (i + 1, j, "ring"), (i, j, "up"))
            join([edge for n, edge in enumerate(edges) if corners[n] != corners[(n + 1) % 4]])
    for i in (0, levels - 1):
        join([(i, j, "ring") for j in range(hues) if above[i, j] != above[i, (j + 1) % hues]])
    outlines = []
    while joined:
        start = here = next(iter(joined))
        path = []
        while here in joined:
            path.append(point(here))
            there = joined.pop(here)
            here = next((edge for edge in there if edge in joined), start)
        outlines.append(np.array([*path, path[0]]))
    return outlines


def hue_side(mesh: FloatArray, degrees: float) -> FloatArray:
    """Return chroma and L*, shape (levels, 2), where a half plane of one hue cuts the rings of a body.

    Chroma is 0 where a ring lies apart from that hue, as light rings on yellow cloth do from blue.
    """
    turn = np.arctan2(mesh[..., 2], mesh[..., 1]) - np.radians(degrees)
    turn = np.arctan2(np.sin(turn), np.cos(turn))
    following = np.roll(turn, -1, axis=1)
    crosses = ((turn > 0) != (following > 0)) & (np.abs(turn - following) < np.pi)
    share = np.where(crosses, turn / np.where(crosses, turn - following, 1.0), 0.0)
    chroma, light = (
        (1 - share) * values + share * np.roll(values, -1, axis=1)
        for values in (np.hypot(mesh[..., 1], mesh[..., 2]), mesh[..., 0])
    )
    chroma = np.where(crosses, chroma, 0.0)
    farthest = (np.arange(len(mesh)), chroma.argmax(axis=1))
    return np.stack([chroma[farthest], light[farthest]], axis=1)
