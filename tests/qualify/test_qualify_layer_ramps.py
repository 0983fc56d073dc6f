"""Dyes in one layer are told from dots by the spectra of ramps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.colour.cielab import lab_to_xyz, spectra_to_lab
from strikeoff.colour.weights import white_point
from strikeoff.inks.records import Ink
from strikeoff.qualify.layer_ramps import layer_shares
from strikeoff.qualify.light_split import light_pair
from strikeoff.qualify.ramps import Ramp

WAVELENGTHS_NM = np.arange(380.0, 731.0, 10.0)
STEPS = np.linspace(0.0, 1.0, 11)
CLOTH = np.interp(WAVELENGTHS_NM, [380, 440, 730], [0.65, 0.82, 0.86])
DYE = 8.0 * np.exp(-(((WAVELENGTHS_NM - 545.0) / 45.0) ** 2)) + 0.05


def dyed(amount, surface=0.01):
    """P. Kubelka, F. Munk (1931): absorption over scattering adds up beneath a surface."""
    inside = (CLOTH - surface) / (1 - surface)
    absorbed = (1 - inside) ** 2 / (2 * inside) + np.asarray(amount)[:, None] * DYE
    return surface + (1 - surface) / (1 + absorbed + np.sqrt(absorbed * (absorbed + 2)))


def dotted(cover, exponent):
    """J. A. C. Yule, W. J. Nielsen (1951): dots of a solid, light spreading between them."""
    solid, cover = CLOTH * 10.0 ** (-DYE / 6), np.asarray(cover)[:, None]
    return (cover * solid ** (1 / exponent) + (1 - cover) * CLOTH ** (1 / exponent)) ** exponent


def noisy(spectra, seed):
    rng = np.random.default_rng(seed)
    return spectra * (1 + rng.normal(0, 0.004, (len(spectra), 1))) + rng.normal(0, 0.0005, spectra.shape)


@settings(max_examples=20, deadline=None)
@given(gamma=st.floats(0.6, 2.0), pale=st.floats(0.1, 0.5), seed=st.integers(0, 99))
def test_dyes_are_found_and_their_shares(gamma, pale, seed):
    amount = STEPS**gamma
    found = layer_shares([noisy(dyed(amount), seed), noisy(dyed(pale * amount), seed + 1)])
    assert found is not None
    for shares in found:
        np.testing.assert_allclose(shares, amount, atol=0.03)
        assert shares[0] == 0
        assert shares[-1] == 1


@settings(max_examples=20, deadline=None)
@given(exponent=st.floats(1.0, 6.0), gain=st.floats(0.6, 1.5), seed=st.integers(0, 99))
def test_dots_are_no_layer(exponent, gain, seed):
    assert layer_shares([noisy(dotted(STEPS**gain, exponent), seed)]) is None


def test_film_is_no_layer():
    """A. Beer (1852): density is even in the amount, and densities add up."""
    assert layer_shares([noisy(CLOTH * 10.0 ** (-STEPS[:, None] * DYE / 6), 3)]) is None


def test_measured_dots_on_paper_are_no_layer(measured_set):
    """The open set of measured CMYK patches."""
    inks = measured_set.coverages
    for ink in range(4):
        alone = np.flatnonzero((np.delete(inks, ink, axis=1) == 0).all(axis=1))
        steps, first = np.unique(inks[alone, ink], return_index=True)
        assert len(steps) >= 5
        assert layer_shares([measured_set.spectra[alone[first]]]) is None


@pytest.mark.parametrize("spectral", [True, False])
def test_a_pair_of_dyes_prints_what_the_dark_one_would(spectral):
    """Within 1 L*, no tone resting; by densities, as without spectra, it rests and is 6 L* too light."""

    def ramp(name, spectra):
        lab = spectra_to_lab(spectra, WAVELENGTHS_NM)
        xyz = lab_to_xyz(lab, white_point("D50", "2"))
        return Ramp(name, STEPS, lab, xyz, tuple("abcdefghijk"), spectra if spectral else None)

    amount = STEPS**1.4
    pair = light_pair(
        ramp("M", noisy(dyed(amount), 1)),
        ramp("m", noisy(dyed(0.2 * amount), 2)),
        (Ink("M"), Ink("m", "light", "M")),
        (1.0, 1.0),
    )
    assert (pair.adds is not None) is spectral
    split = pair.split()
    dark, light = ((ink / 65535) ** 1.4 for ink in (split.dark, split.light))
    printed = spectra_to_lab(dyed(dark + 0.2 * light), WAVELENGTHS_NM)[:, 0]
    wanted = spectra_to_lab(dyed(np.linspace(0, 1, 256) ** 1.4), WAVELENGTHS_NM)[:, 0]
    off, steps = printed - wanted, -np.diff(printed[20:])
    assert (np.abs(off).max() < 1.0) == spectral
    assert (off.max() > 6.0) != spectral
    assert (steps.min() > 0) == spectral
