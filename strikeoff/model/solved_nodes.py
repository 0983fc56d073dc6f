"""The solved nodes of a field of recipes, as they are kept: whole codes, so that kept and fresh are equal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.dark_end import DarkEnd
from strikeoff.model.limits import FULL
from strikeoff.model.recipe_field import RecipeField

FloatArray = NDArray[np.float64]

_ROUNDING = 1e-6


@dataclass(frozen=True)
class SolvedNodes:
    """Recipes on a regular grid of Lab.

    Attributes
    ----------
    low, spacing : ndarray, shape (3,)
        Lab of the first node, and from node to node.
    codes : ndarray of uint16, shape (n_l, n_a, n_b, n_inks)
        Recipes, 65535 being full tone.
    dark_end : tuple of int, optional
        Recipe of the darkest neutral that the field leads to, in the same codes; empty where it leads to
        none, None where that is not known.
    """

    low: FloatArray
    spacing: FloatArray
    codes: NDArray[np.uint16]
    dark_end: tuple[int, ...] | None = None

    @property
    def shape(self) -> tuple[int, int, int]:
        """Nodes along L*, a* and b*."""
        return self.codes.shape[0], self.codes.shape[1], self.codes.shape[2]

    @property
    def inks(self) -> FloatArray:
        """Recipes in parts of full tone, shape (n_l, n_a, n_b, n_inks)."""
        return np.asarray(self.codes / FULL)


def solved_nodes(field: RecipeField, end: DarkEnd | None = None) -> SolvedNodes:
    """Return the nodes of a field in whole codes, each ink rounded down, so that limits stay kept.

    ``end`` is the darkest neutral that the field leads to.

    Examples
    --------
    >>> grid = np.full((2, 2, 2, 1), 0.50001)
    >>> kept = solved_nodes(RecipeField(np.zeros(3), np.ones(3), grid, grid))
    >>> int(kept.codes[0, 0, 0, 0]), kept.shape
    (32768, (2, 2, 2))
    """
    dark = () if end is None else tuple(whole_codes(end.inks).tolist())
    return SolvedNodes(field.low, field.spacing, whole_codes(field.inks), dark)


def whole_codes(inks: FloatArray) -> NDArray[np.uint16]:
    """Return parts of full tone in whole codes, rounded down."""
    # Whole codes stay what they are, whatever a division and a product did to them.
    return np.floor(np.clip(inks, 0.0, 1.0) * FULL + _ROUNDING).astype(np.uint16)
