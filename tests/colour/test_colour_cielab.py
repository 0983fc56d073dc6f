"""CIELAB, adaptation and resampling."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.adaptation import METHODS, adapt, adaptation_matrix
from strikeoff.colour.cielab import lab_to_lch, lab_to_xyz, lch_to_lab, xyz_to_lab
from strikeoff.colour.spectra import resample
from strikeoff.colour.weights import white_point

D50 = np.array([96.422, 100.0, 82.521])
D65 = np.array([95.047, 100.0, 108.883])


@given(arrays(np.float64, (4, 3), elements=st.floats(-5, 110)))
def test_xyz_lab_and_back(xyz):
    np.testing.assert_allclose(lab_to_xyz(xyz_to_lab(xyz, D50), D50), xyz, atol=1e-9)


@given(arrays(np.float64, (4, 3), elements=st.floats(-100, 100)))
def test_lab_lch_and_back(lab):
    lch = lab_to_lch(lab)
    assert np.all((lch[:, 2] >= 0) & (lch[:, 2] <= 360))
    np.testing.assert_allclose(lch_to_lab(lch), lab, atol=1e-10)


def test_lab_agrees_with_colour_science():
    import colour

    xyz = np.random.default_rng(0).uniform(0, 100, (500, 3))
    xyz[:50] *= 0.005
    white_xy = colour.XYZ_to_xy(D50)
    white = colour.xy_to_XYZ(white_xy) * 100
    np.testing.assert_allclose(xyz_to_lab(xyz, white), colour.XYZ_to_Lab(xyz / 100, white_xy), atol=5e-5)


def test_white_and_black_sit_at_the_ends():
    np.testing.assert_allclose(xyz_to_lab(D50, D50), [100, 0, 0], atol=1e-12)
    np.testing.assert_allclose(xyz_to_lab([0, 0, 0], D50), [0, 0, 0], atol=1e-12)


def test_bradford_matrix_is_the_published_one():
    # Linear Bradford D65 to D50, as printed in ICC.1:2022 annex F for sRGB's chad (s15Fixed16 digits).
    published = [[1.04788, 0.02292, -0.05022], [0.02959, 0.99048, -0.01707], [-0.00925, 0.01508, 0.75168]]
    ours = adaptation_matrix([0.9505, 1.0, 1.0890], [0.9642, 1.0, 0.8249])
    np.testing.assert_allclose(ours, published, atol=2e-4)


@pytest.mark.parametrize(
    ("method", "theirs"),
    [("bradford", "Bradford"), ("cat02", "CAT02"), ("cat16", "CAT16"), ("von-kries", "Von Kries")],
)
def test_adaptation_agrees_with_colour_science(method, theirs):
    import colour

    wanted = colour.adaptation.matrix_chromatic_adaptation_VonKries(D65, D50, transform=theirs)
    np.testing.assert_allclose(adaptation_matrix(D65, D50, method), wanted, atol=2e-5)


@pytest.mark.parametrize("method", METHODS)
def test_adaptation_carries_white_to_white_and_back(method):
    np.testing.assert_allclose(adapt(D65, D65, D50, method), D50, atol=1e-10)
    xyz = np.random.default_rng(1).uniform(0, 100, (3, 4, 3))
    np.testing.assert_allclose(adapt(adapt(xyz, D65, D50, method), D50, D65, method), xyz, atol=1e-10)


def test_unknown_adaptation_lists_the_choices():
    with pytest.raises(UsageError, match="bradford, cat02"):
        adaptation_matrix(D65, D50, "wrong")  # type: ignore[arg-type]
    with pytest.raises(InputError):
        adaptation_matrix([0, 1, 1], D50)


def test_sprague_agrees_with_colour_science():
    import colour

    grid = np.arange(400.0, 701.0, 10.0)
    values = 0.5 + 0.3 * np.sin(grid / 40)
    target = np.arange(400.0, 701.0, 1.0)
    wanted = colour.SpragueInterpolator(grid, values)(target)
    np.testing.assert_allclose(resample(values, grid, target), wanted, atol=1e-12)
    stack = resample(np.stack([values, 1 - values]), grid, target)
    np.testing.assert_allclose(stack, np.stack([wanted, 1 - wanted]), atol=1e-12)


def test_irregular_grids_are_splined_and_ends_held():
    grid = np.array([400.0, 410, 425, 440, 460, 470])
    values = (grid - 400) ** 2
    np.testing.assert_allclose(resample(values, grid, [405, 450]), [25, 2500], atol=1e-9)
    assert resample(values, grid, [390, 480]).tolist() == [values[0], values[-1]]
    assert resample([0.0, 1.0], [400, 420], [405]).tolist() == [0.25]


def test_resampling_refuses_what_is_no_number():
    with pytest.raises(InputError, match=r"spectrum \(1,\), band 2"):
        resample([[1, 1, 1.0], [1, 1, np.nan]], [400, 410, 420], [405])


def test_the_icc_white_is_ours_to_four_digits():
    # ICC.1:2022, 6.3.4.3: 0.9642, 1, 0.8249.
    np.testing.assert_allclose(white_point("D50", "2") / 100, [0.9642, 1, 0.8249], atol=3e-4)
