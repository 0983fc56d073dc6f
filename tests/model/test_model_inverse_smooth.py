"""Recipes along ramps: even steps, no reversals, and no more change of ink than the colours demand."""

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.rendering import render
from strikeoff.model.descent import descend
from strikeoff.model.inverse import solve
from strikeoff.model.limits import InkLimits
from strikeoff.model.recipe_field import RecipeField, neighbour_mean

BOTH = pytest.mark.parametrize("which", ["measured_condition", "smoothed_condition"])
CORNERS = ("C", "M", "Y", "K", "MY", "CY", "CM", "CMY", "darkest")
POINTS = 97
HUES = np.radians(np.arange(0, 360, 45))


@pytest.fixture
def condition(request, which):
    return request.getfixturevalue(which)


def even(start, end):
    """A straight line in Lab whose points are equally far apart in CIEDE2000."""
    fine = start + np.linspace(0, 1, 2001)[:, None] * (end - start)
    walked = np.concatenate([[0], np.cumsum(delta_e_2000(fine[:-1], fine[1:]))])
    places = np.interp(np.linspace(0, walked[-1], POINTS), walked, np.linspace(0, 1, 2001))
    return start + places[:, None] * (end - start)


def corner_ramps(condition):
    ramps = []
    for corner in CORNERS:
        if corner == "darkest":
            end = condition.connection.from_relative(condition.black_lab[None])[0]
        else:
            recipe = np.array([[float(ink in corner) for ink in "CMYK"]])
            end = condition.native.lab(recipe)[0]
        ramps.append(even(condition.cloth_lab, end))
    return np.array(ramps)


def boundary_ramps(lightness):
    out = [[lightness, np.cos(h) * 130.0, np.sin(h) * 130.0] for h in HUES]
    return np.array([even(np.array([lightness, 0.0, 0.0]), np.array(end)) for end in out])


def per_colour(lab, inks):
    """Change of ink per CIEDE2000, shape (ramps, steps); standing still counts as a third of a step."""
    steps = np.array([delta_e_2000(one[:-1], one[1:]) for one in lab])
    steps = np.maximum(steps, 0.3 * np.median(steps, axis=1, keepdims=True))
    return np.abs(np.diff(inks, axis=1)).sum(axis=2) / steps


def least_change(inverse, lab, inks):
    """The same colours with inks relaxed along each ramp alone, its ends free: what the ramp needs."""
    shape, x = inks.shape, inks.copy()
    targets = lab.reshape(-1, 3)
    for _ in range(60):
        mean = 0.5 * (
            np.concatenate([x[:, 1:2], x[:, :-1]], axis=1) + np.concatenate([x[:, 1:], x[:, -2:-1]], axis=1)
        )
        flat, aims = x.reshape(-1, shape[2]), mean.reshape(-1, shape[2])
        wishes = np.full(shape[2], 0.02)
        x = descend(inverse.quick, inverse.limits, targets, flat, wishes, aims, 2, 1e-3).reshape(shape)
    held = delta_e_2000(targets, inverse.quick.lab(x.reshape(-1, shape[2])))
    assert held.max() < 0.05
    return x


def solved(condition, ramps):
    found = solve(condition.inverse, ramps.reshape(-1, 3), exact=False)
    return found.lab.reshape(ramps.shape), found.inks.reshape((*ramps.shape[:2], -1))


@BOTH
def test_ramps_to_the_corners_are_even(condition):
    ramps = corner_ramps(condition)
    lab, _ = solved(condition, ramps)
    steps = np.array([delta_e_2000(one[:-1], one[1:]) for one in lab])
    assert (steps.max(axis=1) <= 3.0 * np.median(steps, axis=1)).all()
    assert np.diff(lab[:, :, 0], axis=1).max() <= 0.0


@BOTH
def test_steps_across_the_boundary_are_never_large(condition):
    for lightness in (30.0, 50.0, 70.0):
        ramps = boundary_ramps(lightness)
        lab, _ = solved(condition, ramps)
        asked = np.array([delta_e_2000(one[:-1], one[1:]) for one in ramps])
        steps = np.array([delta_e_2000(one[:-1], one[1:]) for one in lab])
        assert (steps.max(axis=1) <= 3.0 * np.median(asked, axis=1)).all()


