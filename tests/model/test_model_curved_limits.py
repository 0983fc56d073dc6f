"""Totals that count inks by convex curves: sums, corners, pulling in, and the descent under them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from strikeoff.model.descent import colour_weights, descend
from strikeoff.model.limits import InkLimits

NODE = np.linspace(0, 1, 65)
CURVES = np.array([NODE**2, NODE**2, 0.8 * NODE**1.5, NODE])
LIMITS = InkLimits(np.array([1.0, 0.9, 1.0, 1.0]), np.array([1.0, 0.9, 0.8, 1.0]), 1.4, curves=CURVES)


class Mixing:
    """A model of four inks that takes light by Beer's law: smooth, and nothing of this package's."""

    n_inks = 4
    paths = np.array([[0.2, 1.0, 0.4, 0.9], [0.9, 0.3, 0.5, 0.9], [0.4, 0.3, 1.2, 0.9]])

    def lab(self, inks):
        return 100 * np.exp(-inks @ self.paths.T) - [0, 50, 50]

    def jacobian(self, inks):
        light = 100 * np.exp(-inks @ self.paths.T)
        return light - [0, 50, 50], -light[:, :, None] * self.paths


def test_sums_interpolate_the_curves():
    rng = np.random.default_rng(0)
    inks = rng.random((200, 4))
    expected = sum(np.interp(inks[:, k], NODE, CURVES[k]) for k in range(4))
    np.testing.assert_allclose(LIMITS.sums(inks), expected, atol=1e-12)
    weights, totals = LIMITS.tangents(inks)
    # A tangent of a convex curve is below it everywhere, so it leaves no legal recipe out.
    others = LIMITS.random(300, rng)
    assert (weights @ others.T <= totals[:, None] + 1e-9).all()
    np.testing.assert_allclose((weights * inks).sum(axis=1) - totals, expected - LIMITS.total, atol=1e-9)


def test_recipes_beyond_are_pulled_onto_the_total_and_others_stay():
    inks = np.random.default_rng(1).random((400, 4)) * LIMITS.per_ink
    over = LIMITS.sums(inks) > LIMITS.total
    pulled = LIMITS.pulled_in(inks)
    assert 50 < over.sum() < 350
    assert LIMITS.legal(pulled).all()
    np.testing.assert_array_equal(pulled[~over], inks[~over])
    np.testing.assert_allclose(LIMITS.sums(pulled[over]), LIMITS.total, atol=1e-4)
    share = pulled[over] / inks[over]
    np.testing.assert_allclose(share - share[:, :1], 0, atol=1e-9)


def test_corners_and_single_inks_fill_the_total():
    corners = LIMITS.corners()
    assert LIMITS.legal(corners).all()
    part = ((corners > 0) & (corners < LIMITS.per_ink)).any(axis=1)
    np.testing.assert_allclose(LIMITS.sums(corners[part]), LIMITS.total, atol=1e-9)
    assert part.sum() >= 12
    np.testing.assert_allclose(LIMITS.alone(), LIMITS.per_ink)
    np.testing.assert_allclose(replace(LIMITS, total=0.25).alone()[0], 0.5, atol=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_the_descent_finds_what_a_general_solver_finds(seed):
    """SLSQP of scipy on the same problem, with the curves as a nonlinear constraint."""
    rng, model = np.random.default_rng(seed), Mixing()
    lab = model.lab(np.array([[0.9, 0.9, 0.9, 0.9]])) + rng.normal(0, 4, (1, 3))
    wishes, aims = np.full(4, 0.5), rng.random((1, 4))
    found = descend(model, LIMITS, lab, np.zeros((1, 4)), wishes, aims, 200)[0]
    weigh = colour_weights(lab)[0]

    def cost(x):
        off = weigh @ (model.lab(x[None])[0] - lab[0])
        return off @ off + wishes @ (x - aims[0]) ** 2

    held = {"type": "ineq", "fun": lambda x: LIMITS.total - float(LIMITS.sums(x))}
    bounds = list(zip(np.zeros(4), LIMITS.per_ink, strict=True))
    best = min(
        float(minimize(cost, start, method="SLSQP", bounds=bounds, constraints=[held]).fun)
        for start in LIMITS.random(8, rng)
    )
    assert LIMITS.legal(found[None]).all()
    assert LIMITS.sums(found) > LIMITS.total - 1e-3
    assert cost(found) <= 1.01 * best + 1e-3
