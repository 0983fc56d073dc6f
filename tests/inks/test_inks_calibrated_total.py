"""Limits in calibrated ink: no legal recipe lays more down than the total."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_inks import random_spaces

from strikeoff.condition.ink_space import held_limits
from strikeoff.inks.calibrated_total import straight_limits
from strikeoff.inks.records import Ink
from strikeoff.inks.spaces import identity_spaces
from strikeoff.inks.tables import NODES, to_codes
from strikeoff.model.limits import InkLimits


@settings(max_examples=30)
@given(seed=st.integers(0, 10_000))
def test_calibrated_limits_hold_the_laid_down_total(seed):
    spaces = random_spaces(seed)
    per_ink, weights, total = straight_limits(spaces)
    assert weights.max() == 1
    rng = np.random.default_rng(seed)
    recipes = rng.random((400, 4)) * per_ink
    recipes *= np.minimum(1, total / (recipes @ weights))[:, None]
    laid = spaces.to_laid_down(np.floor(recipes * 65535).astype(np.uint16))
    # One code of each ink is rounding.
    assert spaces.load(laid).max() <= spaces.total + spaces.loads.sum() / 65535
    # Mixtures of legal recipes are legal: so are interpolated tables and resampled planes.
    mixed = (recipes + recipes[::-1]) / 2
    laid = spaces.to_laid_down(np.floor(mixed * 65535).astype(np.uint16))
    assert spaces.load(laid).max() <= spaces.total + spaces.loads.sum() / 65535


def test_straight_curves_give_the_limits_as_they_are():
    per_ink, weights, total = straight_limits(identity_spaces("CMYK", 3.0))
    assert (per_ink.tolist(), weights.tolist(), total) == ([1] * 4, [1] * 4, 3.0)
    inks = [Ink("C", limit=0.8), Ink("M", drop_pl=())]
    per_ink, _, _ = straight_limits(identity_spaces("CM", 2.0, inks=inks))
    np.testing.assert_allclose(per_ink, [0.8, 1.0])


def test_sagging_curves_are_exact_at_full_tone():
    spaces = identity_spaces("CM", 1.2).with_tone(
        to_codes(np.tile(np.linspace(0, 1, NODES) ** 2, (2, 1))), "x"
    )
    assert straight_limits(spaces)[2] == pytest.approx(1.2)


def test_swelling_curves_are_limited_where_inks_share_the_total():
    """Equal root curves lay most down in equal parts: 3 sqrt(T / 3) = 2.2, so T = 3 (2.2 / 3)^2."""
    tone = to_codes(np.tile(np.sqrt(np.linspace(0, 1, NODES)), (3, 1)))
    _, weights, total = straight_limits(identity_spaces("CMY", 2.2).with_tone(tone, "x"))
    np.testing.assert_allclose(weights, 1.0)
    assert total == pytest.approx(3 * (2.2 / 3) ** 2, rel=1e-3)


def test_tints_of_light_inks_weigh_more_so_that_overprints_of_full_inks_print():
    """Two colours lay all they have down at half tone; two sag. Full loads alone let 80 % through."""
    node = np.linspace(0, 1, NODES)
    early, late = np.minimum(2 * node, 1.0), node**3
    spaces = identity_spaces("CMYK", 2.6).with_tone(to_codes(np.array([early, early, late, late])), "x")
    per_ink, weights, total = straight_limits(spaces)
    full = np.diag(per_ink)
    assert (full @ weights <= total).all()
    through = [min(1.0, total / float((full[a] + full[b]) @ weights)) for a in range(4) for b in range(a)]
    assert np.mean(through) > 0.85
    recipes = np.random.default_rng(0).random((4000, 4))
    recipes *= np.minimum(1, total / (recipes @ weights))[:, None]
    laid = spaces.to_laid_down(np.floor(recipes * 65535).astype(np.uint16))
    assert 2.4 < spaces.load(laid).max() <= 2.6 + 4 / 65535


def test_no_full_ink_is_kept_out_for_the_sake_of_overprints():
    node = np.linspace(0, 1, NODES)
    tone = to_codes(np.array([np.minimum(2 * node, 1.0), node**3, node**3]))
    spaces = identity_spaces("CMY", 1.5).with_tone(tone, "x")
    per_ink, weights, total = straight_limits(spaces)
    assert (per_ink * weights <= total).all()


@pytest.mark.parametrize("seed", range(12))
def test_limits_held_for_other_curves_keep_the_total(seed):
    before = random_spaces(seed)
    limits = InkLimits(*straight_limits(before))
    assert held_limits(limits, before) is limits
    rng = np.random.default_rng(seed)
    bent = [curve[-1] / 65535 * (curve / curve[-1]) ** rng.uniform(0.7, 1.0) for curve in before.tone]
    after = before.with_tone(to_codes(np.stack(bent)), "sctv")
    held = held_limits(limits, after)
    recipes = held.random(3000, rng)
    recipes = np.minimum(recipes * rng.choice([1.0, 3.0], (3000, 1)), held.per_ink)
    recipes /= np.maximum(held.sums(recipes) / held.total, 1.0)[:, None]
    load = after.load(after.to_laid_down(np.floor(recipes * 65535).astype(np.uint16)))
    assert load.max() <= after.total + 1e-3
    np.testing.assert_array_equal(held.weights, limits.weights)
    # Curves that lay less down leave recipes as they were.
    weaker = before.with_tone((before.tone * 0.9).astype(np.uint16), "sctv")
    assert held_limits(limits, weaker) is limits
