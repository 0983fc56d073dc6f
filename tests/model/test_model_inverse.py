"""Inverse and black policy on measured goods: round trips, limits, order, and a brute-force oracle."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from threadpoolctl import threadpool_info, threadpool_limits

from strikeoff.base.errors import UsageError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.black import BlackPolicy, black_curve, black_goal, find_black
from strikeoff.model.descent import colour_weights
from strikeoff.model.grey import grey_axis
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.limits import InkLimits

BOTH = pytest.mark.parametrize("which", ["measured_condition", "smoothed_condition"])


@pytest.fixture
def condition(request, which):
    return request.getfixturevalue(which)


def with_policy(condition, **changes):
    policy = replace(BlackPolicy(), **changes)
    return make_inverse(condition.native, condition.inks, condition.limits, policy, condition.table)


@pytest.fixture(scope="module")
def with_strength():
    """Inverses of a black policy's strength, each made once."""
    made = {}

    def find(condition, strength):
        key = (condition.name, strength)
        if key not in made:
            made[key] = with_policy(condition, strength=strength)
        return made[key]

    return find


def neutral_ramp(condition, lightness):
    lab = np.zeros((len(lightness), 3))
    lab[:, 0] = lightness
    return condition.connection.from_relative(lab)


@BOTH
def test_colours_that_inks_made_are_matched(condition):
    """A recipe's own colour is in gamut by construction, on the limits too."""
    rng = np.random.default_rng(1)
    inks = condition.limits.random(1500, rng)
    on_total = rng.dirichlet(np.ones(4), 300) * condition.limits.total
    inks = np.vstack([inks, on_total[(on_total <= 1).all(axis=1)], np.eye(4)])
    found = solve(condition.inverse, condition.native.lab(inks))
    assert condition.limits.legal(found.inks).all()
    assert found.de00.mean() <= 0.05
    assert found.de00.max() <= 0.5
    # The answer is told by the exact model, not by its own table.
    np.testing.assert_allclose(found.lab, condition.native.lab(found.inks), atol=1e-9)


@BOTH
def test_limits_hold_for_any_colour(condition):
    lab = np.random.default_rng(2).uniform([-5, -140, -140], [110, 140, 140], (3000, 3))
    found = solve(condition.inverse, lab, exact=False)
    assert np.isfinite(found.inks).all()
    assert condition.limits.legal(found.inks).all()
    assert found.inks.sum(axis=1).max() <= 3.0 + 1e-9


@BOTH
@pytest.mark.parametrize("total", [1.8, 2.2])
def test_a_lower_total_is_kept(condition, total):
    limits = InkLimits(condition.limits.per_ink, condition.limits.weights, total)
    inverse = make_inverse(condition.native, condition.inks, limits, condition.policy, condition.table)
    found = solve(inverse, neutral_ramp(condition, np.linspace(0, 100, 60)), exact=False)
    sums = found.inks.sum(axis=1)
    assert sums.max() <= total + 1e-9
    dark = solve(inverse, np.array([[0.0, 0.0, 0.0]]), exact=False)
    assert dark.inks.sum() >= total - 0.05  # black needs all that there is


@BOTH
def test_bare_cloth_needs_no_ink(condition):
    found = solve(condition.inverse, condition.cloth_lab[None])
    assert found.inks.max() < 1e-3


@BOTH
def test_a_neutral_ramp_never_reverses(condition):
    found = solve(condition.inverse, neutral_ramp(condition, np.linspace(100, 0, 401)), exact=False)
    steps = np.diff(found.lab[:, 0])
    assert steps.max() < 0.02
    assert np.diff(found.inks[:, 3]).min() > -0.03
    # No jumps from one family of recipes to another, down to where the gamut closes.
    jumps = np.abs(np.diff(found.inks, axis=0)).max(axis=1)
    light = np.linspace(100, 0, 401)[1:]
    assert jumps[light > 25].max() < 0.05
    assert jumps[light > condition.black_lab[0] + 0.5].max() < 0.2


