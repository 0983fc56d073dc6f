"""Spread of dimensional change: estimates, Student intervals, their cover on new lots, risk."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t

from strikeoff.base.errors import InputError
from strikeoff.layout.finishing_risk import draw_changes, meeting_risk, size_risk
from strikeoff.layout.finishing_spread import (
    change_spread,
    more_needed,
    predicted_interval,
    predicted_variance,
)


def test_three_specimens_as_published_student_factor():
    # t(0.95; 2) = 2.920 (any table of Student's t); interval for one more: t s sqrt(1 + 1/n).
    low, high = predicted_interval(change_spread([[-5.2, -5.5, -5.8]]))
    assert (high - low) / 2 == pytest.approx(2.920 * 0.3 * np.sqrt(4 / 3), rel=2e-4)
    assert (high + low) / 2 == pytest.approx(-5.5)


def test_components_against_the_analysis_of_variance():
    # Balanced one-way layout, expected mean squares from any text on analysis of variance (from memory).
    lots = np.array([[-5.0, -5.2, -5.4], [-6.1, -6.0, -6.5], [-5.5, -5.1, -5.9], [-4.9, -5.5, -5.2]])
    a, n = lots.shape
    within = lots.var(axis=1, ddof=1).mean()
    between = n * lots.mean(axis=1).var(ddof=1)
    spread = change_spread(lots)
    assert spread.specimen_sd_percent == pytest.approx(within**0.5)
    assert spread.lot_sd_percent == pytest.approx(((between - within) / n) ** 0.5)
    variance, freedom = predicted_variance(spread)
    parts = between / n * (1 + 1 / a), within * (1 - 1 / n)
    assert variance == pytest.approx(sum(parts))
    assert freedom == pytest.approx(sum(parts) ** 2 / (parts[0] ** 2 / (a - 1) + parts[1] ** 2 / (a * n - a)))


def test_lots_that_scatter_less_than_their_specimens_have_no_negative_spread():
    spread = change_spread([[-5.0, -6.0], [-6.0, -5.0]])
    assert spread.lot_sd_percent == 0
    assert predicted_variance(spread)[0] > 0


def test_one_specimen_tells_no_interval():
    spread = change_spread([[-4.0]])
    assert predicted_interval(spread) is None
    assert (spread.specimen_sd_percent, spread.lot_sd_percent, spread.holds_for_new_lots) == (
        None,
        None,
        False,
    )
    with pytest.raises(InputError, match="one specimen"):
        draw_changes(spread)


def new_piece_coverage(lots, specimens, seed, worlds=900):
    """Share of new specimens of new lots inside the interval, and its median width."""
    rng = np.random.default_rng(seed)
    inside, widths, plug_in = 0, [], 0
    for _ in range(worlds):
        mean, lot_sd, own_sd = rng.uniform(-8, 1), rng.uniform(0.2, 1.2), rng.uniform(0.1, 0.5)
        read = mean + lot_sd * rng.normal(size=(lots, 1)) + own_sd * rng.normal(size=(lots, specimens))
        new = mean + lot_sd * rng.normal() + own_sd * rng.normal()
        low, high = predicted_interval(change_spread(read))
        inside += low <= new <= high
        widths.append(high - low)
        flat = read.mean(axis=1)
        plug_in += abs(new - flat.mean()) <= 1.645 * flat.std(ddof=1)
    return inside / worlds, float(np.median(widths)), plug_in / worlds


@pytest.mark.parametrize(("lots", "specimens"), [(3, 1), (3, 3), (6, 3)])
def test_intervals_hold_new_specimens_of_new_lots(lots, specimens):
    cover, width, plug_in = new_piece_coverage(lots, specimens, seed=lots * 10 + specimens)
    print(f"cover {cover:.3f}, median width {width:.2f} %, normal limits {plug_in:.3f}")
    assert 0.85 <= cover <= 0.95
    assert width < 6.5
    if lots == 3:
        assert plug_in < 0.80  # what normal limits from three would do: 71 % in theory


def test_theory_of_normal_limits_from_three():
    # P(|T2| < 1.645 / sqrt(1 + 1/3)) = 0.71: why Student's t is used.
    assert 2 * t.cdf(1.645 / np.sqrt(4 / 3), 2) - 1 == pytest.approx(0.71, abs=0.005)


@given(st.floats(0.01, 2.0), st.integers(1, 40))
def test_more_needed_is_the_least_that_suffices(sd, have):
    more = more_needed(sd, have, 0.2)
    total = max(have + more, 2)

    def half(n):
        return t.ppf(0.95, n - 1) * sd / np.sqrt(n)

    assert half(total) <= 0.2 + 1e-9
    if more > 0 and total > 2:
        assert half(total - 1) > 0.2


def test_drawn_pieces_lie_where_the_interval_says():
    lots = [
        [-5.0, -5.3, -5.1],
        [-6.2, -6.0, -6.1],
        [-5.6, -5.3, -5.7],
        [-4.9, -5.2, -5.2],
        [-5.5, -5.9, -5.6],
    ]
    spread = change_spread(lots)
    drawn = draw_changes(spread)
    low, high = predicted_interval(spread)
    assert np.percentile(drawn.first, [5, 95]) == pytest.approx([low, high], abs=0.12)
    assert np.array_equal(drawn.first, draw_changes(spread).first)
    assert not np.array_equal(drawn.first, draw_changes(spread, seed=2).first)
    # Neighbours share their lot, strangers do not.
    assert np.std(drawn.first - drawn.neighbour) < 0.6 * np.std(drawn.first - drawn.stranger)


def test_sizes_and_seams():
    spread = change_spread([[-5.0 - k, -5.2 - k, -4.8 - k] for k in (0.0, 0.6, -0.6, 0.3)])
    drawn = draw_changes(spread)
    aim = 3000.0
    printed = aim / (1 + spread.mean_percent / 100)
    right, slip = (size_risk(drawn, p, aim, 10) for p in (printed, aim * (1 - spread.mean_percent / 100)))
    assert right.low_mm < 0 < right.high_mm
    # finished x (1 - change) instead of finished / (1 + change) makes goods too small.
    assert slip.high_mm + slip.low_mm < right.high_mm + right.low_mm
    same, other = (meeting_risk(drawn, printed, 5, same_lot=s) for s in (True, False))
    assert same.beyond < other.beyond
    # Handling alone: no shrink spread left over a length of next to nothing; 2 skew, 2 cut, 1 sew.
    alone = meeting_risk(drawn, 1e-9, 1, same_lot=True, skew_sd_mm=1.0, cut_sd_mm=1.0, sew_sd_mm=1.0)
    assert alone.high_mm == pytest.approx(1.645 * 5**0.5, rel=0.02)
    with pytest.raises(InputError, match="tolerance"):
        size_risk(drawn, printed, aim, 0)


@pytest.mark.parametrize("bad", [[], [[]], [[float("nan")]]])
def test_bad_changes_are_refused(bad):
    with pytest.raises(InputError):
        change_spread(bad)
