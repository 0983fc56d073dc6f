"""Black along greys: as the policy says where it begins, never a jump where the inks cannot do without."""

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest

from strikeoff.model.black import black_goal
from strikeoff.model.descent import colour_weights
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.least_black import greys_with_black, least_path
from strikeoff.model.limits import InkLimits

BOTH = pytest.mark.parametrize("which", ["measured_condition", "smoothed_condition"])


@pytest.fixture
def condition(request, which):
    return request.getfixturevalue(which)


def greys(condition, lightest, darkest, step):
    ramp = np.zeros((round((lightest - darkest) / step) + 1, 3))
    ramp[:, 0] = np.linspace(lightest, darkest, len(ramp))
    return condition.connection.from_relative(ramp)


def with_policy(condition, total=3.0, **changes):
    limits = InkLimits(condition.limits.per_ink, condition.limits.weights, total)
    policy = replace(condition.policy, **changes)
    return make_inverse(condition.native, condition.inks, limits, policy, condition.table)


@BOTH
@pytest.mark.parametrize("total", [1.8, 2.2, 3.0])
def test_least_black_rises_without_a_jump(condition, total):
    """Where the total is full, a little black in place of much ink is lighter: it must come in before."""
    inverse = with_policy(condition, total, strength=0.0)
    lab = greys(condition, 95.0, 10.0, 0.25)
    found = solve(inverse, lab, exact=False)
    reached = found.de00 < 0.1
    assert reached.sum() > 200
    black = found.inks[reached, 3]
    per_lightness = np.diff(black) / -np.diff(lab[reached, 0])
    assert per_lightness.max() < 0.13
    # Where the gamut ends a recipe may step aside by 2 % of black within a quarter L*.
    assert per_lightness.min() > -0.1
    # And the least is little: none from the cloth to the mid-tones.
    assert found.inks[lab[:, 0] > 72.0, 3].max() < 0.02
    assert black.max() > 0.4


@BOTH
@pytest.mark.parametrize(("start", "within"), [(88.0, 0.003), (60.0, 0.012)])
def test_black_begins_where_the_policy_says(condition, start, within):
    """What the policy wants is the reference, from the cloth to 5 L* past the start."""
    inverse = with_policy(condition, start=start)
    lab = greys(condition, 100.0, 20.0, 0.5)
    lab = lab[lab[:, 0] >= start - 5.0]
    goal = black_goal(inverse.policy, inverse.curve, lab)
    found = solve(inverse, lab)
    assert found.de00.max() < 0.1
    assert np.abs(found.inks[:, 3] - goal).max() <= within


@BOTH
def test_amounts_that_greys_can_hold_are_found(condition):
    """Random legal recipes that happen to be grey hold black that is possible, by construction."""
    inverse = condition.inverse
    lightness, amounts = np.linspace(90.0, 20.0, 141), np.linspace(0.0, 1.0, 51)
    axis = condition.connection.from_relative(np.column_stack([lightness, np.zeros((141, 2))]))
    possible = greys_with_black(inverse.quick, inverse.limits, 3, axis, amounts, inverse.seeds)
    rng = np.random.default_rng(6)
    recipes = np.sqrt(rng.random((400_000, 1))) * [1.0, 0.8, 0.8, 0.0] + 0.15 * rng.standard_normal(
        (400_000, 4)
    )
    recipes[:, 3] = rng.random(400_000)
    recipes = recipes[inverse.limits.legal(recipes)]
    lab = inverse.quick.lab(recipes)
    row = np.abs(lab[:, :1] - axis[:, 0]).argmin(axis=1)
    missed = np.einsum("mij,mj->mi", colour_weights(axis[row]), lab - axis[row])
    grey = (missed**2).sum(axis=1) < 0.25**2
    assert grey.sum() > 100
    column = np.rint(recipes[grey, 3] / 0.02).astype(int)
    near = [possible[r, max(c - 1, 0) : c + 2].any() for r, c in zip(row[grey], column, strict=True)]
    assert np.mean(near) == 1.0
    # Neither pale greys with much black nor the darkest without are possible.
    assert not possible[lightness > 80.0, 20:].any()
    assert not possible[-1, 0]


def cheapest(possible, most_steps):
    """The lowest of all paths that never fall, by trying every one."""
    paths = [
        path
        for path in product(range(possible.shape[1]), repeat=len(possible))
        if all(0 <= b - a <= most_steps for a, b in pairwise(path))
        and possible[np.arange(len(possible)), path].all()
    ]
    return min(paths, default=None)


def test_the_least_path_is_the_lowest_of_all():
    rng, compared = np.random.default_rng(0), 0
    for _ in range(150):
        possible = rng.random((5, 5)) < 0.7
        best = cheapest(possible, 2)
        if best is not None and possible[-1].any():
            compared += 1
            assert least_path(possible, 2).tolist() == list(best)
    assert compared > 50
