"""Weights against published white points, colour-science's ASTM E308 and 1 nm integration."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.cielab import spectra_to_lab, xyz_to_lab
from strikeoff.colour.difference import delta_e_1976, delta_e_2000
from strikeoff.colour.spectra import GRID_10NM
from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.colour.weights import (
    canonical_illuminant,
    canonical_observer,
    illuminant_names,
    lagrange_matrix,
    weighting_factors,
    white_point,
)

FINE_NM = np.arange(360.0, 831.0)
NAMES = {"2": "CIE 1931 2 Degree Standard Observer", "10": "CIE 1964 10 Degree Standard Observer"}


def smooth_spectra(grid):
    """Ink-like spectra: steps and humps no narrower than those of textile dyes."""
    rng = np.random.default_rng(11)
    centres, widths = rng.uniform(400, 700, (40, 3)), rng.uniform(18, 60, (40, 3))
    signs = rng.uniform(-1, 1, (40, 3))
    waves = (signs[..., None] * np.tanh((grid - centres[..., None]) / widths[..., None])).sum(axis=1)
    return 0.04 + 0.8 / (1 + np.exp(-waves * 2))


def integrate_1nm(values, illuminant, observer):
    import colour

    light = np.interp(FINE_NM, *_table(illuminant))
    product = light[:, None] * colour.MSDS_CMFS[NAMES[observer]].values
    return values @ product * (100 / product[:, 1].sum())


def _table(name):
    import colour

    table = colour.SDS_ILLUMINANTS[name]
    return table.wavelengths, table.values


@pytest.mark.parametrize(
    ("illuminant", "observer", "x", "z", "atol"),
    [
        # ASTM E308, white points of table 5, from memory; tables there end at 780 nm.
        ("A", "2", 109.850, 35.585, 0.01),
        ("A", "10", 111.144, 35.200, 0.01),
        ("C", "2", 98.074, 118.232, 0.06),
        ("D50", "2", 96.422, 82.521, 0.01),
        ("D50", "10", 96.720, 81.427, 0.02),
        ("D55", "2", 95.682, 92.149, 0.02),
        ("D65", "2", 95.047, 108.883, 0.005),
        ("D65", "10", 94.811, 107.304, 0.005),
        ("D75", "2", 94.972, 122.638, 0.025),
        # Lines of fluorescent lights are given at 5 nm only, so the way to 1 nm shows in the second digit.
        ("FL2", "2", 99.186, 67.393, 0.1),
        ("FL7", "2", 95.041, 108.747, 0.12),
        ("FL11", "2", 100.962, 64.350, 0.1),
    ],
)
def test_white_points_are_the_published_ones(illuminant, observer, x, z, atol):
    assert white_point(illuminant, observer) == pytest.approx([x, 100.0, z], abs=atol)


@pytest.mark.parametrize("observer", ["2", "10"])
@pytest.mark.parametrize("illuminant", ["D50", "D65", "A", "FL2", "FL11"])
@pytest.mark.parametrize("interval", [5, 10, 20])
def test_weights_equal_colour_science_astm_e308(illuminant, observer, interval):
    import colour

    grid = np.arange(360.0, 781.0, interval)
    spectra = smooth_spectra(grid)[:6]
    observer_1nm = colour.MSDS_CMFS[NAMES[observer]]
    # Aligned here, as the library would do with a warning.
    practice = colour.SpectralShape(360, 780, 1)
    observer_1nm = observer_1nm.copy().align(practice)
    light = colour.SDS_ILLUMINANTS[illuminant].copy().align(practice)
    wanted = [
        colour.sd_to_XYZ(
            colour.SpectralDistribution(row, grid),
            observer_1nm,
            light,
            method="ASTM E308",
            mi_5nm_omission_method=False,
            mi_20nm_interpolation_method=False,
        )
        for row in spectra
    ]
    np.testing.assert_allclose(
        spectra_to_xyz(spectra, grid, illuminant, observer), wanted, atol=1e-3
    )  # their practice range ends at 780 nm


def test_weights_equal_the_e2022_table_of_colour_science():
    import colour

    cmfs = colour.MSDS_CMFS[NAMES["10"]]
    light = colour.sd_CIE_standard_illuminant_A(cmfs.shape)
    wanted = colour.colorimetry.tristimulus_weighting_factors_ASTME2022(
        cmfs, light, colour.SpectralShape(360, 830, 10)
    )
    measured = (light.wavelengths, light.values)
    ours = weighting_factors(measured, "10", np.arange(360.0, 831.0, 10.0))
    np.testing.assert_allclose(ours, wanted, atol=1e-9)
    np.testing.assert_allclose(weighting_factors("A", "10", np.arange(360.0, 831.0, 10.0)), wanted, atol=2e-3)


def test_missing_wavelengths_are_added_to_the_end_bands():
    # ASTM E308, 7.2.2: the same table, its ends summed.
    whole = weighting_factors("D50", "2", np.arange(360.0, 831.0, 10.0))
    short = weighting_factors("D50", "2", np.arange(400.0, 701.0, 10.0))
    np.testing.assert_allclose(short[1:-1], whole[5:34], atol=1e-12)
    np.testing.assert_allclose(short[0], whole[:5].sum(axis=0), atol=1e-12)
    np.testing.assert_allclose(short[-1], whole[34:].sum(axis=0), atol=1e-12)


@pytest.mark.parametrize("observer", ["2", "10"])
@pytest.mark.parametrize("illuminant", ["D50", "D65", "A", "FL2", "FL7", "FL11", "LED-B1"])
def test_ten_nanometre_data_give_the_one_nanometre_colour(illuminant, observer):
    truth = xyz_to_lab(
        integrate_1nm(smooth_spectra(FINE_NM), illuminant, observer), white_point(illuminant, observer)
    )
    grid = np.arange(360.0, 831.0, 10.0)
    coarse = spectra_to_lab(smooth_spectra(grid), grid, illuminant, observer)
    assert delta_e_2000(truth, coarse).max() < 0.05


def test_plain_summation_fails_under_a_fluorescent_light():
    import colour

    grid = np.arange(360.0, 781.0, 10.0)
    spectra = smooth_spectra(grid)
    rows = np.searchsorted(FINE_NM, grid)
    product = (np.interp(FINE_NM, *_table("FL11"))[:, None] * colour.MSDS_CMFS[NAMES["2"]].values)[rows]
    plain = xyz_to_lab(spectra @ product * (100 / product[:, 1].sum()), white_point("FL11"))
    truth = xyz_to_lab(integrate_1nm(smooth_spectra(FINE_NM), "FL11", "2"), white_point("FL11"))
    assert delta_e_1976(truth, plain).max() > 10
    assert delta_e_2000(truth, spectra_to_lab(spectra, grid, "FL11")).max() < 0.05


@pytest.mark.parametrize(
    "grid",
    [
        GRID_10NM,
        np.arange(400, 701, 10),
        np.arange(380, 781, 5),
        np.arange(400, 701, 20),
        np.arange(385, 736, 10),
        np.arange(340, 851, 10),
        np.array([380, 390, 400, 412, 420, 430, 445, 460, 470, *range(480, 731, 10)]),
    ],
)
def test_a_flat_spectrum_is_grey_on_every_grid(grid):
    for light in ("D50", "FL11"):
        xyz = spectra_to_xyz(np.full(len(grid), 0.25), grid, light)
        np.testing.assert_allclose(xyz, 0.25 * white_point(light), atol=1e-9)


def test_a_measured_light_equals_the_tabulated_one():
    import colour

    table = colour.SDS_ILLUMINANTS["FL11"]
    ours = weighting_factors((table.wavelengths, table.values * 37.0), "2", GRID_10NM)
    np.testing.assert_allclose(ours, weighting_factors("fl11", "2", GRID_10NM), atol=1e-12)


def test_lagrange_weights_reproduce_cubics():
    nodes = np.array([0.0, 10.0, 20.0, 35.0, 40.0, 50.0])
    points = np.linspace(10, 40, 31)
    np.testing.assert_allclose(lagrange_matrix(nodes, points) @ nodes**3 * 1e-3, points**3 * 1e-3, atol=1e-9)


def test_names_are_forgiving_but_not_guessing():
    assert canonical_illuminant("F11") == "FL11"
    assert canonical_illuminant("fl3.12") == "FL3.12"
    assert "LED-B1" in illuminant_names()
    with pytest.raises(UsageError, match="D50, D55") as caught:
        canonical_illuminant("D51")
    assert caught.value.found == "D51"
    with pytest.raises(UsageError):
        canonical_observer("5")
    with pytest.raises(UsageError):
        weighting_factors("D50", "1931", GRID_10NM)


def test_bad_spectra_and_grids_fail_loudly():
    spectra = np.full((3, 36), 0.5)
    spectra[1, 4] = np.nan
    with pytest.raises(InputError, match="band 4"):
        spectra_to_xyz(spectra, GRID_10NM)
    with pytest.raises(InputError, match="36 values"):
        spectra_to_xyz(np.full(31, 0.5), GRID_10NM)
    with pytest.raises(InputError, match="rise"):
        spectra_to_xyz(np.full(36, 0.5), GRID_10NM[::-1])
    with pytest.raises(InputError, match="too far apart"):
        spectra_to_xyz(np.full(8, 0.5), np.linspace(380, 730, 8))
    with pytest.raises(InputError, match="visible"):
        spectra_to_xyz(np.full(20, 0.5), np.arange(500, 700, 10))
    with pytest.raises(InputError, match="visible"):
        white_point(([450, 600], [1.0, 1.0]))
    with pytest.raises(InputError, match="power"):
        white_point(([380, 780], [1.0, -1.0]))
