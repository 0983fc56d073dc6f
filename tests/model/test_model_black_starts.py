"""Recipes that start with their black: inks whose first trace hardly shows are no wall between greys."""

import numpy as np
import pytest

from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.model.black import BlackPolicy
from strikeoff.model.black_starts import starts_with_black
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.least_black import greys_with_black
from strikeoff.model.limits import InkLimits
from strikeoff.model.table import tabulate

WAVELENGTHS_NM = np.arange(400.0, 701.0, 10.0)
BANDS_NM = ((650.0, 60.0), (540.0, 45.0), (440.0, 45.0))


def power(x, exponent):
    return np.sign(x) * np.abs(x) ** exponent


class Hesitant:
    """Dyes on a cloth by Beer's law. Cyan, magenta and yellow lighten at first, as fits of few may."""

    n_inks = 4

    def lab(self, inks):
        dye = power(inks[:, :3], 1.6) - 0.02 * np.sin(np.pi * np.clip(inks[:, :3], 0.0, 0.1) / 0.1)
        density = 1.5 * power(np.sin(0.5 * np.pi * inks[:, 3:]), 0.7)
        for k, (centre, width) in enumerate(BANDS_NM):
            density = density + 2.2 * dye[:, [k]] * np.exp(-0.5 * ((WAVELENGTHS_NM - centre) / width) ** 2)
        return spectra_to_lab(np.minimum(0.85 * 10.0**-density, 1.0), WAVELENGTHS_NM)


@pytest.fixture(scope="module")
def inverse():
    limits = InkLimits(np.ones(4), np.ones(4), 2.6)
    return make_inverse(
        Hesitant(), ("C", "M", "Y", "K"), limits, BlackPolicy(strength=0.0), tabulate(Hesitant())
    )


def test_greys_of_coloured_inks_alone_need_no_black(inverse):
    """Colours of equal cyan, magenta and yellow without black are possible without it, by construction."""
    steps = np.linspace(0.1, 0.8, 30)
    lab = inverse.quick.lab(np.column_stack([steps, steps, steps, np.zeros(30)]))
    possible = greys_with_black(
        inverse.quick, inverse.limits, 3, lab, np.linspace(0.0, 1.0, 51), inverse.seeds
    )
    assert possible[:, 0].all()


def test_no_black_is_asked_for_where_none_is_needed(inverse):
    """A policy of least black asks for none down to where the coloured inks end, and little is used."""
    lightness = np.arange(88.0, 32.0, -0.5)
    assert inverse.curve.least(lightness).max() == 0.0
    lab = np.column_stack([lightness, np.zeros((len(lightness), 2))])
    found = solve(inverse, lab, exact=False)
    assert found.de00.max() < 0.1
    assert found.inks[lightness > 50.0, 3].max() < 0.1


def test_starts_hold_their_black_and_are_legal():
    limits = InkLimits(np.array([1.0, 1.0, 1.0, 0.8]), np.ones(4), 1.6)
    rng = np.random.default_rng(2)
    lab = np.column_stack([rng.uniform(20, 90, 200), rng.uniform(-40, 40, (200, 2))])
    amounts = rng.uniform(0.0, 0.8, 200)
    amounts[:2] = 0.0, 0.8
    model = tabulate(Hesitant())
    starts = starts_with_black(model, limits, 3, lab, amounts, limits.random(3000, rng), 3)
    assert starts.shape == (3, 200, 4)
    assert (starts[..., 3] == amounts).all()
    assert limits.legal(starts.reshape(-1, 4)).all()
    # Closest first, but for the black that is rounded while they are looked for.
    away = [np.linalg.norm(model.lab(start) - lab, axis=1).mean() for start in starts]
    assert away == sorted(away)


@pytest.mark.parametrize("total", [0.8, 0.3])
def test_a_total_below_full_black_is_held(total):
    """Black alone is then beyond the limits, and no grey holds more of it than the total."""
    limits = InkLimits(np.ones(4), np.ones(4), total)
    made = make_inverse(Hesitant(), ("C", "M", "Y", "K"), limits, BlackPolicy(), tabulate(Hesitant()))
    lightness = np.arange(90.0, 10.0, -2.0)
    lab = np.column_stack([lightness, np.zeros((len(lightness), 2))])
    found = solve(made, lab, exact=False)
    assert limits.legal(found.inks, 1e-9).all()
    assert found.inks[-1, 3] == pytest.approx(total, abs=0.01)
    amounts = np.linspace(0.0, 1.0, 51)
    possible = greys_with_black(made.quick, limits, 3, lab, amounts, made.seeds)
    assert possible.any()
    assert not possible[:, amounts > total + 0.011].any()
