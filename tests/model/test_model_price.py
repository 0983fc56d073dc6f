"""What ink costs in a descent."""

import numpy as np
import pytest

from strikeoff.model.descent import descend, priced
from strikeoff.model.limits import InkLimits


def test_a_price_is_the_same_at_every_amount():
    """Of three recipes for one colour, a price takes the one of least ink; a square would take the mean."""
    limits = InkLimits(np.ones(3), np.ones(3), 3.0)
    wishes, prices = np.full((1, 3), 1e-3), np.array([1.0, 1.0, 0.0])
    aims = priced(np.zeros((1, 3)), wishes, prices)
    found = descend(TwoForOne(), limits, np.array([[80.0, 0.0, 0.0]]), np.full((1, 3), 0.2), wishes, aims, 50)
    assert found[0, 1] == pytest.approx(0.0, abs=1e-6)
    assert found[0, 0] < 0.01
    assert found[0, 2] > 0.38


class TwoForOne:
    """Lightness alone: one unit of any of three inks takes 50 L*, and the third is free of charge."""

    n_inks = 3

    def lab(self, inks):
        """Return Lab."""
        return self.jacobian(inks)[0]

    def jacobian(self, inks):
        """Return Lab and slopes."""
        slope = np.zeros((len(inks), 3, 3))
        slope[:, 0] = -50.0
        return np.array([100.0, 0.0, 0.0]) + np.einsum("mik,mk->mi", slope, inks), slope
