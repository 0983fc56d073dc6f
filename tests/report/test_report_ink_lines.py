"""Names at the ends of lines stand beside their own lines."""

import numpy as np
import pytest
from scipy.optimize import minimize

from strikeoff.report.ink_lines import spread


def test_names_are_moved_as_little_as_they_can_be():
    """Against a general solver: least squares under the order, within the drawing."""
    rng = np.random.default_rng(4)
    for _ in range(20):
        values = np.sort(rng.uniform(0.0, 60.0, 9))
        found = np.array(spread(values.tolist(), 4.5, 0.0, 62.0))
        assert np.diff(found).min() >= 4.5 - 1e-9
        assert found.min() >= 0
        assert found.max() <= 62.0 + 1e-9
        best = minimize(
            lambda x, v=values: ((x - v) ** 2).sum(),
            np.linspace(2.0, 60.0, 9),
            bounds=[(0.0, 62.0)] * 9,
            constraints={"type": "ineq", "fun": lambda x: np.diff(x) - 4.5},
            tol=1e-10,
        )
        assert ((found - values) ** 2).sum() == pytest.approx(best.fun, abs=1e-3)


def test_a_crowd_below_does_not_lift_names_to_the_lines_of_others():
    """Nine inks of a press: the name of an ink 10 below the next stood beside that one's line."""
    ends = [0.2, 25.5, 27.0, 30.0, 32.0, 38.0, 44.0, 48.5, 58.5]
    found = spread(ends, 4.5, 0.0, 62.0)
    assert max(abs(a - b) for a, b in zip(found, ends, strict=True)) < 5.0
    assert [int(np.abs(np.array(ends) - place).argmin()) for place in found[5:]] == [5, 6, 7, 8]


def test_more_names_than_fit_keep_their_order():
    assert spread([1.0, 2.0, 3.0], 5.0, 0.0, 6.0) == [-4.0, 1.0, 6.0]
    assert spread([], 1.0, 0.0, 1.0) == []
