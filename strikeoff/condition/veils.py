"""Artwork that covers the cloth in part, where the cloth is not its white: what inks its colour takes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.condition.record import Condition
from strikeoff.model.inverse import solve
from strikeoff.raster.tables import NO_DIFFERENCE, InkTable, apply_table, spread_shaper

FloatArray = NDArray[np.float64]

_NODES = 13
# Coverage of the nodes is their place to this power: closer where little covers.
_POWER = 1.5
_FULL = 65535.0


def veil_table(
    condition: Condition, link: InkTable, *, step: Callable[[float], None] = lambda fraction: None
) -> InkTable:
    """Return what a colour takes beside its inks times its coverage, for colours that cover in part.

    Ink laid by coverage is not the colour on a part of the area: drops of a thinner tone fall beside each
    other, and what stood over white ink falls on bare cloth. The colour that is aimed at mixes the light of
    the recipe and of the cloth, as at a soft edge; the inks are those of the condition for that colour.

    Parameters
    ----------
    condition : Condition
        Where it will be printed.
    link : InkTable
        From artwork of one or three channels to inks.
    step : callable
        Told the fraction done, 0-1.

    Returns
    -------
    InkTable
        From the artwork's codes (one channel three times) and coverage to half of what is added, counted from
        `NO_DIFFERENCE`. Nothing is added where nothing or all is covered.
    """
    place = np.linspace(0.0, 1.0, _NODES)
    cover = place**_POWER
    grid = np.stack(np.meshgrid(place, place, place, indexing="ij"), axis=-1).reshape(-1, 3)
    codes = np.rint(grid[:, : link.channels] * _FULL).astype(np.uint16)
    whole = apply_table(codes[None], link)[0] / _FULL
    printed = lab_to_xyz(condition.inverse.quick.lab(whole), np.ones(3))
    cloth = lab_to_xyz(condition.cloth_lab, np.ones(3))
    part = cover[1:-1, None, None]
    wanted = xyz_to_lab(part * printed + (1.0 - part) * cloth, np.ones(3))
    found = solve(condition.inverse, wanted.reshape(-1, 3), exact=False, step=step).inks
    added = found.reshape(len(part), *whole.shape) - part * whole
    nodes = np.full((*whole.shape[:1], _NODES, condition.n_inks), NO_DIFFERENCE, dtype=np.uint16)
    nodes[:, 1:-1] = np.rint(NO_DIFFERENCE + 0.5 * _FULL * added.transpose(1, 0, 2)).astype(np.uint16)
    shapers = [spread_shaper(place)] * 3 + [spread_shaper(cover)]
    return InkTable(np.stack(shapers), nodes.reshape((_NODES,) * 4 + (condition.n_inks,)))
