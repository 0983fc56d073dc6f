"""Plots of the gamut: projections, slices and a solid seen from the side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import ConvexHull

from strikeoff.report.figures import Drawing, svg_figure
from strikeoff.report.gamut import chroma_table, surface_mesh
from strikeoff.report.name_places import name_places
from strikeoff.report.screen_colour import lab_to_srgb
from strikeoff.report.style import INK, MUTED

FloatArray = NDArray[np.float64]

# From where the solid is seen: turn about L* and height above the a*b* plane. [degrees]
_TURN, _TILT = 40.0, 22.0
# Of the axes of a* and b*: greys alone have next to none of their own.
_LEAST_REACH = 25.0
# Room round the colours seen from above.
_PAD = 22.0
# Parts of each edge of the surface that its outline is found among.
_BETWEEN = 8
# Letters of a name beyond which its inks stand below each other.
_LONG_NAME = 9


@dataclass(frozen=True)
class NamedColour:
    """A colour with the name that is written beside it: ``C``, ``M+Y``, ``cloth``."""

    name: str
    lab: tuple[float, float, float]
    colour: str


def gamut_projection(
    reachable_lab: ArrayLike,
    solids: Sequence[NamedColour],
    cloth: NamedColour,
    *,
    ident: str = "gamut-drawing",
) -> Drawing:
    """Return the gamut from above (a*b*) and two cuts through it (L*C*).

    Parameters
    ----------
    reachable_lab : array_like, shape (n, 3)
        Colours that can be reached, dense on the surface; see `gamut.surface_inks`.
    solids : sequence of NamedColour
        Solids and overprints.
    cloth : NamedColour
        The bare cloth.
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    lightness, hue, chroma = chroma_table(reachable_lab)
    mesh = surface_mesh(reachable_lab, n_hues=72)

    def draw(figure: Any) -> None:
        grid = figure.add_gridspec(2, 2, width_ratios=[1.25, 1])
        _from_above(figure.add_subplot(grid[:, 0]), mesh, solids, cloth)
        step = 360.0 / hue.size
        for row, (angle, title) in enumerate(((90.0, "Cut blue - yellow"), (0.0, "Cut green - red"))):
            axes = figure.add_subplot(grid[row, 1])
            right = chroma[:, round(angle / step) % hue.size]
            left = chroma[:, round((angle + 180.0) / step) % hue.size]
            axes.fill(
                np.concatenate([right, -left[::-1]]),
                np.concatenate([lightness, lightness[::-1]]),
                facecolor="#dfe9f2",
                edgecolor=INK,
                lw=1.6,
            )
            axes.axvline(0, color=MUTED, lw=1)
            axes.set(title=title, ylabel="L*", ylim=(0, 100))
            low, high = (180 + angle) % 360, angle
            axes.set_xlabel(f"C* at hue {low:.0f}°  |  C* at hue {high:.0f}°")
            reach = max(float(right.max()), float(left.max())) * 1.1
            axes.set_xlim(-reach, reach)
            axes.xaxis.set_major_formatter(lambda value, _: f"{abs(value):.0f}")

    return svg_figure(
        ident,
        "Gamut",
        "Reachable colours from above in a* and b*, and two cuts in lightness and chroma. Marked: "
        + ", ".join(point.name for point in (*solids, cloth))
        + ".",
        (9.6, 5.4),
        draw,
    )


