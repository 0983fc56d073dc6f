"""Ink per area."""

import numpy as np
import pytest

from strikeoff.base.errors import RangeError
from strikeoff.inks.laydown import laydown_ml_m2


@pytest.mark.parametrize(
    ("dpi", "drop_pl", "expected"), [(600, 7, 3.906), (720, 12, 9.642), (1200, 5, 11.16), (360, 35, 7.031)]
)
def test_worked_figures(dpi, drop_pl, expected):
    # Arithmetic: dots per square metre times drop volume; common practice, no source.
    assert float(laydown_ml_m2(1.0, dpi, dpi, drop_pl)) == pytest.approx(expected, rel=2e-4)


def test_axes_inks_and_coverage():
    np.testing.assert_allclose(
        laydown_ml_m2([0.5, 0.25], 600, 1200, [7, 14]), [2 * 3.906 * 0.5, 4 * 3.906 * 0.25], rtol=2e-4
    )


def test_refusals():
    for coverage, dpi, drop in ((1.1, 600, 7), (np.nan, 600, 7), (0.5, 0, 7), (0.5, 600, -1)):
        with pytest.raises(RangeError):
            laydown_ml_m2(coverage, dpi, 600, drop)
