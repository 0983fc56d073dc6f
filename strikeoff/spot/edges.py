"""How two recipes mix at an edge, so that the edge has the light of the areas that meet in it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

_FULL = 65535
_MIXTURES = 33
# Colours whose light differs by less mix as area. [XYZ, white 1]
_APART = 1e-3
# What differences of X, Y and Z count beside each other.
_EYE = np.array([0.1, 1.0, 0.1])


def edge_curves(
    model: InksToLab, recipes: FloatArray, mixed: NDArray[np.bool_], steps: int
) -> NDArray[np.uint16]:
    """Return the ink share of one colour beside another at even shares of its area.

    Parameters
    ----------
    model : InksToLab
        Forward model.
    recipes : ndarray, shape (n, n_inks)
        Ink of each colour, 0-1. [-]
    mixed : ndarray of bool, shape (n, n)
        Pairs that share a pixel; the others mix as area.
    steps : int
        Nodes, one less.

    Returns
    -------
    ndarray of uint16, shape (n, n, steps + 1)
        For ``i < j`` the ink share of ``j``, 65535 = all, rising from 0; the other half mixes as area and is
        not used.

    Notes
    -----
    Areas mix by light, ink does not: half of a dark recipe is darker than half its area. On the straight
    line between two recipes the mixture is taken whose light, along the line from one colour's XYZ to the
    other's, has come as far as the area says. The eye sees edges by luminance, so Y decides unless it hardly
    differs.
    """
    count = len(recipes)
    area = np.linspace(0.0, 1.0, steps + 1)
    out = np.tile(np.rint(area * _FULL).astype(np.uint16), (count, count, 1))
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count) if mixed[i, j] or mixed[j, i]]
    if not pairs:
        return out
    part = np.linspace(0.0, 1.0, _MIXTURES)[:, None]
    inks = np.concatenate([(1.0 - part) * recipes[i] + part * recipes[j] for i, j in pairs])
    light = lab_to_xyz(model.lab(inks), np.ones(3)).reshape(len(pairs), _MIXTURES, 3) * _EYE
    for (i, j), xyz in zip(pairs, light, strict=True):
        span = xyz[-1] - xyz[0]
        length = float(span @ span)
        if length < _APART**2:
            continue
        come = np.maximum.accumulate((xyz - xyz[0]) @ span / length)
        # A light that stands still would have no inverse.
        come = come + 1e-9 * np.arange(_MIXTURES)
        share = np.interp(area, come / come[-1], part[:, 0])
        share[0], share[-1] = 0.0, 1.0
        out[i, j] = np.rint(share * _FULL).astype(np.uint16)
    return out