def _from_above(axes: Any, mesh: FloatArray, solids: Sequence[NamedColour], cloth: NamedColour) -> None:
    outline = _outline(mesh)
    axes.fill(outline[:, 1], outline[:, 2], facecolor="#eef2f4", edgecolor=INK, lw=1.8)
    axes.axhline(0, color=MUTED, lw=0.8)
    axes.axvline(0, color=MUTED, lw=0.8)
    for point in (*solids, cloth):
        shape, size = ("D", 8) if point is cloth else ("o", 12)
        a, b = point.lab[1:]
        axes.plot([a], [b], shape, ms=size, mfc=point.colour, mec=INK, mew=1.2, zorder=4 + (point is cloth))
    xs = [*outline[:, 1], *(point.lab[1] for point in solids)]
    ys = [*outline[:, 2], *(point.lab[2] for point in solids)]
    edges = (min(xs) - _PAD, max(xs) + _PAD, min(ys) - _PAD, max(ys) + _PAD)
    reach = float(np.ptp(outline[:, 1:], axis=0).max()) + 2 * _PAD
    marks = [(_in_lines(point.name), point.lab[1:]) for point in (*solids, cloth)]
    for point, (x, y) in zip((*solids, cloth), name_places(marks, reach, edges), strict=True):
        axes.annotate(
            _in_lines(point.name),
            point.lab[1:],
            xytext=(x, y),
            textcoords="offset points",
            ha="center",
            va="center",
            fontweight="normal" if point is cloth else "bold",
            path_effects=_halo(),
            zorder=6,
        )
    axes.set(xlim=edges[:2], ylim=edges[2:])
    axes.set(title="From above", xlabel="a*  (green to red)", ylabel="b*  (blue to yellow)")
    axes.set_aspect("equal", adjustable="box")


def _outline(mesh: FloatArray) -> FloatArray:
    """Return the colours farthest out in each direction from the middle of a surface, seen from above."""
    count = mesh.shape[1]
    ring = np.concatenate([mesh, mesh[:, :1]], axis=1)
    for axis in (0, 1):
        steps = np.linspace(0.0, ring.shape[axis] - 1.0, (ring.shape[axis] - 1) * _BETWEEN + 1)
        low = np.minimum(steps.astype(np.intp), ring.shape[axis] - 2)
        part = (steps - low).reshape((-1, 1, 1) if axis == 0 else (1, -1, 1))
        ring = (1.0 - part) * ring.take(low, axis) + part * ring.take(low + 1, axis)
    corners = ring.reshape(-1, 3)
    out = corners[:, 1:] - corners[:, 1:].mean(axis=0)
    sector = np.round(np.arctan2(out[:, 1], out[:, 0]) / (2 * np.pi) * count).astype(np.intp) % count
    farthest = np.full(count, -1, dtype=np.intp)
    inside_out = np.argsort(np.hypot(out[:, 0], out[:, 1]), kind="stable")
    farthest[sector[inside_out]] = inside_out
    return corners[farthest[farthest >= 0]]


def _in_lines(name: str) -> str:
    """Return the name of an overprint of long names with each ink on a line of its own."""
    return name.replace("+", "+\n") if len(name) > _LONG_NAME else name