@BOTH
def test_inks_change_no_more_than_the_ramps_need(condition):
    """Within three times the least at the same colours, from white, along neutrals, across the edge."""
    dark = np.array([[100.0, 0, 0], [condition.black_lab[0], 0, 0]])
    ends = condition.connection.from_relative(dark)
    grey = [even(ends[0], ends[1]), even(ends[0], np.zeros(3))]
    ramps = np.concatenate([corner_ramps(condition), grey, boundary_ramps(50.0)])
    lab, inks = solved(condition, ramps)
    mine = per_colour(lab, inks).max(axis=1)
    least = per_colour(lab, least_change(condition.inverse, lab, inks)).max(axis=1)
    assert (mine <= 3.0 * least).all()


@BOTH
def test_inks_do_not_jump_below_the_darkest_neutral(condition):
    ramp = np.zeros((161, 3))
    ramp[:, 0] = np.linspace(40, 0, 161)
    targets = condition.connection.from_relative(ramp)
    found = solve(condition.inverse, targets, exact=False)
    assert np.abs(np.diff(found.inks, axis=0)).max() < 0.2
    assert np.diff(found.inks[:, 3]).min() > -0.02  # black never steps back
    assert np.diff(found.lab[:, 0]).max() < 0.01


@BOTH
def test_mapped_colours_change_evenly_too(condition):
    """Through the relative intent, which moves colours at constant hue in place of the closest one."""
    ramps = corner_ramps(condition)
    relative = condition.connection.to_relative(ramps.reshape(-1, 3))
    lab = render(condition, relative, "relative").lab.reshape(ramps.shape)
    steps = np.array([delta_e_2000(one[:-1], one[1:]) for one in lab])
    assert (steps.max(axis=1) <= 3.0 * np.median(steps, axis=1)).all()
    assert np.diff(lab[:, :, 0], axis=1).max() <= 0.02


@BOTH
def test_pure_inks_and_cloth_are_exact(condition):
    """Two decimals of Lab name them; black stays a mixture unless pure black is asked for."""
    solids = condition.native.lab(np.eye(4)).round(2)
    found = solve(condition.inverse, np.vstack([condition.cloth_lab.round(2), solids[:3]]))
    np.testing.assert_array_equal(found.inks, np.vstack([np.zeros(4), np.eye(4)[:3]]))
    assert solve(condition.inverse, solids[3:]).inks[0, :3].sum() > 0.1


def test_the_field_is_legal_and_follows_a_plane():
    """Cubic B-splines with the nodes as coefficients reproduce straight fields inside the grid."""
    grid = np.stack(np.meshgrid(*[np.arange(6.0)] * 3, indexing="ij"), axis=-1)
    field = RecipeField(np.array([10.0, -20, -30]), np.array([5.0, 8, 10]), 0.05 * grid, 0.0 * grid)
    place = np.random.default_rng(0).uniform(1.5, 3.5, (50, 3))
    got = field.at(field.low + place * field.spacing)
    np.testing.assert_allclose(got, 0.05 * place, atol=1e-12)
    far = field.at(np.array([[-500.0, 0, 0], [500, 500, 500]]))
    assert InkLimits(np.ones(3), np.ones(3), 0.75).legal(far).all()


def test_the_neighbour_mean_is_that_of_six():
    grid = np.zeros((5, 5, 5, 1))
    grid[2, 2, 2] = 6.0
    mean = neighbour_mean(grid)
    assert mean[2, 2, 2] == 0.0
    assert [mean[i, j, k, 0] for i, j, k in ((1, 2, 2), (2, 3, 2), (2, 2, 3))] == [1.0, 1.0, 1.0]
    assert mean.sum() == pytest.approx(6.0)
    np.testing.assert_allclose(neighbour_mean(np.full((3, 4, 5, 2), 0.3)), 0.3)
