"""Convex limits: never above the laid-down total, and close to it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_inks import random_spaces

from strikeoff.condition.ink_space import calibrated_limits, held_limits
from strikeoff.inks.calibrated_total import most_under_curves
from strikeoff.inks.convex_total import CURVE_NODES, convex_above, convex_total, most_under
from strikeoff.inks.records import Ink
from strikeoff.inks.spaces import InkSpaces, identity_spaces
from strikeoff.inks.tables import NODES, straight_curves, to_codes

NODE = np.linspace(0, 1, NODES)


def light_black(total, bulge=0.8, sag=1.8):
    """Six inks that sag and a black whose light ink lays most down in mid-tones."""
    names = ("C", "M", "Y", "K", "O", "V")
    inks = (*(Ink(name) for name in names), Ink("k", "light", "K"))
    tone = np.tile(NODE**sag, (6, 1))
    tone[3] = NODE
    split = straight_curves(7).copy()
    split[3] = to_codes(np.clip((NODE - 0.3) / 0.7, 0, 1))
    split[6] = to_codes(bulge * np.interp(NODE, [0, 0.5, 1], [0, 1, 0]))
    return InkSpaces(names, inks, to_codes(tone), split, split[:, None] * 0 + straight_curves(1), total=total)


def laid(spaces, recipes):
    return spaces.load(spaces.to_laid_down(np.floor(recipes * 65535).astype(np.uint16)))


def on_limits(limits, rng, count):
    """Legal recipes, most of them on the total; few of many inks and all of few."""
    size = len(limits.per_ink)
    recipes = rng.random((count, size)) * limits.per_ink
    recipes[rng.random(recipes.shape) < 0.3] = 0
    full = rng.random(recipes.shape) < 0.3
    recipes = limits.pulled_in(np.where(full, limits.per_ink, recipes))
    return np.vstack([recipes, limits.corners(), limits.random(count, rng)])


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_no_legal_recipe_and_no_mixture_lays_more_down_than_the_total(seed):
    spaces = random_spaces(seed)
    limits, rng = calibrated_limits(spaces), np.random.default_rng(seed)
    recipes = on_limits(limits, rng, 400)
    assert limits.legal(recipes).all()
    # One code of each ink is rounding.
    most = spaces.total + spaces.loads.sum() / 65535
    assert laid(spaces, recipes).max() <= most
    share = rng.random((len(recipes), 1))
    mixed = share * recipes + (1 - share) * recipes[rng.permutation(len(recipes))]
    assert limits.legal(mixed).all()
    assert laid(spaces, mixed).max() <= most


@settings(max_examples=20, deadline=None)
@given(
    total=st.floats(1.05, 5.5),
    bulge=st.floats(0.0, 1.0),
    sag=st.floats(0.5, 3.0),
    seed=st.integers(0, 10_000),
)
def test_a_light_black_lays_no_more_down_than_the_total(total, bulge, sag, seed):
    spaces = light_black(total, bulge, sag)
    limits = calibrated_limits(spaces)
    recipes = on_limits(limits, np.random.default_rng(seed), 400)
    assert laid(spaces, recipes).max() <= total + 7 / 65535


@settings(max_examples=60, deadline=None)
@given(
    load=st.lists(st.floats(0, 2), min_size=2, max_size=30),
    slope=st.floats(0, 5),
)
def test_a_convex_curve_is_convex_and_above(load, slope):
    ink, y = np.linspace(0, 1, len(load)), np.array(load)
    curve = convex_above(ink, y, slope)
    rises = np.diff(curve) / np.diff(ink)
    assert (curve >= y - 1e-9).all()
    assert (np.diff(rises) >= -1e-6).all()
    assert rises.max() <= slope + 1e-6
    assert rises.min() >= -1e-9


def test_curves_that_sag_are_exact():
    """Squares: 0.8 of two inks lays 1.28 down and is just let through by 1.28; weights held 1.28 in all."""
    spaces = identity_spaces("CM", 1.28).with_tone(to_codes(np.tile(NODE**2, (2, 1))), "x")
    limits = calibrated_limits(spaces)
    assert limits.sums(np.array([0.8, 0.8])) == pytest.approx(limits.total, abs=2e-3)
    assert limits.legal(np.array([[0.795, 0.795]])).all()
    assert limits.alone().tolist() == [1, 1]


def test_straight_curves_and_totals_that_hold_nothing_need_no_curves():
    for spaces in (identity_spaces("CMYK", 3.0), light_black(7.0)):
        assert calibrated_limits(spaces).curves is None
    straight = [(np.array([0.0, 1.0]), np.array([0.0, 1.0]))] * 3
    assert convex_total(np.ones(3), straight, 2.0) is None


def test_a_light_black_leaves_room_beside_full_black():
    """Laid down there is room for 1.6 beside full black; a line from nothing over its bulge leaves 0.4."""
    spaces = light_black(2.6)
    limits = calibrated_limits(spaces)
    black = np.eye(6)[3]
    beside = limits.corners()
    beside = beside[beside[:, 3] == 1]
    assert laid(spaces, beside).max() > 1.9
    pairs = np.array([np.eye(6)[a] + np.eye(6)[b] for a in range(6) for b in range(a)])
    assert limits.sums(pairs).max() <= 1.01 * limits.total
    assert limits.legal(black[None]).all()
    # Beside it three inks that sag print more than straight lines from nothing to full would let them.
    assert limits.legal(np.array([[0.52, 0.52, 0, 1, 0.52, 0]])).all()


@pytest.mark.parametrize("seed", range(8))
def test_curved_limits_held_for_other_curves_keep_the_total(seed):
    before = random_spaces(seed)
    limits, rng = calibrated_limits(before), np.random.default_rng(seed)
    assert held_limits(limits, before) is limits
    bent = [curve[-1] / 65535 * (curve / curve[-1]) ** rng.uniform(0.7, 1.0) for curve in before.tone]
    after = before.with_tone(to_codes(np.stack(bent)), "sctv")
    held = held_limits(limits, after)
    assert laid(after, on_limits(held, rng, 1000)).max() <= after.total + after.loads.sum() / 65535
    assert held.curves is limits.curves or np.array_equal(held.curves, limits.curves)
    weaker = before.with_tone((before.tone * 0.9).astype(np.uint16), "sctv")
    assert held_limits(limits, weaker) is limits


def test_the_most_under_curves_of_the_same_shape_is_their_total():
    spaces = light_black(2.6)
    limits = calibrated_limits(spaces)
    _, most = most_under_curves(spaces, limits.curves)
    assert most >= limits.total - 1e-9
    assert most == pytest.approx(limits.total, rel=0.02)
    nothing = [(np.array([0.0, 1.0]), np.zeros(2))]
    assert most_under(np.zeros((1, CURVE_NODES)), nothing, 1.0) == 0.0


def test_curves_count_no_more_than_weights():
    limits = calibrated_limits(light_black(2.6))
    recipes = np.random.default_rng(0).random((1000, 6))
    assert (limits.sums(recipes) <= recipes @ limits.weights + 1e-9).all()
    assert limits.sums(limits.per_ink) == pytest.approx(limits.per_ink @ limits.weights)
    assert replace(limits, total=1.0).curves is not None


def test_tables_of_codes_count_as_curves_do():
    limits = calibrated_limits(light_black(2.6))
    codes = np.random.default_rng(1).integers(0, 65536, (500, 6))
    counted = limits.counts()[np.arange(6), codes].sum(axis=1)
    np.testing.assert_allclose(counted, limits.sums(codes / 65535), atol=1e-12)
    np.testing.assert_array_equal(limits.over(codes), counted > limits.total)