def gamut_solid(reachable_lab: ArrayLike, white: ArrayLike, *, ident: str = "gamut-solid-drawing") -> Drawing:
    """Return the gamut as a solid in its own colours, seen from the side.

    Parameters
    ----------
    reachable_lab : array_like, shape (n, 3)
        Colours that can be reached, dense on the surface; see `gamut.surface_inks`.
    white : array_like, shape (3,)
        XYZ of the light under which they hold.
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    corners = surface_mesh(reachable_lab)
    levels = (float(corners[..., 0].min()), float(corners[..., 0].max()))
    low, high = (
        np.append(level, ring[:, 1:].mean(axis=0))
        for level, ring in zip(levels, corners[[0, -1]], strict=True)
    )
    rows = np.concatenate(
        [[np.tile(low, (corners.shape[1], 1))], corners, [np.tile(high, (corners.shape[1], 1))]]
    )
    following = np.roll(rows, -1, axis=1)
    faces = np.stack([rows[:-1], following[:-1], following[1:], rows[1:]], axis=2).reshape(-1, 4, 3)
    middle = faces.mean(axis=1)
    rgb, _ = lab_to_srgb(middle, white)
    flat, depth = _seen(faces), _depth(middle)
    order = np.argsort(depth)
    outline = flat.reshape(-1, 2)[ConvexHull(flat.reshape(-1, 2)).vertices]
    pad = 0.06 * float(np.ptp(outline[:, 0]))

    def draw(figure: Any) -> None:
        from matplotlib.collections import PolyCollection

        axes = figure.subplots()
        reach = max(float(np.hypot(corners[..., 1], corners[..., 2]).max()) * 1.08, _LEAST_REACH)
        for a, b, text in (
            (1, 0, "+a* red"),
            (-1, 0, "-a* green"),
            (0, 1, "+b* yellow"),
            (0, -1, "-b* blue"),
        ):
            foot = _seen(np.zeros(3))
            end = _beyond(outline, foot, _seen(np.array([0.0, a * reach, b * reach])), pad)
            _axis(axes, foot, end, text)
        colours = rgb[order] / 255.0
        axes.add_collection(
            PolyCollection(
                list(flat[order]), facecolors=colours, edgecolors=colours * 0.86, linewidths=0.5, zorder=3
            )
        )
        top = _seen(np.array([levels[1], 0.0, 0.0]))
        _axis(axes, top, _beyond(outline, top, top + np.array([0.0, pad]), pad), "L*", zorder=4)
        for level in levels:
            point = _seen(np.array([level, 0.0, 0.0]))
            side = _beyond(outline, point, point - np.array([pad, 0.0]), pad)
            axes.plot(
                *np.stack([point, side], axis=1), "o-", color=INK, lw=0.8, ms=3, markevery=[0], zorder=6
            )
            axes.annotate(
                f"L* {level:.0f}",
                tuple(side),
                xytext=(-3, 0),
                textcoords="offset points",
                ha="right",
                va="center",
                zorder=6,
            )
        axes.set_aspect("equal")
        axes.margins(0.08)
        axes.autoscale_view()
        axes.axis("off")

    return svg_figure(
        ident,
        "Gamut as a solid",
        f"Reachable colours from L* {levels[0]:.0f} to {levels[1]:.0f}, seen from the side.",
        (6.4, 4.8),
        draw,
    )


def _beyond(outline: FloatArray, start: FloatArray, towards: FloatArray, pad: float) -> FloatArray:
    """Return where a ray ends that goes at least so far, and clear of a convex outline."""
    from matplotlib.path import Path

    length = float(np.hypot(*(towards - start)))
    step = (towards - start) / length
    shape = Path(outline)
    along = length + pad * np.arange(0.0, 200.0, 0.25)
    inside = shape.contains_points(start + along[:, None] * step)
    if inside.any():
        length = along[np.flatnonzero(inside)[-1]] + pad
    return np.asarray(start + length * step)


def _axis(axes: Any, start: FloatArray, end: FloatArray, text: str, *, zorder: float = 1) -> None:
    axes.annotate(
        "",
        tuple(end),
        tuple(start),
        arrowprops={"arrowstyle": "-|>", "color": MUTED, "lw": 1.2},
        zorder=zorder,
    )
    outward = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    # A name begins or ends at the point of a slanted axis, so that it does not reach back over the body.
    side = "center" if abs(outward[0]) < 0.3 else "left" if outward[0] > 0 else "right"
    axes.annotate(
        text,
        tuple(end),
        xytext=tuple(outward * (14 if side == "center" else 4)),
        textcoords="offset points",
        ha=side,
        va="center",
        color=INK,
        path_effects=_halo(),
        zorder=6,
    )
    axes.plot([end[0]], [end[1]], alpha=0)


def _halo() -> list[Any]:
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=3, foreground="white")]


def _seen(lab: FloatArray) -> FloatArray:
    turn, tilt = np.radians(_TURN), np.radians(_TILT)
    light, a, b = lab[..., 0], lab[..., 1], lab[..., 2]
    across, away = a * np.cos(turn) + b * np.sin(turn), -a * np.sin(turn) + b * np.cos(turn)
    return np.stack([across, light * np.cos(tilt) + away * np.sin(tilt)], axis=-1)


def _depth(lab: FloatArray) -> FloatArray:
    """Return nearness to the eye: larger is nearer, so painting in rising order hides what is behind."""
    turn, tilt = np.radians(_TURN), np.radians(_TILT)
    light, a, b = lab[..., 0], lab[..., 1], lab[..., 2]
    away = -a * np.sin(turn) + b * np.cos(turn)
    return np.asarray(light * np.sin(tilt) - away * np.cos(tilt), dtype=np.float64)
