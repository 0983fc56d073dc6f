"""Radii against errors of known size, and on both open sets."""

from types import SimpleNamespace

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model import error_bars
from strikeoff.model.error_bars import (
    COVERAGE,
    Doubt,
    RadiusScale,
    _traits,
    covered_radius,
    covering,
    doubt,
    interval_score,
    judge_bars,
    radius_scale,
)
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.validation import validate


def made(seed=0, count=3000):
    """Errors whose true 90 % radius is known: half-normal, of a spread that varies eightfold."""
    rng = np.random.default_rng(seed)
    spread = np.exp(rng.uniform(np.log(0.1), np.log(0.8), count))
    error = np.abs(rng.standard_normal(count)) * spread
    lab = np.column_stack([rng.uniform(5, 95, count), rng.normal(0, 20, (count, 2))])
    return error, Doubt(spread, _traits(lab)), np.arange(count) % 5, lab


def test_the_right_shape_covers_every_part():
    error, unsure, split, lab = made()
    found = judge_bars(error, unsure, split, lab)
    assert set(found.covered) == {
        "all",
        "smallest radii",
        "middle radii",
        "largest radii",
        "neutrals",
        "darks",
    }
    for share in found.covered.values():
        assert share == pytest.approx(0.9, abs=0.04)
    assert found.interval_score < 0.8 * found.constant_score
    # 1.645 is the normal quantile that leaves 10 % outside on both sides together.
    assert radius_scale(error, unsure).size == pytest.approx(1.645, rel=0.04)


def test_a_wrong_shape_is_found_out(monkeypatch):
    """Were nothing learnt about shapes: what is learnt would put this one right."""
    monkeypatch.setattr(error_bars, "_SLOPE_SPREAD", 1e-3)
    error, unsure, split, lab = made()
    found = judge_bars(error, Doubt(1.0 / unsure.shape, unsure.traits), split, lab)
    assert found.covered["smallest radii"] < 0.8
    assert found.interval_score > found.constant_score


@pytest.mark.parametrize("power", [0.5, 2.0])
def test_models_that_are_too_proud_or_too_shy_are_put_right(monkeypatch, power):
    """Doubts whose power is wrong: one size covers the smallest and the largest third unevenly."""
    error, unsure, split, lab = made()
    unsure = Doubt(unsure.shape**power, unsure.traits)
    found = judge_bars(error, unsure, split, lab)
    for part in ("smallest radii", "largest radii"):
        assert found.covered[part] == pytest.approx(0.9, abs=0.04)
    assert radius_scale(error, unsure).slopes[2] == pytest.approx(1 / power - 1, abs=0.15)
    monkeypatch.setattr(error_bars, "_SLOPE_SPREAD", 1e-3)
    stiff = judge_bars(error, unsure, split, lab)
    assert abs(stiff.covered["smallest radii"] - stiff.covered["largest radii"]) > 0.06
    assert found.interval_score < 0.97 * stiff.interval_score


def test_doubts_that_say_nothing_do_no_better_than_one_radius():
    error, unsure, split, lab = made()
    order = np.random.default_rng(2).permutation(len(error))
    found = judge_bars(error, Doubt(unsure.shape[order], unsure.traits), split, lab)
    assert found.interval_score > 0.98 * found.constant_score


def test_radii_grow_as_doubts_do_beyond_those_that_were_seen():
    scale = RadiusScale(2.0, (0.0, 0.0, -0.3), (0.0, 0.0, 0.0), trusted=1.0)
    radius = scale.radius(Doubt(np.array([0.25, 0.5, 1.0, 2.0, 4.0]), np.zeros((5, 2))))
    np.testing.assert_allclose(radius[1:] / radius[:-1], [2**0.7, 2**0.7, 2, 2])
    assert radius[2] == 2.0


def test_scales_of_before_doubt_had_a_slope():
    """Two slopes, as conditions of schemas 3 and 4 may hold, or none: size times doubt, and the slopes."""
    unsure = Doubt(np.array([0.5, 2.0]), np.array([[1.0, 0.5], [1.0, 0.5]]))
    np.testing.assert_allclose(RadiusScale(3.0).radius(unsure), [1.5, 6.0])
    two = RadiusScale(3.0, (0.2, -0.4), (0.5, 0.25), trusted=1.0)
    fade = np.array([1.0, 0.25])
    np.testing.assert_allclose(two.radius(unsure), [1.5, 6.0] * np.exp(fade * (0.2 * 0.5 - 0.4 * 0.25)))


