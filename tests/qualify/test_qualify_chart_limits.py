"""Limits of charts where inks count by curves."""

from dataclasses import replace

import numpy as np

from strikeoff.chart.patch_sets import ChartLimits
from strikeoff.model.limits import InkLimits
from strikeoff.qualify.chart_limits import chart_limits

NODE = np.linspace(0, 1, 65)
CURVED = InkLimits(np.ones(3), np.ones(3), 1.2, curves=np.tile(NODE**2, (3, 1)))
STRAIGHT = InkLimits(np.array([1.0, 1.0, 0.8]), np.array([1.0, 0.5, 1.0]), 1.9)


def test_straight_limits_are_those_of_charts():
    found = chart_limits(STRAIGHT, replace(STRAIGHT, per_ink=np.ones(3)))
    assert type(found) is ChartLimits
    assert (found.total, found.weights.tolist(), found.per_ink.tolist()) == (1.9, [1, 0.5, 1], [1, 1, 0.8])


def test_charts_print_up_to_the_curves():
    limits = chart_limits(CURVED)
    recipes = np.random.default_rng(0).random((500, 3))
    kept = limits.kept(recipes)
    assert CURVED.legal(kept).all()
    over = ~CURVED.legal(recipes)
    assert over.sum() > 50
    assert CURVED.sums(kept[over]).min() > 1.19
    assert (kept[over].sum(axis=1) > 1.25).all()
    spared = limits.kept(np.ones((1, 3)), spared=2)
    np.testing.assert_allclose(spared, [[0.316, 0.316, 1.0]], atol=1e-9)


def test_charts_keep_every_limit_and_a_lower_total():
    limits = chart_limits(CURVED, STRAIGHT)
    kept = limits.kept(np.random.default_rng(1).random((500, 3)))
    assert (CURVED.legal(kept) & STRAIGHT.legal(kept)).all()
    lower = replace(limits, total=0.6)
    kept = lower.kept(np.random.default_rng(2).random((500, 3)))
    assert CURVED.sums(kept).max() <= 0.6
