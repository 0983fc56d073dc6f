"""All that turns colours into inks, and ways from recipes to colours: short, closest, alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.black import BlackCurve, BlackPolicy, black_goal
from strikeoff.model.dark_end import DarkEnd
from strikeoff.model.descent import colour_weights, descend
from strikeoff.model.limits import InkLimits
from strikeoff.model.recipe_field import FEW_INKS, RecipeField
from strikeoff.model.solids import near_solids
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

_LAST_ROUNDS, _LAST_OF_MANY, SECOND_ROUNDS = 8, 6, 40
# What a recipe's distance from the field weighs against colour: little, but out of gamut it decides.
FIELD_WEIGHT = 0.05
# The same in tables of many inks: so much of the squared slope of the ink that shows most, within bounds. Two
# inks that nearly make each other's colours, such as a light one and its full one, bend the edge of the gamut
# inwards between them: held loosely, recipes slide to the one or the other for the last 0.2 of a colour, each
# of two neighbours its own way. In the dark, where inks show little, colours would pay for being held.
_TABLE_WEIGHT, _TABLE_WEIGHTS = 5e-4, (FIELD_WEIGHT, 2.0)
# The same of black in up to four inks, whose one freedom it is.
_BLACK_WEIGHT = 0.5
CLOSE_DAMPING = 1e-3
# How far recipes are drawn to the darkest neutral, and those of many inks to solids: at least, and at most.
# A solid inside the gamut, as of a light ink, may be far from what the field has for its colour; from as far
# away as leaves so much ink to change for each CIEDE2000. [CIEDE2000, about], [-]
_SOLIDS_REACH, _FARTHEST_REACH, _SOLIDS_SLOPE = 4.0, 12.0, 0.1
# Starts of a last try with many inks: seeds close in Lab, and in Lab and inks, of which a unit counts as so
# many L*.
_STARTS, _ALIKE, _SEED_INK = 16, 4, 10.0
# What the squared distance of another recipe costs, in CIEDE2000, in gamut and beyond, what it costs there
# at most, and between which errors of the closest recipe a colour passes from the one to the other.
_FAMILY, _MOST_INSIDE, _INSIDE = (0.1, 0.6), 0.25, (0.1, 0.5)
# By how much less of every ink is aimed for than the field has, for each ink beyond four: between its nodes
# it blends families of recipes, and so traces go that a colour can do without. Colour outweighs it by far.
_LESS = 0.01
#: How many seeds close in Lab are compared before ways start from the best.
CANDIDATES = 64


@dataclass(frozen=True)
class Inverse:
    """All that is needed to turn colours into inks.

    Attributes
    ----------
    exact : InksToLab
        The forward model.
    quick : InksToLab
        The same, tabulated where that is possible.
    limits : InkLimits
        Ink limits, that of black at most the policy's maximum.
    policy : BlackPolicy
        Black policy.
    black : int or None
        Which ink is black.
    curve : BlackCurve or None
        Pure black by lightness.
    seeds, seed_lab : ndarray
        Legal recipes that solutions start from, and their Lab.
    guide : InksToLab
        What is evaluated on the way: ``quick``, or a rough copy of it for many inks.
    field : RecipeField
        Recipes that solutions start from.
    pure, pure_lab : ndarray
        Recipes that are given back exactly for their own colours, and those: bare cloth and solids,
        that of black only where the policy asks for pure black.
    dark_end : DarkEnd or None
        Darkest neutral that recipes lead to.
    """

    exact: InksToLab
    quick: InksToLab
    limits: InkLimits
    policy: BlackPolicy
    black: int | None
    curve: BlackCurve | None
    seeds: FloatArray
    seed_lab: FloatArray
    guide: InksToLab
    field: RecipeField
    pure: FloatArray
    pure_lab: FloatArray
    dark_end: DarkEnd | None

    @property
    def n_inks(self) -> int:
        """Number of inks."""
        return self.exact.n_inks

    @property
    def many(self) -> bool:
        """Whether there are so many inks that a colour has several families of recipes."""
        return has_many(self.limits)


def has_many(limits: InkLimits) -> bool:
    """Return whether a colour has several families of recipes."""
    return spare_inks(limits) > 0


def spare_inks(limits: InkLimits) -> int:
    """Return how many inks there are beyond those that give a colour one family of recipes."""
    return max(int((limits.per_ink > 0).sum()) - FEW_INKS, 0)


def approach(
    inverse: Inverse,
    model: InksToLab,
    lab: FloatArray,
    start: FloatArray,
    aims: FloatArray,
    wishes: FloatArray,
    rounds: int,
) -> FloatArray:
    """Return recipes at the end of the way from a start: on the guide, then a few steps on the model."""
    inks = descend(inverse.guide, inverse.limits, lab, start, wishes, aims, rounds, CLOSE_DAMPING)
    if model is inverse.guide:
        return inks
    last = _LAST_OF_MANY if inverse.many else _LAST_ROUNDS
    return descend(model, inverse.limits, lab, inks, wishes, aims, last, CLOSE_DAMPING)


def aims_for(inverse: Inverse, lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what the field has for colours, legal, and aims: the same with the policy's black.

    Of many inks it is read where its blur lands on the colours, and a little less is aimed for. Its
    departures from the policy are smooth; the policy itself need not be, and is asked at the colour.
    Near solids and the darkest neutral both lead to those; of few inks black keeps to the policy there.
    """
    place = inverse.field.sharp(inverse.guide, lab) if inverse.many else lab
    start = inverse.field.at(place)
    aims = start - _LESS * spare_inks(inverse.limits)
    if not inverse.many:
        _draw_to_known(inverse, _no_darker(inverse, lab), start, aims)
    if inverse.black is not None and inverse.curve is not None:
        black = black_goal(inverse.policy, inverse.curve, lab) + inverse.field.departure(inverse.black, place)
        aims[:, inverse.black] = np.clip(black, 0.0, inverse.limits.per_ink[inverse.black])
    if inverse.many:
        _draw_to_known(inverse, lab, start, aims)
    return start, aims


