"""Limits of single inks whose colours are known in closed form; the rule is common practice, no source."""

import numpy as np
import pytest

from strikeoff.qualify.limits import find_limit
from strikeoff.qualify.ramps import Ramp

STEPS = np.linspace(0, 1, 21)


def ramp(chroma, lightness):
    lab = np.stack([lightness, chroma, 0 * chroma], axis=-1)
    return Ramp("M", STEPS, lab, np.ones((21, 3)), tuple(map(str, range(21))))


def test_an_ink_that_darkens_at_the_cost_of_chroma_keeps_its_limit_and_is_told():
    """A parabola with its top at 70 % of ink: at full ink 1 - (0.3 / 0.7)^2 of its chroma is left."""
    found = find_limit(ramp(60 * (1 - ((STEPS - 0.7) / 0.7) ** 2), 90 - 60 * STEPS))
    assert found.limit == 1.0
    assert found.richest == pytest.approx(0.7, abs=0.02)
    assert found.dulled == pytest.approx((0.3 / 0.7) ** 2, abs=0.01)


def test_inks_that_stay_pure_and_inks_without_chroma_are_not_told():
    pure = find_limit(ramp(60 * STEPS, 90 - 40 * STEPS))
    assert (pure.richest, pure.dulled) == (1.0, 0.0)
    grey = find_limit(ramp(2 * STEPS * (1 - STEPS), 90 - 70 * STEPS))
    assert (grey.richest, grey.dulled) == (None, 0.0)
    # A hair past its top is not worth a word.
    top = find_limit(ramp(60 * (1 - ((STEPS - 0.9) / 0.9) ** 2), 90 - 60 * STEPS))
    assert top.dulled == 0.0
