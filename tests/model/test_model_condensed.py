"""The rough copy of a model of many inks."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.mill.press import invented_press
from strikeoff.model.black import BlackPolicy
from strikeoff.model.condensed import CondensedModel, condense
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.limits import InkLimits


@pytest.fixture(scope="module")
def six():
    """A model of six inks of simulated readings, in nine bands."""
    rng = np.random.default_rng(0)
    inks = rng.random((170, 6)) * (rng.random((170, 6)) < 0.5)
    inks[0] = 0.0
    inks /= np.maximum(inks.sum(axis=1) / 2.5, 1.0)[:, None]
    bands = invented_press("T1", inks="CMYKOB").print(inks)[:, ::4]
    matrix = np.random.default_rng(1).random((bands.shape[1], 3))
    view = View(matrix / matrix.sum(axis=0) * 100.0, np.full(3, 100.0))
    limits = InkLimits(np.full(6, 1.0), np.ones(6), 2.5)
    return fit_forward(inks, np.ones(len(inks)), bands, view).under(view), limits


def test_few_inks_are_left_alone(small_readings):
    condition = small_readings.condition
    assert condense(condition.native, condition.limits) is condition.native


def test_a_copy_is_near_the_model(six):
    model, limits = six
    rough = condense(model, limits)
    assert isinstance(rough, CondensedModel)
    inks = limits.random(300, np.random.default_rng(3))
    error = delta_e_2000(model.lab(inks), rough.lab(inks))
    assert error.mean() < 1.0
    assert np.allclose(rough.lab(inks), rough.jacobian(inks)[0])


def test_a_copy_is_near_the_model_at_the_limits(six):
    """Corners of legal recipes, where random ones seldom are, and recipes of few inks."""
    model, limits = six
    rough = condense(model, limits)
    rng = np.random.default_rng(6)
    few = limits.pulled_in(np.where(rng.random((300, 6)).argsort(axis=1) < 2, rng.random((300, 6)), 0.0))
    for inks in (limits.corners(), few):
        error = delta_e_2000(model.lab(inks), rough.lab(inks))
        assert error.mean() < 0.4
        assert error.max() < 2.0


def test_physics_in_one_pass_is_the_area_coverage_model(six):
    rough = condense(*six)
    inks = np.vstack([np.zeros(6), np.ones(6), np.random.default_rng(4).random((50, 6))])
    value, slope = rough._bands(inks)
    plain, plain_slope = rough.physics.jacobian(inks)
    np.testing.assert_allclose(value, plain, rtol=1e-9)
    np.testing.assert_allclose(slope, plain_slope, rtol=1e-7, atol=1e-10)


def test_an_overprint_fitted_below_zero_reflects_nothing(six):
    """Least squares without bounds leave some roots of dark overprints a little below 0."""
    model, limits = six
    overprints = model.physics.overprints.copy()
    overprints[0b001111, -1] = -0.016
    below = replace(model, physics=replace(model.physics, overprints=overprints))
    inks = limits.random(300, np.random.default_rng(3))
    error = delta_e_2000(below.lab(inks), condense(below, limits).lab(inks))
    assert error.mean() < 1.0


def test_slopes_are_those_of_the_values(six):
    rough = condense(*six)
    inks = np.random.default_rng(5).random((20, 6)) * 0.4 + 0.05
    _, slope = rough.jacobian(inks)
    for k in range(6):
        step = np.zeros(6)
        step[k] = 1e-5
        found = (rough.lab(inks + step) - rough.lab(inks - step)) / 2e-5
        np.testing.assert_allclose(slope[:, :, k], found, atol=2e-3)


def test_pale_colours_are_reached_where_first_drops_count_most():
    """Where tone rises steeply from white the rough copy's slopes are poor; recipes hold all the same."""
    rng = np.random.default_rng(0)
    inks = rng.random((170, 6)) ** 2 * (rng.random((170, 6)) < 0.5)
    inks[0] = 0.0
    inks /= np.maximum(inks.sum(axis=1) / 2.5, 1.0)[:, None]
    bands = invented_press("T1", inks="CMYKOB").print(inks**0.7)[:, ::4]
    matrix = np.random.default_rng(1).random((bands.shape[1], 3))
    view = View(matrix / matrix.sum(axis=0) * 100.0, np.full(3, 100.0))
    limits = InkLimits(np.full(6, 1.0), np.ones(6), 2.5)
    model = fit_forward(inks, np.ones(len(inks)), bands, view).under(view)
    inverse = make_inverse(model, tuple("CMYKOB"), limits, BlackPolicy())
    rng = np.random.default_rng(2)
    pale = limits.random(200, rng) * rng.random((200, 1)) * 0.1
    error = solve(inverse, model.lab(pale), exact=False).de00
    assert np.quantile(error, 0.95) < 0.1
    assert error.max() < 0.4
