"""Recipes for colours beyond the gamut: the least of what several ways cost.

Where the edge has dents, a way from one start ends in the dent it meets first, and which that is changes
from one colour to the next. The least of several changes less often.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.descent import colour_weights, costs, descend, squared_misses
from strikeoff.model.limits import InkLimits
from strikeoff.model.table import InksToLab
from strikeoff.model.ways import (
    CANDIDATES,
    CLOSE_DAMPING,
    SECOND_ROUNDS,
    Inverse,
    aims_for,
    approach,
)

FloatArray = NDArray[np.float64]

# Many inks: what the distance from the field weighs where it is held to, steps of that way, and by how much
# colours in gamut may be missed there. [CIEDE2000, about]
_HELD_WEIGHT, _HELD_ROUNDS, _HELD_MISFIT = 20.0, 12, 0.1
# What an ink shows beside the ink that shows most where it is held as firmly, and how firmly any is, in
# colours darker than the one L* and lighter than the other. [-]
_SHOWS, _LEAST_FIRM, _FIRM_L = 0.2, (1.0, 0.05), (40.0, 60.0)
# Ink that is held less firmly than the one is tried with so much of its limit where colours are missed by
# more than the one and less than the other.
_WEAK, _MUCH, _MISSED = 0.1, 0.8, (0.25, 3.0)
# How far out starts are read that the field does not hold, 0 the recipe itself [Lab], how near to a colour
# they must lead, and by how much nearer than what is there. [CIEDE2000]
_FARTHER, _MET, _WORTH = (0.0, 4.0), 1.0, 0.05
# Colours are met the more by what is let go, the more is missed by what is held, from the one to the other,
# the less that still misses, and the less is missed so far that nothing is let go any more. [CIEDE2000]
_LETTING_GO, _STILL_MISSING, _TOO_FAR = (0.3, 1.0), (0.5, 1.0), (1.5, 2.2)
# Steps after which a way must have come so much nearer to be gone on with. [CIEDE2000]
_FIRST_STEPS, _PROMISING = 4, 0.1
# How many seeds are started from, and how near to a limit counts as at it.
_BEST, _NEARLY = 2, 0.1


def held_way(
    inverse: Inverse, lab: FloatArray, start: FloatArray, aims: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return recipes that hardly leave the field, how far outside colours are, and how firm inks are held.

    Beyond the gamut of many inks the closest recipe is now of one family, now of another, with nothing
    between that is as close. Held to the field recipes do not jump, and arrive only in gamut: so what they
    miss by, shape (m,), about in CIEDE2000, says smoothly where the field is to be held to. An ink that
    hardly shows, such as yellow on a full orange, has far to go for the last of a colour, and is held less
    where colours are light; in the dark few inks show, and families of recipes are many. The parts of being
    held, 0-1, are of shape (m, n_inks), as the recipes are.
    """
    guide, limits = inverse.guide, inverse.limits
    firm = _firmness(lab, guide.jacobian(start)[1])
    wishes = _HELD_WEIGHT * firm
    inks = descend(guide, limits, lab, start, wishes, aims, _HELD_ROUNDS, CLOSE_DAMPING)
    reached = guide.lab(inks)
    rows = np.flatnonzero(squared_misses(lab, reached) > _HELD_MISFIT**2)
    if len(rows):
        goal = (lab[rows], wishes[rows], aims[rows])
        least = costs(limits, goal[0], reached[rows], inks[rows], *goal[1:])
        for seed in _cheapest_seeds(inverse, *goal):
            found = descend(guide, limits, goal[0], seed, *goal[1:], _HELD_ROUNDS, CLOSE_DAMPING)
            colour = guide.lab(found)
            cost = costs(limits, goal[0], colour, found, *goal[1:])
            better = cost < least
            taken, least = rows[better], np.minimum(cost, least)
            inks[taken], reached[taken] = found[better], colour[better]
    return inks, np.maximum(np.sqrt(squared_misses(lab, reached)) - _HELD_MISFIT, 0.0), firm


