"""Links: integer tables from artwork values to calibrated ink, straight from the inverse."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import ink_alone, render
from strikeoff.inks.roles import process_channels
from strikeoff.raster.tables import InkTable, spread_shaper

FloatArray = NDArray[np.float64]

#: Nodes per channel by artwork kind.
GRID: dict[str, int] = {"grey": 256, "rgb": 41, "cmyk": 13, "lab": 41}
_CHANNELS = {"grey": 1, "rgb": 3, "cmyk": 4, "lab": 3}
# Recipes turn in the darks, which need nodes close together: steps grow as _DARK plus the code; more where
# black is not scaled to black, for the gamut then ends amid the artwork's darks. Nodes of few inks cost
# little, and there are more where it ends so, and for CMYK artwork always.
_BLACK_KEPT = ("relative", "absolute")
_DARK, _DARK_SCALED = 0.5, 0.8
_FINER: dict[bool, dict[str, float]] = {
    True: {"rgb": 1.6, "cmyk": 1.46, "lab": 1.6},
    False: {"rgb": 1.15, "cmyk": 1.0, "lab": 1.15},
}
# CMYK artwork whose black is not scaled to black.
_FINER_CMYK = 1.6
# Most of a* and b* is far outside all gamuts: steps grow as _GREY plus the distance from grey.
_GREY = 0.15


def artwork_table(
    condition: Condition,
    kind: Literal["grey", "rgb", "cmyk", "lab"],
    to_lab: Callable[[FloatArray], FloatArray],
    intent: str,
    *,
    source_white: FloatArray | None = None,
    size: int | None = None,
    step: Callable[[float], None] = lambda fraction: None,
) -> InkTable:
    """Return the table from artwork values to inks.

    Parameters
    ----------
    condition : Condition
        Where it will be printed.
    kind : {"grey", "rgb", "cmyk", "lab"}
        What the artwork's channels mean.
    to_lab : callable
        Artwork values 0-1, shape (m, channels), to media-relative D50 Lab, shape (m, 3).
    intent : str
        Rendering intent; see :func:`strikeoff.condition.rendering.render`.
    source_white : ndarray, shape (3,), optional
        Media white of the artwork's profile, for absolute.
    size : int, optional
        Evenly spaced nodes per channel; by default those with which artwork is separated.
    step : callable
        Told the fraction done, 0-1.

    Returns
    -------
    InkTable
    """
    channels = _CHANNELS[kind]
    axes = node_axes(condition, kind, intent) if size is None else [np.linspace(0.0, 1.0, size)] * channels
    size = len(axes[0])
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, channels)
    lab = to_lab(grid)
    darkest = float(np.clip(lab_to_xyz(lab[lab[:, 0].argmin()], np.ones(3))[1], 0.0, 0.9))
    recipes = render(condition, lab, intent, source_black=darkest, source_white=source_white, step=step)
    inks = _pure_inks(condition, kind, grid, recipes.inks)
    codes = np.floor(inks * 65535.0 + 0.5).astype(np.int64)
    codes = _within_total(codes, condition)
    nodes = codes.astype(np.uint16).reshape((size,) * channels + (condition.n_inks,))
    return InkTable(np.stack([spread_shaper(axis) for axis in axes]), nodes)


def node_axes(condition: Condition, kind: str, intent: str) -> list[FloatArray]:
    """Return where the nodes of each channel of artwork lie, 0-1, by kind and rendering intent."""
    few = not condition.inverse.many
    ends_in_darks = intent in _BLACK_KEPT
    share = _FINER[few and (ends_in_darks or kind == "cmyk")].get(kind, 1.0)
    if few and kind == "cmyk" and ends_in_darks:
        share = _FINER_CMYK
    place = np.linspace(0.0, 1.0, round(GRID[kind] * share))
    dark = _DARK_SCALED if few and not ends_in_darks else _DARK
    light = _widening(place, dark) if kind in ("rgb", "lab") else place
    if kind != "lab":
        return [light] * _CHANNELS[kind]
    off = 2.0 * place - 1.0
    tint = 0.5 + 0.5 * np.sign(off) * _widening(np.abs(off), _GREY)
    return [light, tint, tint]


def _widening(place: FloatArray, first: float) -> FloatArray:
    """Return 0-1 for 0-1, with a slope that grows as ``first`` plus the value."""
    value = first * (((1.0 + first) / first) ** place - 1.0)
    return np.where(place == 1.0, 1.0, value)


def _pure_inks(condition: Condition, kind: str, grid: FloatArray, inks: FloatArray) -> FloatArray:
    """Give full inks of the artwork the ink of the same name alone, where the policy asks for it."""
    if kind != "cmyk":
        return inks
    black, names = condition.inverse.black, condition.spaces.channels
    wanted = {3: black} if condition.policy.pure_black and black is not None else {}
    if condition.policy.pure_inks:
        lightness = condition.native.lab(np.eye(len(names)))[:, 0].tolist()
        process = process_channels(names, lightness)
        wanted |= {k: process[letter] for k, letter in enumerate("CMYK") if letter in process}
    out = inks.copy()
    for channel, ink in wanted.items():
        out[(grid == np.eye(4)[channel]).all(axis=1)] = ink_alone(condition, ink)
    return out


def _within_total(codes: NDArray[np.int64], condition: Condition) -> NDArray[np.int64]:
    """Take rounding back where it would pass the total ink limit by a code."""
    over = condition.limits.over(codes)
    codes[over] = np.maximum(codes[over] - 1, 0)
    return codes
