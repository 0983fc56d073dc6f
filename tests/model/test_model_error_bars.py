"""Radii against errors of known size, and on both open sets."""

import numpy as np
import pytest

from strikeoff.model.error_bars import COVERAGE, interval_score, judge_bars, radius_scale


def made(seed=0, count=3000):
    """Errors whose true 90 % radius is known: half-normal, of a spread that varies eightfold."""
    rng = np.random.default_rng(seed)
    spread = np.exp(rng.uniform(np.log(0.1), np.log(0.8), count))
    error = np.abs(rng.standard_normal(count)) * spread
    lab = np.column_stack([rng.uniform(5, 95, count), rng.normal(0, 20, (count, 2))])
    return error, spread, np.arange(count) % 5, lab


def test_the_right_shape_covers_every_part():
    error, spread, split, lab = made()
    found = judge_bars(error, spread, split, lab)
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
    assert radius_scale(error / spread) == pytest.approx(1.645, rel=0.04)


def test_a_wrong_shape_is_found_out():
    error, spread, split, lab = made()
    found = judge_bars(error, 1.0 / spread, split, lab)
    assert found.covered["smallest radii"] < 0.8
    assert found.interval_score > found.constant_score


def test_interval_score_counts_what_lies_beyond_ten_times():
    """Gneiting and Raftery 2007, equation 43, with alpha = 0.1, for the side that errors can leave by."""
    assert interval_score(np.array([0.2, 1.5]), np.array([1.0, 1.0])) == pytest.approx((1 + 1 + 5) / 2)


def test_few_errors_ask_for_more():
    ratio = np.abs(np.random.default_rng(1).standard_normal(2000))
    many = radius_scale(ratio)
    few = np.mean([radius_scale(part) for part in np.split(ratio, 50)])
    assert few > 1.05 * many
    assert (ratio <= many).mean() > COVERAGE


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
