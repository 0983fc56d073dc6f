"""Differences against published pairs, the equations evaluated apart, and colour-science."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from strikeoff.colour.difference import (
    delta_e_1976,
    delta_e_1994,
    delta_e_2000,
    delta_e_cmc,
    difference_parts,
)

SHARMA = np.loadtxt(
    Path(__file__).parents[1] / "published" / "sharma_2005_ciede2000.csv", delimiter=",", comments="#"
)
labs = arrays(
    np.float64,
    (5, 3),
    elements=st.floats(-100, 100).map(lambda v: round(v, 3)),
).map(lambda a: np.column_stack([np.abs(a[:, 0]), a[:, 1:]]))


def test_the_table_holds_34_pairs_in_order():
    assert SHARMA[:, 0].tolist() == list(range(1, 35))


@pytest.mark.parametrize("row", SHARMA, ids=[f"pair{int(r[0])}" for r in SHARMA])
def test_ciede2000_gives_the_printed_digits(row):
    # Sharma, Wu, Dalal 2005, table 1.
    assert f"{delta_e_2000(row[1:4], row[4:7]):.4f}" == f"{row[7]:.4f}"


def test_ciede2000_is_symmetric_on_the_published_pairs():
    # Stated in the paper; the tie pair included.
    np.testing.assert_allclose(delta_e_2000(SHARMA[:, 4:7], SHARMA[:, 1:4]), SHARMA[:, 7], atol=5e-5)


@pytest.mark.parametrize("nudge", [0.0, 1e-16, -1e-16, 3e-15, -3e-15])
def test_the_opposite_hue_tie_survives_rounding(nudge):
    # Pair 14 of the same table, its hue disturbed by as much as a matrix product would.
    assert round(float(delta_e_2000([50, -0.001 + nudge, 2.49], [50, 0.001, -2.49])), 4) == 4.8045


def test_ciede2000_agrees_with_colour_science():
    import colour

    rng = np.random.default_rng(7)
    reference = rng.uniform([0, -100, -100], [100, 100, 100], (2000, 3))
    sample = reference + rng.normal(0, 8, (2000, 3))
    np.testing.assert_allclose(
        delta_e_2000(reference, sample), colour.difference.delta_E_CIE2000(reference, sample), atol=1e-9
    )
    keep = SHARMA[:, 0] != 14
    np.testing.assert_allclose(
        colour.difference.delta_E_CIE2000(SHARMA[keep, 1:4], SHARMA[keep, 4:7]), SHARMA[keep, 7], atol=5e-5
    )


def test_parametric_factors_divide_their_own_part():
    assert delta_e_2000([40, 0, 0], [50, 0, 0], kL=2) == pytest.approx(
        delta_e_2000([40, 0, 0], [50, 0, 0]) / 2
    )
    assert delta_e_2000([50, 30, 0], [50, 40, 0], kC=2) == pytest.approx(
        delta_e_2000([50, 30, 0], [50, 40, 0]) / 2
    )


@pytest.mark.parametrize(
    ("standard", "sample", "two_to_one", "reversed_", "one_to_one"),
    [
        # ISO 105-J03 equations, evaluated by two independent programs to four decimals.
        ([50, 40, 20], [52, 38, 22], 2.2432, 2.3280, 2.7504),
        ([50, 20, -35], [48, 22, -33], 2.1375, 2.1248, 2.6649),
        ([10, 5, 5], [11, 4, 6], 2.5487, 2.7571, 3.0607),
        ([70, -30, 60], [68, -28, 63], 1.7970, 1.8007, 2.2476),
    ],
)
def test_cmc_follows_iso_105_j03(standard, sample, two_to_one, reversed_, one_to_one):
    assert round(float(delta_e_cmc(standard, sample)), 4) == two_to_one
    assert round(float(delta_e_cmc(sample, standard)), 4) == reversed_
    assert round(float(delta_e_cmc(standard, sample, l=1)), 4) == one_to_one


@pytest.mark.parametrize("textiles", [False, True])
def test_cie94_agrees_with_colour_science(textiles):
    import colour

    rng = np.random.default_rng(3)
    reference = rng.uniform([0, -80, -80], [100, 80, 80], (500, 3))
    sample = reference + rng.normal(0, 5, (500, 3))
    np.testing.assert_allclose(
        delta_e_1994(reference, sample, textiles=textiles),
        colour.difference.delta_E_CIE1994(reference, sample, textiles=textiles),
        atol=1e-8,
    )


def test_cmc_agrees_with_colour_science():
    import colour

    rng = np.random.default_rng(4)
    reference = rng.uniform([0, -80, -80], [100, 80, 80], (500, 3))
    sample = reference + rng.normal(0, 5, (500, 3))
    np.testing.assert_allclose(
        delta_e_cmc(reference, sample), colour.difference.delta_E_CMC(reference, sample), atol=1e-8
    )


@given(labs, labs)
def test_the_parts_make_up_the_whole(reference, sample):
    d_l, d_c, d_h = difference_parts(reference, sample)
    np.testing.assert_allclose(np.sqrt(d_l**2 + d_c**2 + d_h**2), delta_e_1976(reference, sample), atol=1e-5)


@given(labs, labs)
def test_ciede2000_is_a_symmetric_finite_difference(reference, sample):
    there, back = delta_e_2000(reference, sample), delta_e_2000(sample, reference)
    assert np.all(np.isfinite(there))
    assert np.all(there >= 0)
    np.testing.assert_allclose(there, back, atol=1e-7)
    np.testing.assert_array_equal(delta_e_2000(reference, reference), 0.0)


def test_signs_say_lighter_stronger_and_which_way_round():
    d_l, d_c, d_h = difference_parts([50, 0, -20], [55, 5, -25])
    assert d_l == 5
    assert d_c > 0
    assert d_h > 0  # from 270 towards 281 degrees: counter-clockwise
    assert difference_parts([50, 5, -25], [55, 0, -20])[2] < 0


def test_not_a_number_stays_visible():
    assert np.isnan(delta_e_2000([50, np.nan, 0], [50, 0, 0]))
    assert np.isnan(delta_e_cmc([50, np.nan, 0], [50, 0, 0]))
