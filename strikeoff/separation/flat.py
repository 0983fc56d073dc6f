"""Flat artwork to ink planes: a palette colour is its recipe, an edge is a mixture of those that meet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.unmix import FromWeights, Weights
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import Band, check_rows

#: Even shares of area at which curves have a node, one less.
STEPS = 64
_FULL = 65535


@dataclass(frozen=True)
class FlatSource(FromWeights):
    """Ink planes of flat artwork: uint16, 0 none, 65535 full tone; the artwork's pitch is kept.

    A mixture of legal recipes is legal, so edges keep the total; between equal recipes there is no edge.

    Attributes
    ----------
    recipes : ndarray of uint16, shape (n, n_inks)
        Ink of each palette colour.
    curves : ndarray of uint16, shape (n, n, STEPS + 1)
        For ``i < j`` the ink share of colour ``j`` at even shares of its area beside ``i``; from
        `plain_curves` or `strikeoff.spot.edges.edge_curves`.
    """

    recipes: NDArray[np.uint16]
    curves: NDArray[np.uint16]

    def __post_init__(self) -> None:
        count = len(self.unmixed.palette.linear)
        if len(self.recipes) != count or self.curves.shape != (count, count, STEPS + 1):
            raise InputError(
                "recipes do not fit the palette", found=len(self.recipes), expected=f"{count} colours"
            )

    @property
    def channels(self) -> int:
        """Inks."""
        return int(self.recipes.shape[1])

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return np.dtype(np.uint16)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        from strikeoff.separation.kernels import mix_recipes

        check_rows(self, y0, y1)
        _, made = self.unmixed.read(y0, y1)
        out = np.empty((y1 - y0, self.width, self.channels), np.uint16)
        mix_recipes(made.places, made.weights, self.recipes, self.curves, out)
        return out


def plain_curves(count: int) -> NDArray[np.uint16]:
    """Return curves by which ink goes as area."""
    straight = np.rint(np.linspace(0, _FULL, STEPS + 1)).astype(np.uint16)
    return np.tile(straight, (count, count, 1))


def mixed_plain(made: Weights, recipes: NDArray[np.uint16], curves: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Return what `FlatSource.read` makes of weights, pixel by pixel in plain Python."""
    rows, width = made.places.shape[:2]
    out = np.zeros((rows, width, recipes.shape[1]), np.uint16)
    for y, x in np.ndindex(rows, width):
        who = [int(v) for v in made.places[y, x]]
        area = [int(v) for v in made.weights[y, x]]
        share = list(area)
        for a, b in ((0, 1), (0, 2), (1, 2)):
            if area[a] and area[b]:
                both = area[a] + area[b]
                own = area[b] * _FULL // both
                moved = _curve_plain(curves, who[a], who[b], own) - own
                step = abs(moved) * both // _FULL * (1 if moved > 0 else -1)
                share[a], share[b] = share[a] - step, share[b] + step
        share = [max(v, 0) for v in share]
        total = sum(share)
        for c in range(recipes.shape[1]):
            ink = sum(s * int(recipes[k, c]) for s, k in zip(share, who, strict=True))
            out[y, x, c] = (ink + total // 2) // total
    return out


def _curve_plain(curves: NDArray[np.uint16], i: int, j: int, share: int) -> int:
    if i > j:
        return _FULL - _curve_plain(curves, j, i, _FULL - share)
    node, rest = divmod(share * STEPS, _FULL)
    low, high = int(curves[i, j, node]), int(curves[i, j, min(node + 1, STEPS)])
    return (low * (_FULL - rest) + high * rest + _FULL // 2) // _FULL
