"""The outer boundary of a cloud of colours."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError

FloatArray = NDArray[np.float64]

_MOST_INKS = 24
# With more inks than this, at most so many are full beside the two that vary: more make darks only.
_EVERY_FULL, _FEW_FULL = 8, 2
# Mixes of more inks than this that the total cuts off are dark: nothing of the outline rests on them.
_MOST_CUT = 3
_HALVINGS = 30


def surface_inks(
    n_inks: int,
    steps: int = 17,
    total_limit: float | None = None,
    sums: Callable[[FloatArray], FloatArray] | None = None,
    edge_steps: int | None = None,
) -> FloatArray:
    """Return ink mixes whose colours lie densely on the surface of the gamut.

    At most two inks are in part; where the total cuts the surface off, mixes of up to three that fill it
    stand in for those beyond, or the outline would have notches there.

    Parameters
    ----------
    n_inks : int
        1 to 24.
    steps : int
        Levels of the inks that are varied, both ends included.
    total_limit : float, optional
        Largest sum of a mix, full tone of one ink being 1. [-]
    sums : callable, optional
        What mixes, shape (m, n_inks), count in that total, shape (m,); their plain sum by default.
    edge_steps : int, optional
        Levels along the edges, where one ink varies beside one or two full ones or none: the most colourful
        mix of a hue lies on one, and wide steps of a steep ink would jump over hues.

    Returns
    -------
    ndarray, shape (n, n_inks)
        Calibrated ink, 0-1, each mix once. [-]

    Raises
    ------
    InputError
        Inks or steps out of range.

    Examples
    --------
    >>> surface_inks(3, 2).shape, float(surface_inks(3, 2, total_limit=2).sum(axis=1).max())
    ((8, 3), 2.0)
    """
    if not 1 <= n_inks <= _MOST_INKS or not 2 <= steps <= 101:
        raise InputError(
            "inks or steps out of range", found=f"{n_inks}, {steps}", expected="1 to 24, 2 to 101"
        )
    levels = np.linspace(0.0, 1.0, steps)
    n_varied = min(2, n_inks)
    varied = np.array(list(product(levels, repeat=n_varied)))
    mixes: set[tuple[float, ...]] = set()
    for chosen in combinations(range(n_inks), n_varied):
        others = [ink for ink in range(n_inks) if ink not in chosen]
        most = len(others) if n_inks <= _EVERY_FULL else _FEW_FULL
        for full in (group for count in range(most + 1) for group in combinations(others, count)):
            face = np.zeros((len(varied), n_inks))
            face[:, chosen] = varied
            face[:, full] = 1.0
            if total_limit is not None:
                face = _within(face, total_limit, _plain_sums if sums is None else sums)
            mixes.update(map(tuple, face.tolist()))
    if edge_steps is not None:
        edges = _edges(n_inks, np.linspace(0.0, 1.0, edge_steps))
        if total_limit is not None:
            edges = _within(edges, total_limit, _plain_sums if sums is None else sums)
        mixes.update(map(tuple, edges.tolist()))
    return np.array(sorted(mixes), dtype=np.float64).reshape(-1, n_inks)


def _edges(n_inks: int, levels: FloatArray) -> FloatArray:
    """Return mixes of one ink at all levels beside none, one or two full ones."""
    found = []
    for ink in range(n_inks):
        others = [other for other in range(n_inks) if other != ink]
        for full in (group for count in range(_FEW_FULL + 1) for group in combinations(others, count)):
            edge = np.zeros((len(levels), n_inks))
            edge[:, ink] = levels
            edge[:, full] = 1.0
            found.append(edge)
    return np.vstack(found)


def _plain_sums(mixes: FloatArray) -> FloatArray:
    return np.asarray(mixes.sum(axis=1))


def _within(mixes: FloatArray, total: float, sums: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Return the mixes that the total holds, and those of few inks beyond it brought back onto it."""
    held = sums(mixes) <= total + 1e-9
    beyond = mixes[~held & ((mixes > 0).sum(axis=1) <= _MOST_CUT)]
    low, high = np.zeros(len(beyond)), np.ones(len(beyond))
    for _ in range(_HALVINGS if len(beyond) else 0):
        share = 0.5 * (low + high)
        fits = sums(beyond * share[:, None]) <= total
        low, high = np.where(fits, share, low), np.where(fits, high, share)
    return np.vstack([mixes[held], beyond * low[:, None]])