def test_greys_widen_by_what_is_unsaid_and_not_by_noise():
    lab = np.array([[50.0, 0.0, 0.0], [50.0, 60.0, 0.0]])
    inks = np.zeros((2, 4))

    def ratio(unsaid):
        forward = SimpleNamespace(
            recipes=np.zeros((5, 4)), relative_spread=lambda at: (np.ones(2), np.full(2, unsaid))
        )
        found = doubt(forward, SimpleNamespace(disagreement=lambda at: (lab, np.zeros(2))), inks)
        return found.shape[0] / found.shape[1]

    # exp(-60 / 12) of the share is left in the strong colour.
    assert ratio(1.0) / ratio(0.0) == pytest.approx(2.25 / (1 + 1.25 * np.exp(-5)))
    assert ratio(0.4) / ratio(0.0) == pytest.approx(1.5 / (1 + 0.5 * np.exp(-5)))


def test_interval_score_counts_what_lies_beyond_ten_times():
    """Gneiting and Raftery 2007, equation 43, with alpha = 0.1, for the side that errors can leave by."""
    assert interval_score(np.array([0.2, 1.5]), np.array([1.0, 1.0])) == pytest.approx((1 + 1 + 5) / 2)


def test_few_errors_ask_for_more():
    ratio = np.abs(np.random.default_rng(1).standard_normal(2000))
    many = covering(ratio)
    few = np.mean([covering(part) for part in np.split(ratio, 50)])
    assert few > 1.05 * many
    assert (ratio <= many).mean() > COVERAGE


def test_darks_that_are_calmer_than_the_model_thinks_get_smaller_radii():
    """Errors of darks a third of what their doubt says: one size for all would cover all of them."""
    error, unsure, split, lab = made()
    dark = lab[:, 0] < 30
    error[dark] /= 3
    found = judge_bars(error, unsure, split, lab)
    assert found.covered["darks"] <= 0.97
    assert found.covered["all"] == pytest.approx(0.9, abs=0.02)
    scale = radius_scale(error, unsure)
    assert scale.slopes[0] < 0
    one = RadiusScale(covering(error / unsure.shape)).radius(unsure)
    assert (error <= one)[dark].mean() > 0.98
    assert interval_score(error, scale.radius(unsure)) < interval_score(error, one)


def test_few_errors_teach_little_about_darks():
    error, unsure, _, lab = made()
    error[lab[:, 0] < 30] /= 3
    few = np.arange(len(error)) < 60
    assert abs(radius_scale(error[few], unsure.of(few)).slopes[0]) < 0.5 * abs(
        radius_scale(error, unsure).slopes[0]
    )


def test_what_was_learnt_is_not_carried_to_larger_doubts():
    error, unsure, _, lab = made()
    error[lab[:, 0] < 30] /= 3
    scale = radius_scale(error, unsure)
    black, pale = np.array([[2.0, 0.5]]), np.array([[0.0, 0.5]])

    def ratio(shape):
        at = np.full(1, shape)
        return float((scale.radius(Doubt(at, black)) / scale.radius(Doubt(at, pale)))[0])

    assert ratio(0.3) < 0.7
    assert ratio(50.0) == pytest.approx(1.0, abs=0.01)