def with_weak_inks(
    inverse: Inverse,
    model: InksToLab,
    lab: FloatArray,
    inks: FloatArray,
    wishes: FloatArray,
    aims: FloatArray,
    firm: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return recipes of many inks and their Lab: with much of an ink that hardly shows where that is better.

    The last of a colour may need much of such an ink, as an orange that is a little yellower needs nearly all
    the yellow: tones of dyes begin flat, and from none of it no small step is worth while. Each ink of which
    ``firm``, as from `held_way`, is little is tried, one at a time, on the model itself: its rough copy has
    other flat tones.
    """
    out, colour = inks.copy(), model.lab(inks)
    error, least = delta_e_2000(lab, colour), costs(inverse.limits, lab, colour, inks, wishes, aims)
    missed = (error > _MISSED[0]) & (error < _MISSED[1])
    for ink, most in enumerate(_MUCH * inverse.limits.per_ink):
        rows = np.flatnonzero(missed & (firm[:, ink] < _WEAK) & (inks[:, ink] < most))
        if not len(rows):
            continue
        start = inks[rows]
        start[:, ink] = most
        start = inverse.limits.pulled_in(start)
        way = (lab[rows], start, wishes[rows], aims[rows])
        promising, found = _ways_that_help(inverse, model, *way, error[rows])
        rows = rows[promising]
        reached = model.lab(found)
        cost = costs(inverse.limits, lab[rows], reached, found, wishes[rows], aims[rows])
        better = cost < least[rows]
        taken = rows[better]
        out[taken], colour[taken], least[taken] = found[better], reached[better], cost[better]
    return out, colour


def let_go(
    inverse: Inverse,
    model: InksToLab,
    lab: FloatArray,
    inks: FloatArray,
    colour: FloatArray,
    wishes: FloatArray,
    aims: FloatArray,
    free: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return recipes of many inks, their Lab and that aimed at: let go by the field what is within reach.

    What is held to the field may miss colours in gamut a little: they are tried once more without. Near the
    edge of the gamut the field passes from one family of recipes to another, and what lies between is farther
    from the colours than either: ways from there end in the family that they began in, though the next one
    would meet the colour. So what is still missed is tried from where the field is read farther out, the way
    it is missed, and with much of each ink and none of it.

    Families meet in no recipe, so that a colour met by another than its neighbour's would leap by what the
    neighbour misses. What is let go therefore aims between ``colour``, where what is held ends, and the
    colour wanted: at the one where hardly anything is missed, or too much, at the other between. ``free``,
    0-1, shape (m,), is how much may be let go at all; ``wishes`` and ``aims`` are as in `descend`.
    """
    out, reached = inks.copy(), colour.copy()
    missed = delta_e_2000(lab, colour)
    share = free * np.interp(missed, _LETTING_GO, (0.0, 1.0)) * np.interp(missed, _TOO_FAR, (1.0, 0.0))
    error, worth = missed.copy(), share * missed > _WORTH
    for turn in range(len(_FARTHER) + 2 * inverse.n_inks):
        rows = np.flatnonzero(worth & (error > _MISSED[0]))
        start = _start(inverse, lab[rows], out[rows], reached[rows], turn)
        other = (start != out[rows]).any(axis=1) | (turn == 0)
        rows, start = rows[other], start[other]
        way = (lab[rows], start, wishes[rows], aims[rows])
        promising, found = _ways_that_help(inverse, model, *way, error[rows])
        rows = rows[promising]
        closer = model.lab(found)
        misses = delta_e_2000(lab[rows], closer)
        least = costs(inverse.limits, lab[rows], reached[rows], out[rows], wishes[rows], aims[rows])
        better = costs(inverse.limits, lab[rows], closer, found, wishes[rows], aims[rows]) < least
        better &= (misses < _MET) & (misses < error[rows] - _WORTH)
        taken = rows[better]
        out[taken], reached[taken], error[taken] = found[better], closer[better], misses[better]
    share *= np.interp(error, _STILL_MISSING, (1.0, 0.0))
    stays = share * (missed - error) < _WORTH
    out[stays], reached[stays] = inks[stays], colour[stays]
    aimed = np.where(stays[:, None], lab, colour + share[:, None] * (lab - colour))
    rows = np.flatnonzero(~stays & (share < 1.0))
    way = (aimed[rows], out[rows], wishes[rows], aims[rows])
    out[rows] = descend(model, inverse.limits, *way, SECOND_ROUNDS, CLOSE_DAMPING)
    reached[rows] = model.lab(out[rows])
    return out, reached, aimed


def _ways_that_help(
    inverse: Inverse,
    model: InksToLab,
    lab: FloatArray,
    start: FloatArray,
    wishes: FloatArray,
    aims: FloatArray,
    error: FloatArray,
) -> tuple[NDArray[np.intp], FloatArray]:
    """Return which ways come nearer than ``error``, shape (m,), and the recipes that they end in.

    The first steps tell, and only those ways are gone on with.
    """
    found = descend(model, inverse.limits, lab, start, wishes, aims, _FIRST_STEPS, CLOSE_DAMPING)
    near = np.flatnonzero(delta_e_2000(lab, model.lab(found)) < error - _PROMISING)
    way = (lab[near], found[near], wishes[near], aims[near])
    return near, descend(model, inverse.limits, *way, SECOND_ROUNDS, CLOSE_DAMPING)


def _start(inverse: Inverse, lab: FloatArray, inks: FloatArray, reached: FloatArray, turn: int) -> FloatArray:
    """Return where a try of `let_go` starts: the field farther out, or with much of an ink or none of it."""
    if turn < len(_FARTHER):
        missed = lab - reached
        away = missed / np.maximum(np.linalg.norm(missed, axis=1, keepdims=True), 1e-9)
        return inverse.field.at(lab + _FARTHER[turn] * away) if _FARTHER[turn] else inks
    ink, none = divmod(turn - len(_FARTHER), 2)
    start, most = inks.copy(), _MUCH * inverse.limits.per_ink[ink]
    start[:, ink] = 0.0 if none else np.maximum(start[:, ink], most)
    return start if none else inverse.limits.pulled_in(start)


def _firmness(lab: FloatArray, slope: FloatArray) -> FloatArray:
    """Return how firmly inks are held, 0-1, shape (m, n_inks), by what they show: slopes of Lab."""
    shown = ((colour_weights(lab) @ slope) ** 2).sum(axis=1)
    fully = np.maximum(_SHOWS**2 * shown.max(axis=1, keepdims=True), 1e-12)
    least = np.interp(lab[:, :1], _FIRM_L, _LEAST_FIRM)
    return np.asarray(np.clip(shown / fully, least, 1.0))


def best_beyond(
    inverse: Inverse, model: InksToLab, inks: FloatArray, lab: FloatArray, wishes: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return recipes of few inks and their Lab for colours beyond the gamut, the best of several ways.

    The edge, its dark end above all, has dents that are nearly as good. Recipes that change between
    them step back along ramps; only the best of all never do.
    """
    laid, aims = aims_for(inverse, lab)
    out, colour, least = inks, lab, np.full(len(lab), np.inf)
    starts = [inks, laid, *_cheapest_seeds(inverse, lab, wishes, aims)]
    for turn in range(len(starts) + 2):
        if turn < len(starts):
            start = starts[turn]
        else:  # limits are convex, so that means are legal
            start = _at_limits(inverse.limits, out) if turn == len(starts) else 0.5 * (out + laid)
        found = approach(inverse, model, lab, start, aims, wishes, SECOND_ROUNDS)
        reached = model.lab(found)
        cost = costs(inverse.limits, lab, reached, found, wishes, aims)
        better = cost < least
        out, colour = np.where(better[:, None], found, out), np.where(better[:, None], reached, colour)
        least = np.where(better, cost, least)
    return out, colour


def _cheapest_seeds(
    inverse: Inverse, lab: FloatArray, wishes: FloatArray, aims: FloatArray
) -> list[FloatArray]:
    """Return the seeds that cost least of those close to each colour, shapes (m, n_inks), best first."""
    close = cKDTree(inverse.seed_lab).query(lab, range(1, CANDIDATES + 1), workers=1)[1].T
    each = [costs(inverse.limits, lab, inverse.seed_lab[s], inverse.seeds[s], wishes, aims) for s in close]
    order = np.stack(each).argsort(axis=0)[:_BEST]
    return [inverse.seeds[close[rank, np.arange(len(lab))]] for rank in order]


def _at_limits(limits: InkLimits, inks: FloatArray) -> FloatArray:
    """Return recipes whose nearly full or nearly absent inks are wholly so, where that is legal."""
    full = limits.per_ink
    moved = np.where(inks > full - _NEARLY, full, np.where(inks < _NEARLY, 0.0, inks))
    return np.where(limits.legal(moved)[:, None], moved, inks)