def _draw_to_known(inverse: Inverse, lab: FloatArray, *recipes: FloatArray) -> None:
    """Move recipes towards those that are known of colours near."""
    inks, known, reach = _anchors(inverse)
    if len(inks):
        share, solids = near_solids(lab, inks, known, reach)
        for one in recipes:
            one += share[:, None] * (solids - one)


def _no_darker(inverse: Inverse, lab: FloatArray) -> FloatArray:
    """Return colours no darker than the darkest neutral: all that is below is as near to it."""
    if inverse.dark_end is None:
        return lab
    return np.column_stack([np.maximum(lab[:, 0], inverse.dark_end.lab[0]), lab[:, 1:]])


def _anchors(inverse: Inverse) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return recipes that colours near their own are drawn to, their Lab, and from how far.

    Of few inks the dark end's alone.
    """
    inked = inverse.pure.any(axis=1) & inverse.many
    inks, lab = inverse.pure[inked], inverse.pure_lab[inked]
    off = np.abs(inverse.field.at(lab) - inks).sum(axis=1)
    reach = np.clip(off / _SOLIDS_SLOPE, _SOLIDS_REACH, _FARTHEST_REACH)
    if inverse.dark_end is not None:
        inks, lab = np.vstack([inks, inverse.dark_end.inks]), np.vstack([lab, inverse.dark_end.lab])
        reach = np.append(reach, _SOLIDS_REACH)
    return inks, lab, reach


def field_wishes(inverse: Inverse, count: int) -> FloatArray:
    """Return what inks' distance from the aims weighs in so many recipes, shape (count, n_inks)."""
    wishes = np.full((count, inverse.n_inks), FIELD_WEIGHT)
    if inverse.black is not None and not inverse.many:
        wishes[:, inverse.black] = _BLACK_WEIGHT
    return wishes