def sizes(errors, chart=60):
    """Sizes and quantiles of so many errors at a time, of even doubts."""
    parts = np.split(errors, len(errors) // chart)
    unsure = Doubt(np.ones(chart), np.zeros((chart, 2)))
    return np.array([radius_scale(part, unsure).size for part in parts]), np.array(
        [covering(p) for p in parts]
    )


def test_sizes_of_small_charts_scatter_less_than_their_quantile():
    """Sixty errors at a time, out of errors whose 90 % quantile is known: normal in two axes."""
    # 2.146: Rayleigh quantile at 0.9.
    ratio = 1.6 / 2.146 * np.hypot(*np.random.default_rng(3).standard_normal((2, 12_000)))
    found, plain = sizes(ratio)
    assert np.std(np.log(found)) < 0.7 * np.std(np.log(plain))
    assert 0.97 * 1.6 < np.median(found) < 1.05 * 1.6


def test_the_usual_size_draws_what_is_near_it_and_lets_go_of_what_is_not(monkeypatch):
    """Sixty errors at a time, 15 % and 100 % larger than usual."""
    ratio = 1.6 / 2.146 * np.hypot(*np.random.default_rng(3).standard_normal((2, 12_000)))
    near, far = (np.median(np.log(sizes(factor * ratio)[0] / 1.6)) for factor in (1.15, 2.0))
    monkeypatch.setattr(error_bars, "_USUAL_WORTH", 0.0)
    plain = np.median(np.log(sizes(1.15 * ratio)[0] / 1.6))
    assert 0.3 * plain < near < 0.85 * plain
    assert far == pytest.approx(np.log(2.0), rel=0.1)


@pytest.mark.parametrize("seed", [5, 6])
def test_pairs_of_inks_that_were_never_printed_together_get_wider_radii(monkeypatch, seed):
    """Two of three inks that no patch holds together, and that darken each other more than the third:
    the truth for their overprints lies within the radii."""
    rng = np.random.default_rng(seed)
    recipes = rng.random((260, 3))
    recipes[:130, 1] = 0
    recipes[130:, 0] = 0
    recipes[:4] = np.vstack([np.zeros(3), np.eye(3)])

    def printed(inks):
        left = np.exp(-inks @ np.array([[1.6, 0.4, 0.1], [0.2, 1.2, 0.5], [0.1, 0.2, 1.0]]))
        return 0.85 * left * np.exp(-0.45 * inks[:, :1] * inks[:, 1:2] * np.array([0.2, 1.0, 0.4]))

    white = np.array([96.422, 100.0, 82.521])
    view, repeats = View(np.diag(white), white), np.ones(260)
    bands = printed(recipes) * rng.normal(1.0, 0.004, (260, 3))
    scale = validate(recipes, repeats, bands, view).radius_scale
    forward = fit_forward(recipes, repeats, bands, view)
    model = forward.under(view)
    asked = np.column_stack([rng.uniform(0.3, 1.0, (200, 2)), rng.uniform(0.0, 0.5, 200)])
    error = delta_e_2000(view.lab(printed(asked)), model.lab(asked))
    radius = scale.radius(doubt(forward, model, asked))
    known = covered_radius(forward, model, recipes, scale)
    monkeypatch.setattr("strikeoff.model.error_bars.pair_distance", lambda inks, _: np.zeros(len(inks)))
    np.testing.assert_array_equal(covered_radius(forward, model, recipes, scale), known)
    without = covered_radius(forward, model, asked, scale)
    print(seed, "covered", (error <= radius).mean(), "without pairs", (error <= without).mean())
    assert (error <= radius).mean() >= 0.85
    assert (error <= without).mean() < (error <= radius).mean()
    assert (radius >= 1.14 * without).all()


def test_more_inks_at_a_time_than_patches_hold_get_wider_radii(monkeypatch):
    """Seven inks whose dots grow beside others, at most three to a patch: seven small amounts grow more
    than any reading shows."""
    rng = np.random.default_rng(7)
    inks = 7
    chosen = np.argsort(rng.random((360, inks)), axis=1) < rng.integers(1, 4, (360, 1))
    recipes = np.where(chosen, rng.random((360, inks)), 0.0)
    recipes[0] = 0
    left = rng.uniform(0.15, 0.9, (inks, 3))

    def printed(amounts):
        others = amounts.sum(axis=1, keepdims=True) - amounts
        dots = amounts ** (1 / (1 + 0.3 * others))
        return 0.85 * np.prod(1 - dots[:, :, None] * (1 - left), axis=1)

    white = np.array([96.422, 100.0, 82.521])
    view, repeats = View(np.diag(white), white), np.ones(360)
    bands = printed(recipes) * rng.normal(1.0, 0.004, (360, 3))
    scale = validate(recipes, repeats, bands, view).radius_scale
    forward = fit_forward(recipes, repeats, bands, view)
    model = forward.under(view)
    asked = rng.uniform(0.02, 0.2, (300, inks))
    error = delta_e_2000(view.lab(printed(asked)), model.lab(asked))
    radius, known = (covered_radius(forward, model, at, scale) for at in (asked, recipes))
    monkeypatch.setattr("strikeoff.model.error_bars.inks_beyond", lambda inks, _: np.zeros(len(inks)))
    np.testing.assert_array_equal(covered_radius(forward, model, recipes, scale), known)
    without = covered_radius(forward, model, asked, scale)
    print("covered", (error <= radius).mean(), "without the number", (error <= without).mean())
    assert (error <= radius).mean() >= 0.85
    assert (error <= without).mean() < (error <= radius).mean() - 0.05


@pytest.mark.parametrize("which", ["measured_condition", "smoothed_condition"])
def test_radii_hold_on_the_open_sets(request, which):
    """90 % radii on patches that set neither model nor size, five splits of distinct recipes."""
    bars = request.getfixturevalue(which).validation.bars
    print(which, bars)
    assert 0.85 <= bars.covered["all"] <= 0.95
    for name in ("smallest radii", "middle radii", "largest radii", "neutrals", "darks"):
        assert 0.80 <= bars.covered[name] <= 0.97
    assert bars.interval_score < bars.constant_score
    assert bars.relative_median <= 1.3