@BOTH
def test_out_of_gamut_no_legal_recipe_is_much_closer(condition):
    """Brute force: 200,000 random recipes against the solution, in the inverse's own measure."""
    rng = np.random.default_rng(3)
    pool = condition.limits.random(200_000, rng)
    pool_lab = condition.inverse.quick.lab(pool)
    targets = rng.uniform([5, -110, -110], [98, 110, 110], (40, 3))
    found = solve(condition.inverse, targets, exact=False)
    far = found.de00 > 2.0
    assert far.sum() > 10
    weigh = colour_weights(targets)
    for i in np.flatnonzero(far):
        best = np.linalg.norm((pool_lab - targets[i]) @ weigh[i].T, axis=1).min()
        mine = np.linalg.norm(weigh[i] @ (found.lab[i] - targets[i]))
        assert mine <= best + 0.1 + 0.02 * best


def test_colour_weights_follow_small_differences():
    """CIE 142:2001: for small differences away from blue the weighted length is close to CIEDE2000."""
    rng = np.random.default_rng(4)
    lab = np.column_stack([rng.uniform(20, 90, 300), rng.uniform(5, 60, 300), rng.uniform(5, 60, 300)])
    shift = rng.standard_normal((300, 3)) * 0.2
    length = np.linalg.norm(np.einsum("mij,mj->mi", colour_weights(lab), shift), axis=1)
    ratio = length / delta_e_2000(lab, lab + shift)
    assert 0.9 < np.median(ratio) < 1.1
    assert np.percentile(ratio, [5, 95]) == pytest.approx([1, 1], abs=0.45)


@BOTH
def test_more_strength_gives_more_black(condition, with_strength):
    # From where the coloured inks alone still reach neutral.
    ramp = neutral_ramp(condition, np.linspace(30, 95, 41))
    before = None
    for strength in (0.0, 0.3, 0.6, 1.0):
        found = solve(with_strength(condition, strength), ramp, exact=False)
        assert found.de00.max() < 0.1  # how much black is a choice, the colour is not
        black = found.inks[:, 3]
        if before is not None:
            assert (black >= before - 0.02).all()
            assert black.mean() > before.mean() + 0.03
        before = black
    assert before.max() > 0.4


@BOTH
def test_no_black_above_its_start(condition):
    late = with_policy(condition, start=60.0)
    found = solve(late, neutral_ramp(condition, np.linspace(72, 100, 15)))
    assert found.inks[:, 3].max() < 0.03  # the least-ink wish may leave a trace
    below = solve(late, neutral_ramp(condition, np.array([30.0])))
    assert below.inks[0, 3] > 0.1


@BOTH
def test_less_black_leaves_room_for_more_coloured_ink(condition, with_strength):
    ramp = neutral_ramp(condition, np.array([35.0]))
    little = solve(with_strength(condition, 0.3), ramp).inks.sum()
    much = solve(with_strength(condition, 1.0), ramp).inks.sum()
    assert much < little - 0.2  # J. A. C. Yule 1940: black replaces about three inks


class Tint:
    """Inks that darken alike, and the last one to neutral."""

    n_inks = 3

    def lab(self, inks):
        light = 95 - 25 * inks[:, 0] - 20 * inks[:, 1] - 80 * inks[:, 2]
        return np.stack([light, 40 * inks[:, 0], -40 * inks[:, 1]], axis=1)

    def jacobian(self, inks):
        slope = np.array([[-25.0, -20, -80], [40, 0, 0], [0, -40, 0]])
        return self.lab(inks), np.tile(slope, (len(inks), 1, 1))


def test_black_is_found_by_name_or_by_looks():
    assert find_black(("C", "K", "M"), Tint()) == 1
    assert find_black(("1", "2", "Black"), Tint()) == 2
    assert find_black(("1", "2", "3"), Tint()) == 2

    class Light(Tint):
        def lab(self, inks):
            return super().lab(inks) + np.outer(inks[:, 2], [60, 0, 0])

    assert find_black(("1", "2", "3"), Light()) is None