def table_wishes(inverse: Inverse, lab: FloatArray, inks: FloatArray) -> FloatArray:
    """Return the same for tables of many inks, which no search on the exact model finishes.

    It follows how much the ink shows that shows most in recipes near, shape (m, n_inks).
    """
    slope = inverse.guide.jacobian(inks)[1]
    most = ((colour_weights(lab) @ slope) ** 2).sum(axis=1).max(axis=1, keepdims=True)
    return np.repeat(np.clip(_TABLE_WEIGHT * most, *_TABLE_WEIGHTS), inverse.n_inks, axis=1)


def closest(
    inverse: Inverse, model: InksToLab, lab: FloatArray, starts: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return recipes, their Lab and the errors of the best way from some of the closest seeds."""
    seeds = cKDTree(inverse.seed_lab).query(lab, k=range(1, starts + 1), workers=1)[1]
    wanted = np.repeat(lab, starts, axis=0)
    start = inverse.seeds[seeds.ravel()]
    wishes = field_wishes(inverse, len(wanted))
    inks = approach(inverse, model, wanted, start, aims_for(inverse, wanted)[1], wishes, SECOND_ROUNDS)
    reached = model.lab(inks)
    error = delta_e_2000(wanted, reached).reshape(len(lab), starts)
    best = np.arange(len(lab)) * starts + error.argmin(axis=1)
    return inks[best], reached[best], error.min(axis=1)


def alike(
    inverse: Inverse, model: InksToLab, lab: FloatArray, inks: FloatArray, *, straight: bool = False
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return recipes of many inks, their Lab and errors: closer ones where they are worth their distance.

    Many starts find recipes of other families that are as close to a colour, and which of them is the
    closest changes from one colour to the next. So what a recipe is away from the one given, shape
    (m, n_inks), counts beside its error: little in gamut, where colours are to be met, more beyond.
    The ways begin on the guide; where it leads astray, straight ones from what the model finds closest,
    which take several times as long, do without.
    """
    count, starts = len(lab), _STARTS + _ALIKE + 1
    look = np.column_stack([inverse.seed_lab, _SEED_INK * inverse.seeds])
    near = cKDTree(look).query(np.column_stack([lab, _SEED_INK * inks]), range(1, _ALIKE + 1), workers=1)[1]
    close = cKDTree(inverse.seed_lab).query(lab, range(1, CANDIDATES + 1), workers=1)[1]
    if straight:
        seen = model.lab(inverse.seeds[close.ravel()]).reshape(count, CANDIDATES, 3)
        close = np.take_along_axis(close, delta_e_2000(lab[:, None], seen).argsort(axis=1), axis=1)
    close = close[:, :_STARTS]
    start = np.concatenate([inverse.seeds[np.column_stack([close, near])], inks[:, None]], axis=1)
    goal, aims = (np.repeat(part, starts, axis=0) for part in (lab, aims_for(inverse, lab)[1]))
    wishes = field_wishes(inverse, len(goal))
    start = start.reshape(-1, inverse.n_inks)
    if straight:
        found = descend(model, inverse.limits, goal, start, wishes, aims, SECOND_ROUNDS, CLOSE_DAMPING)
    else:
        found = approach(inverse, model, goal, start, aims, wishes, SECOND_ROUNDS)
    # What was given stands last.
    found = np.concatenate([found.reshape(count, starts, inverse.n_inks), inks[:, None]], axis=1)
    reached = model.lab(found.reshape(-1, inverse.n_inks)).reshape(count, starts + 1, 3)
    error = delta_e_2000(lab[:, None], reached)
    beyond = np.clip((error.min(axis=1) - _INSIDE[0]) / (_INSIDE[1] - _INSIDE[0]), 0.0, 1.0)
    away = ((found - inks[:, None]) ** 2).sum(axis=2)
    inside, outside = np.minimum(_FAMILY[0] * away, _MOST_INSIDE), _FAMILY[1] * away
    cost = error + inside + beyond[:, None] * (outside - inside)
    rows, best = np.arange(count), cost.argmin(axis=1)
    return found[rows, best], reached[rows, best], error[rows, best]