def chroma_table(
    lab: ArrayLike, n_levels: int = 26, n_hues: int = 48
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the largest chroma in each cell of lightness and hue.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        Colours that can be reached, spread through the gamut.
    n_levels, n_hues : int
        Cells.

    Returns
    -------
    lightness : ndarray, shape (n_levels,)
        L* of the levels, darkest to lightest colour.
    hue : ndarray, shape (n_hues,)
        Hue angles. [degrees]
    chroma : ndarray, shape (n_levels, n_hues)
        Largest C*; empty cells are filled from their neighbours, or 0 where a level keeps to one side of
        a* = b* = 0, as all light colours on yellow cloth do, and has no colours of such a hue.

    Raises
    ------
    InputError
        For fewer than 8 colours or values that are not finite.
    """
    lightness, hue, chroma, _ = _outermost(lab, n_levels, n_hues)
    return lightness, hue, _whole(chroma)


def surface_mesh(lab: ArrayLike, n_levels: int = 14, n_hues: int = 60) -> FloatArray:
    """Return the boundary as a mesh whose corners are the outermost colours themselves, where there are any.

    Outermost from the line between the darkest and the lightest: on yellow cloth a* = b* = 0 lies outside.

    Parameters
    ----------
    lab, n_levels, n_hues
        See `chroma_table`.

    Returns
    -------
    ndarray, shape (n_levels, n_hues, 3)
        L*, a*, b*; rows from dark to light, columns round the hue circle.

    Raises
    ------
    InputError
        See `chroma_table`.
    """
    points = np.asarray(lab, dtype=np.float64)
    inside = _inside(points)
    upright = points - inside(points[..., 0])
    lightness, hue, chroma, row = _outermost(upright, n_levels, n_hues)
    full = _whole(chroma)
    ring = np.radians(hue)
    level = np.repeat(lightness[:, None], n_hues, axis=1)
    centres = np.stack([level, full * np.cos(ring), full * np.sin(ring)], axis=-1) + inside(level)
    # A ridge that runs across the cells keeps its line only where its own colours are the corners.
    is_own = (row >= 0) & ~(chroma < full - 1e-9)
    return np.asarray(np.where(is_own[..., None], points[np.maximum(row, 0)], centres), dtype=np.float64)


def _inside(points: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """Return the line from the darkest to the lightest colour: a*, b* at an L*, with 0 in place of L*."""
    if points.ndim != 2 or points.shape[1] != 3 or not len(points) or not np.isfinite(points).all():
        return lambda lightness: np.zeros((*np.shape(lightness), 3))
    dark, light = points[points[:, 0].argmin()], points[points[:, 0].argmax()]
    slope = (light - dark) / max(float(light[0] - dark[0]), 1e-9)

    def at(lightness: FloatArray) -> FloatArray:
        moved = np.asarray(dark + (lightness[..., None] - dark[0]) * slope)
        moved[..., 0] = 0.0
        return moved

    return at


def _outermost(
    lab: ArrayLike, n_levels: int, n_hues: int
) -> tuple[FloatArray, FloatArray, FloatArray, NDArray[np.intp]]:
    """Return levels, hues, each cell's largest chroma (NaN if empty) and the row of its colour (or -1)."""
    points = np.asarray(lab, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 3 or len(points) < 8 or not np.isfinite(points).all():
        raise InputError("gamut needs 8 finite colours or more", found=points.shape, expected="(n, 3)")
    low, high = float(points[:, 0].min()), float(points[:, 0].max())
    lightness = np.linspace(low, high, n_levels)
    hue = np.arange(n_hues) * 360.0 / n_hues
    step = max((high - low) / (n_levels - 1), 1e-9)
    level = np.clip(np.round((points[:, 0] - low) / step), 0, n_levels - 1).astype(np.intp)
    angle = np.degrees(np.arctan2(points[:, 2], points[:, 1])) % 360.0
    sector = np.round(angle / (360.0 / n_hues)).astype(np.intp) % n_hues
    radius = np.hypot(points[:, 1], points[:, 2])
    row = np.full((n_levels, n_hues), -1, dtype=np.intp)
    inside_out = np.argsort(radius, kind="stable")
    row[level[inside_out], sector[inside_out]] = inside_out
    return lightness, hue, np.where(row >= 0, radius[row], np.nan), row


def _whole(chroma: FloatArray) -> FloatArray:
    """Return chroma without empty cells: filled where they lie among colours, 0 where they lie apart."""
    apart = _apart(chroma)
    full = _rounded(_filled(np.where(apart, 0.0, chroma)))
    return np.where(apart, 0.0, full)


def _apart(chroma: FloatArray) -> NDArray[np.bool_]:
    """Return the empty cells of half a circle or more: there the axis lies outside its level's colours."""
    count = chroma.shape[1]
    apart = np.zeros(chroma.shape, dtype=bool)
    for level, row in enumerate(chroma):
        taken = np.flatnonzero(~np.isnan(row))
        for first, following in zip(taken, np.append(taken[1:], taken[:1] + count), strict=True):
            if following - first >= count / 2:
                apart[level, np.arange(first + 1, following) % count] = True
    return apart


def _filled(table: FloatArray) -> FloatArray:
    filled = table.copy()
    while np.isnan(filled).any():
        around = np.stack(
            [
                np.roll(filled, 1, axis=1),
                np.roll(filled, -1, axis=1),
                np.vstack([filled[:1] * np.nan, filled[:-1]]),
                np.vstack([filled[1:], filled[:1] * np.nan]),
            ]
        )
        known = ~np.isnan(around)
        count = known.sum(axis=0)
        mean = np.where(known, around, 0.0).sum(axis=0) / np.maximum(count, 1)
        filled = np.where(np.isnan(filled) & (count > 0), mean, filled)
    return filled


def _rounded(table: FloatArray) -> FloatArray:
    """Lift cells that got few points to what their neighbours on both sides have, in hue and in lightness."""
    for _ in range(2):
        along_hue = (np.roll(table, 1, axis=1) + np.roll(table, -1, axis=1)) / 2
        along_lightness = table.copy()
        along_lightness[1:-1] = (table[:-2] + table[2:]) / 2
        table = np.maximum(table, np.maximum(along_hue, along_lightness))
    return table