@given(
    st.floats(30, 100),
    st.floats(10, 80),
    st.floats(0, 1),
    st.floats(0.1, 1),
    st.floats(5, 80),
    st.integers(0, 99),
)
def test_black_goal_rises_as_colours_darken(start, width, strength, maximum, reach, seed):
    policy = BlackPolicy(start, width, maximum, strength, reach)
    curve = black_curve(Tint(), 2, 1.0)
    lab = np.zeros((101, 3))
    lab[:, 0] = np.linspace(100, 0, 101)
    neutral = black_goal(policy, curve, lab)
    assert (neutral[lab[:, 0] >= start] == 0).all()
    assert (np.diff(neutral) >= -1e-12).all()
    assert neutral.max() <= maximum
    lab[:, 1] = np.random.default_rng(seed).uniform(0, 60)
    assert (black_goal(policy, curve, lab) <= neutral + 1e-12).all()


class TintedCloth(Tint):
    """The same on a cloth of its own colour, whose greys share it."""

    cloth_lab = np.array([95.0, -9.0, 24.0])

    def lab(self, inks):
        lab = super().lab(inks)
        lab[:, 1:] += np.outer((lab[:, 0] + 16.0) / (self.cloth_lab[0] + 16.0), self.cloth_lab[1:])
        return lab


@pytest.mark.parametrize("grey", ["cloth", "fading", "absolute"])
def test_greys_of_a_tinted_cloth_take_the_black_of_greys(grey):
    """Chroma counts from the grey that was chosen: closed form, on greys it is none."""
    policy = BlackPolicy(chroma_reach=10.0, grey=grey)
    curve = black_curve(TintedCloth(), 2, 1.0)
    lightness = np.array([80.0, 60.0, 45.0, 35.0])
    plain = black_goal(policy, black_curve(Tint(), 2, 1.0), np.column_stack([lightness, np.zeros((4, 2))]))
    axis = grey_axis(grey, policy.grey_fade, TintedCloth.cloth_lab, curve.lightness[0], lightness)
    for aside, share in (((0.0, 0.0), 1.0), ((6.0, -8.0), 0.5)):
        lab = np.column_stack([lightness, axis + np.array(aside)])
        np.testing.assert_allclose(black_goal(policy, curve, lab), share * plain, atol=1e-9)


def test_black_curve_inverts_the_black_ramp():
    curve = black_curve(Tint(), 2, 0.8)
    np.testing.assert_allclose(curve.at(np.array([95.0, 55.0, 31.0, 5.0])), [0, 0.5, 0.8, 0.8], atol=1e-9)


@pytest.mark.parametrize(
    "bad", [{"start": 101}, {"width": 0}, {"maximum": 1.2}, {"strength": -0.1}, {"chroma_reach": 0}]
)
def test_policy_out_of_range(bad):
    with pytest.raises(UsageError, match="out of range"):
        BlackPolicy(**bad)


@pytest.mark.parametrize("total", [0.0, -1.0, np.nan, np.inf])
def test_total_ink_must_be_a_positive_number(total):
    with pytest.raises(UsageError, match="total ink"):
        InkLimits(np.ones(4), np.ones(4), total)


def test_weighted_totals():
    limits = InkLimits(np.array([1.0, 0.5]), np.array([1.0, 2.0]), 1.5)
    assert limits.sums(np.array([0.5, 0.5])) == pytest.approx(1.5)
    inside = limits.legal(np.array([[0.5, 0.5], [0.6, 0.5], [0.0, 0.6], [-0.1, 0], [1.0, 0.2]]))
    assert inside.tolist() == [True, False, False, False, True]
    assert limits.legal(limits.random(5000, np.random.default_rng(0))).all()


def test_recipes_are_sought_on_one_thread(measured_condition):
    """Sums in another order decide between equal recipes: the number of cores must not show in inks."""
    seen = []

    class Watched:
        def __getattr__(self, name):
            return getattr(measured_condition.native, name)

        def lab(self, inks):
            seen.extend(pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas")
            return measured_condition.native.lab(inks)

    inverse = replace(measured_condition.inverse, exact=Watched())
    lab = np.array([[50.0, 0.0, 0.0], [20.0, 40.0, -90.0]])
    with threadpool_limits(2, user_api="blas"):
        solve(inverse, lab)
    assert seen
    assert set(seen) == {1}
