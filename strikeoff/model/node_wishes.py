"""What the nodes of a field of recipes want: the policy's black, little ink, tints of one ink."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.black import BlackCurve, BlackPolicy, black_goal
from strikeoff.model.dark_end import DarkEnd
from strikeoff.model.solids import near_tints
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

_BLACK_WEIGHT = 0.2
_NO_BLACK_WEIGHT = 5.0
# L* below the start over which black's weight falls from the one to the other.
_ONSET = 40.0
_INK_WEIGHT = 0.02
# How far tints of one ink reach into the field of many inks, in CIEDE2000, and what they weigh there,
# over how many inks there are beyond four.
_TINTS_REACH, _TINTS_WEIGHT = 10.0, 40.0
# What the darkest neutral weighs at its colour, and over how much lightness and chroma that fades; all that
# is darker is as near to it as its chroma is.
_DARK_WEIGHT, _DARK_L, _DARK_CHROMA = 8.0, 7.0, 5.0
_NO_PULL = 1e-6


@dataclass(frozen=True)
class NodeWishes:
    """Wishes of the nodes of a grid, in rows.

    Attributes
    ----------
    shape : tuple of int
        Nodes along L*, a* and b*; their product is n.
    lab : ndarray, shape (n, 3)
        Colours of the nodes.
    weights : ndarray, shape (n, n_inks)
        Weights of the policy.
    aims : ndarray, shape (n, n_inks)
        What the policy wants. [-]
    pull : ndarray, shape (n, 1)
        Weights of the distance from ``tints``, whatever the policy wants.
    tints : ndarray, shape (n, n_inks)
        Recipes that nodes are drawn to. [-]
    """

    shape: tuple[int, int, int]
    lab: FloatArray
    weights: FloatArray
    aims: FloatArray
    pull: FloatArray
    tints: FloatArray


def node_wishes(
    low: FloatArray,
    spacing: FloatArray,
    shape: tuple[int, int, int],
    n_inks: int,
    policy: BlackPolicy,
    black: int | None,
    curve: BlackCurve | None,
) -> NodeWishes:
    """Return what a grid wants by the black policy; without black, least ink."""
    lab = low + spacing * np.indices(shape).reshape(3, -1).T
    weights = np.full((len(lab), n_inks), _INK_WEIGHT)
    aims = np.zeros_like(weights)
    if black is not None and curve is not None:
        below = np.clip((policy.start - lab[:, 0]) / _ONSET, 0.0, 1.0)
        weights[:, black] = _NO_BLACK_WEIGHT * (_BLACK_WEIGHT / _NO_BLACK_WEIGHT) ** below
        aims[:, black] = black_goal(policy, curve, lab)
    return NodeWishes(shape, lab, weights, aims, np.zeros((len(lab), 1)), np.zeros_like(aims))


def drawn_to_tints(wishes: NodeWishes, model: InksToLab, solids: FloatArray, spare: int) -> NodeWishes:
    """Return the same wishes, drawn to tints of the solids, shape (k, n_inks), near their colours.

    ``spare`` is how many inks there are beyond four.
    """
    share, tints = near_tints(model, solids, wishes.lab, _TINTS_REACH)
    pull = (_TINTS_WEIGHT / spare * share)[:, None]
    return NodeWishes(wishes.shape, wishes.lab, wishes.weights, wishes.aims, pull, tints)


def drawn_to_black(wishes: NodeWishes, end: DarkEnd | None) -> NodeWishes:
    """Return the same wishes, drawn to the darkest neutral near its colour as well."""
    if end is None:
        return wishes
    off = wishes.lab - end.lab
    fade = (np.maximum(off[:, 0], 0.0) / _DARK_L) ** 2 + ((off[:, 1:] / _DARK_CHROMA) ** 2).sum(axis=1)
    own = (_DARK_WEIGHT * np.exp(-fade))[:, None]
    own = np.where(own > _NO_PULL, own, 0.0)
    pull = wishes.pull + own
    drawn = (wishes.pull * wishes.tints + own * end.inks) / np.maximum(pull, _NO_PULL)
    return NodeWishes(wishes.shape, wishes.lab, wishes.weights, wishes.aims, pull, drawn)
