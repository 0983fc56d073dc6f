"""Spot colour tone value against worked values."""

import numpy as np
import pytest

from strikeoff.colour.tone_value import tone_value_iso_20654

PAPER = [95.00, 1.50, -6.00]


@pytest.mark.parametrize(
    ("tint", "solid", "expected"),
    [
        # Tints of a public 1,617-patch characterisation (premium coated, 2015); values computed from the
        # formula of ISO 20654 by hand. A ratio of CIELAB distances would give 50.61, 38.26, 46.93, 40.82.
        ([75.02, -16.20, -29.84], [56.12, -34.90, -52.52], 51.12),
        ([75.43, 28.45, -9.24], [48.06, 75.29, -5.18], 40.44),
        ([91.62, -3.44, 39.94], [88.94, -4.04, 92.37], 47.87),
        ([62.72, 0.31, -4.44], [16.00, 0.07, -0.33], 40.73),
    ],
)
def test_worked_values(tint, solid, expected):
    assert 100 * tone_value_iso_20654(tint, PAPER, solid) == pytest.approx(expected, abs=0.005)


def test_ends_are_exact():
    ends = tone_value_iso_20654([PAPER, [48, 75, -5]], PAPER, [48, 75, -5])
    assert np.allclose(ends, [0, 1])
