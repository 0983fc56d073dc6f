"""Which overprints a total lets through, and that no other limit of its kind would let more through.

The oracle is brute force over weights and recipes; what counts as more is common practice, no source.
"""

from itertools import combinations, product

import numpy as np
import pytest

from strikeoff.inks.calibrated_total import straight_limits
from strikeoff.inks.overprints import SHARES, let_through
from strikeoff.inks.spaces import identity_spaces
from strikeoff.inks.tables import NODES, to_codes

NODE = np.linspace(0, 1, NODES)


def through(weights, most):
    """Single inks let through in full, and the mean of pairs and of all three; the ink that comes off worst
    with its pairs counts three quarters."""
    if (weights > most + 1e-9).any():
        return -1.0
    pair = {(i, j): min(1.0, most / (weights[i] + weights[j])) for i, j in combinations(range(3), 2)}
    worst = min(np.mean([share for both, share in pair.items() if ink in both]) for ink in range(3))
    return np.mean([0.25 * np.mean(list(pair.values())) + 0.75 * worst, min(1.0, most / sum(weights))])


@pytest.mark.parametrize("total", [1.3, 2.0, 2.1, 2.3])
def test_no_weights_let_more_overprints_through(total):
    """A light ink that has laid all down at half tone, one that swells, and a pale one that swells."""
    loads = np.array([np.minimum(2 * NODE, 1.0), NODE**0.6, 0.6 * NODE**0.4])
    spaces = identity_spaces("CMK", total).with_tone(to_codes(loads), "x")
    _, weights, most = straight_limits(spaces)
    grid = np.linspace(0, 1, 26)
    recipes = np.array(list(product(grid, repeat=3)))
    laid = sum(np.interp(recipes[:, k], NODE, loads[k]) for k in range(3))
    beyond = recipes[laid > total + 1e-4]
    assert (beyond @ weights > most - 1e-3).all()
    best = max(
        through(tried, (beyond @ tried).min())
        for tried in map(np.array, product(np.linspace(0.1, 1.0, 10), repeat=3))
    )
    # The grid of recipes finds the most that weights allow only to a step.
    assert through(weights, most) > best - 0.02


def test_what_is_let_through_follows_curves():
    """Squares: two inks reach 1.28 at 80 % of each; a line from none to full says 64 %."""
    assert let_through(np.tile(SHARES**2, (2, 1)), 1.28) == pytest.approx((1.0, 0.8), abs=1e-3)
    assert let_through(np.tile(SHARES, (2, 1)), 1.28) == pytest.approx((1.0, 0.64))
    assert let_through(SHARES[None], 0.5) == (0.5, 1.0)
