"""Recipes do not mix inks that no reading holds together. Simulated press; common practice, no source."""

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.mill.press import invented_press
from strikeoff.model import forward
from strikeoff.model.black import BlackPolicy
from strikeoff.model.descent import _keep_apart, mixing
from strikeoff.model.forward import View
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.kernels_descent import bounded_steps
from strikeoff.model.limits import InkLimits, pairs_never_printed

NAMES = "CMYKO"
APART = ((0, 4),)


def charted(rng, count):
    """Recipes as charts of many inks hold them: orange in place of cyan."""
    inks = rng.random((count, 5)) * (rng.random((count, 5)) < 0.6)
    return InkLimits(np.ones(5), np.ones(5), 5.0, APART).parted(inks)


@pytest.fixture(scope="module")
def press():
    """A simulated press, the model of a chart without a pair, limits, and recipes of its kind."""
    rng = np.random.default_rng(8)
    inks = np.vstack([np.zeros(5), np.eye(5), charted(rng, 350)])
    inks /= np.maximum(inks.sum(axis=1) / 2.6, 1.0)[:, None]
    printer = invented_press("T1", inks=NAMES)
    bands = printer.print(inks)
    places = np.linspace(0.0, 1.0, bands.shape[1])[:, None]
    matrix = np.exp(-(((places - [0.75, 0.45, 0.1]) / 0.18) ** 2))
    view = View(matrix / matrix.sum(axis=0) * 100.0, np.full(3, 100.0))
    with pytest.MonkeyPatch.context() as patch:
        # Of dyes in one layer, readings of some pairs say what the others do.
        patch.setattr(forward, "fit_layer", lambda *given, **named: None)
        model = forward.fit_forward(inks, np.ones(len(inks)), bands, view).under(view)
    wanted = charted(rng, 400)
    wanted /= np.maximum(wanted.sum(axis=1) / 2.6, 1.0)[:, None]
    return printer, view, model, InkLimits(np.ones(5), np.ones(5), 2.6), inks, wanted


def test_recipes_hold_on_the_press(press, monkeypatch):
    # Both from a field of few nodes, which takes half as long.
    monkeypatch.setattr("strikeoff.model.node_solving.refine", lambda guide, limits, coarse, *rest: coarse)
    printer, view, model, limits, printed, wanted = press
    lab = view.lab(printer.print(wanted))
    errors = {}
    for known in (None, printed):
        inverse = make_inverse(model, tuple(NAMES), limits, BlackPolicy(), printed=known)
        found = solve(inverse, lab)
        mixed = max((found.inks[:, i] * found.inks[:, j]).max() for i, j in APART)
        errors[known is None] = delta_e_2000(lab, view.lab(printer.print(found.inks)))
        assert (mixed < 2e-3) == (known is not None)
        assert limits.legal(found.inks, 1e-6).all()
    assert inverse.limits.apart == APART
    assert np.quantile(errors[False], 0.95) < 0.5 * np.quantile(errors[True], 0.95)


def test_four_inks_are_never_kept_apart(press):
    """A colour of four inks has no other recipe: a chart without a pair must not lose what it makes."""
    _, _, model, _, printed, _ = press
    four = InkLimits(np.array([1.0, 1.0, 1.0, 1.0, 0.0]), np.ones(5), 2.6)
    alone = printed[(printed > 0).sum(axis=1) <= 1]
    assert make_inverse(model, tuple(NAMES), four, BlackPolicy(), printed=alone).limits.apart == ()


def test_traces_of_an_ink_do_not_make_a_pair():
    printed = np.array([[0.5, 0.05, 0.0], [0.0, 0.5, 0.5]])
    used = np.array([True, True, False])
    assert pairs_never_printed(printed, used) == ((0, 1),)
    assert pairs_never_printed(printed, ~used) == ()


def test_the_price_of_mixing_falls_as_its_slope_says():
    limits = InkLimits(np.ones(3), np.ones(3), 3.0, ((0, 2), (1, 2)))
    inks = np.random.default_rng(0).random((5, 3))
    hessian, gradient = np.zeros((5, 3, 3)), np.zeros((5, 3))
    _keep_apart(limits, inks, hessian, gradient)
    np.testing.assert_allclose(mixing(limits, inks), 1e4 * (inks[:, 2:] ** 2 * inks[:, :2] ** 2).sum(axis=1))
    for k in range(3):
        step = 1e-6 * np.eye(3)[k]
        slope = (mixing(limits, inks + step) - mixing(limits, inks - step)) / 2e-6
        np.testing.assert_allclose(2.0 * gradient[:, k], slope, rtol=1e-6)
    np.testing.assert_allclose(hessian, np.swapaxes(hessian, 1, 2))


def test_steps_from_a_corner_where_the_total_binds_are_numbers():
    """All inks at limits and the total full: no ink is free, and the total's multiplier is not defined."""
    inks = np.array([[1.0, 1.0, 0.0]])
    gradient = np.array([[-1.0, -2.0, -3.0]])
    step = np.empty_like(inks)
    one = np.ones(3)
    bounded_steps(np.eye(3)[None], gradient, inks, np.zeros(3), one, one, 2.0, step)
    assert np.isfinite(step).all()
    assert (inks + step).sum() <= 2.0 + 1e-9
