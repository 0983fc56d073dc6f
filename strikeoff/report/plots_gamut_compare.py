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
        for axes, degrees in zip(upright, hues, strict=True):
            opposite = (degrees + 180.0) % 360.0
            title = _NAMED_CUTS.get(degrees, f"Hue {opposite:g} - {degrees:g} degrees")
            axes.set(title=title, xlabel="C*", ylabel="L*", ylim=(0, 100))
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
    chroma = np.array([_side(mesh, angle)[:, 0].max() for angle in degrees])
    angle = np.radians(degrees)
    return np.stack([chroma * np.cos(angle), chroma * np.sin(angle)], axis=1)


def _upright(axes: Any, mesh: FloatArray, degrees: float, colour: str, style: str) -> None:
    """Draw the cut through the grey axis at a hue and its opposite, closed at the dark end."""
    sides = [_side(mesh, degrees), _side(mesh, degrees + 180.0) * [-1.0, 1.0]]
    outline = np.concatenate([sides[0], sides[1][::-1], sides[0][:1]])
    axes.plot(outline[:, 0], outline[:, 1], style, color=colour, lw=1.6)


def _side(mesh: FloatArray, degrees: float) -> FloatArray:
    """Return chroma and L*, shape (levels, 2), where a half plane of one hue cuts the rings of a body."""
    angle = np.radians(degrees)
    rows = []
    for ring in mesh:
        hue, chroma = np.arctan2(ring[:, 2], ring[:, 1]), np.hypot(ring[:, 1], ring[:, 2])
        rows.append([np.interp(angle, hue, values, period=2 * np.pi) for values in (chroma, ring[:, 0])])
    return np.array(rows)
