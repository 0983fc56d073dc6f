"""How open the noise of readings leaves the limit of an ink; when it has enough: common practice, no source.

The ink is made: its colour grows as ``1 - exp(-5 x)`` of its range, so that its gain over the next tenth of
ink, ``exp(-5 x) (1 - exp(-0.5))`` of what there is, falls below 2 % at ``ln(0.3935 / (0.02 * 0.9933)) / 5``.
"""

import numpy as np
import pytest

from strikeoff.qualify.limit_range import limit_range
from strikeoff.qualify.limits import find_limit
from strikeoff.qualify.ramps import Ramp

STEPS = np.linspace(0.0, 1.0, 21)
TRUE = float(np.log((1 - np.exp(-0.5)) / (0.02 * (1 - np.exp(-5.0)))) / 5)


def ramp(noise, seed):
    share = (1 - np.exp(-5 * STEPS))[:, None]
    lab = np.array([94.0, 0.0, 4.0]) + share * np.array([-8.0, -2.0, 85.0])
    lab = lab + noise * np.random.default_rng(seed).standard_normal(lab.shape)
    return Ramp("Y", STEPS, lab, np.ones_like(lab), tuple(str(n) for n in range(21)))


def test_without_noise_nothing_is_open():
    assert find_limit(ramp(0.0, 0)).limit == pytest.approx(TRUE, abs=0.01)
    np.testing.assert_allclose(limit_range(ramp(0.0, 0)), TRUE, atol=0.01)


def test_the_range_of_one_print_is_that_of_many():
    prints = [ramp(0.3, seed) for seed in range(24)]
    low, high = np.percentile([find_limit(one).limit for one in prints], (5, 95))
    ranges = np.array([limit_range(one) for one in prints])
    assert (ranges[:, 0] < ranges[:, 1]).all()
    wide = np.median(ranges[:, 1] - ranges[:, 0])
    assert 0.5 * (high - low) < wide < 2.0 * (high - low)
    own = np.array([find_limit(one).limit for one in prints])
    assert ((ranges[:, 0] <= own) & (own <= ranges[:, 1])).all()
    held = (ranges[:, 0] <= TRUE) & (ranges[:, 1] >= TRUE)
    assert held.mean() > 0.75
    assert limit_range(prints[3]) == tuple(ranges[3])


def test_more_noise_leaves_more_open():
    wide = [np.mean([np.diff(limit_range(ramp(noise, s))) for s in range(6)]) for noise in (0.05, 0.2, 0.6)]
    assert wide[0] < wide[1] < wide[2]
