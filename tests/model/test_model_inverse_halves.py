"""Recipes judged by readings that their model has not seen."""

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.forward import fit_forward
from strikeoff.model.inverse import make_inverse, solve


@pytest.mark.parametrize(("which", "smoothing"), [("measured_condition", 1e-2), ("smoothed_condition", 1e-3)])
def test_recipes_hold_against_the_other_half_of_the_readings(request, which, smoothing):
    """A model of half the readings makes recipes for colours of random legal inks. Their error against
    a quintic spline of the other half, whose smoothing three-fold validation within that half chose,
    is compared with how far the two are apart at the random inks themselves."""
    condition = request.getfixturevalue(which)
    forward, view = condition.forward, condition.native.view
    recipes = forward.recipes
    order = np.random.default_rng(5).permutation(len(recipes))
    corners = np.flatnonzero(((recipes < 0.001) | (recipes > 0.999)).all(axis=1))
    mine, others = (np.union1d(half, corners) for half in (order[::2], order[1::2]))
    model = fit_forward(recipes[mine], forward.repeats[mine], forward.bands[mine], view).under(view)
    judge = RBFInterpolator(
        recipes[others], view.lab(forward.bands[others]), kernel="quintic", degree=2,
        smoothing=smoothing, neighbors=80,
    )  # fmt: skip
    typical = condition.limits.random(250, np.random.default_rng(6))
    aims = model.lab(typical)
    apart = delta_e_2000(aims, judge(typical)).mean()
    found = solve(make_inverse(model, condition.inks, condition.limits, condition.policy), aims)
    error = delta_e_2000(aims, judge(found.inks)).mean()
    assert found.de00.mean() < 0.05
    assert error <= 1.2 * apart
