"""Recipes near the solid of a light ink, whose colour the full ink makes as well.

Dyes that add up after Beer and Lambert; the light one absorbs a quarter of what the full one does. No source
says how fast inks may change; measured here, 0.20 of full tone per CIEDE2000, and 0.45 where solids of light
inks reach no farther than others.
"""

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.black import BlackPolicy
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.limits import InkLimits

PLACES = np.linspace(0.0, 1.0, 9)
MAGENTA, LIGHT = 1, 4


def band(centre, width, height):
    return height * np.exp(-(((PLACES - centre) / width) ** 2))


DYES = np.array(
    [band(0.85, 0.3, 2.4), band(0.45, 0.2, 2.4), band(0.1, 0.2, 2.4), np.full(9, 2.6), band(0.45, 0.2, 0.6)]
)


@pytest.fixture(scope="module")
def inverse():
    rng = np.random.default_rng(4)
    inks = rng.random((240, 5)) * (rng.random((240, 5)) < 0.6)
    inks[:6] = np.vstack([np.zeros(5), np.eye(5)])
    inks /= np.maximum(inks.sum(axis=1) / 2.6, 1.0)[:, None]
    bands = 0.02 + 0.83 * np.exp(-np.log(10.0) * inks @ DYES)
    matrix = np.exp(-(((PLACES[:, None] - [0.75, 0.45, 0.1]) / 0.18) ** 2))
    view = View(matrix / matrix.sum(axis=0) * 100.0, np.full(3, 100.0))
    model = fit_forward(inks, np.ones(len(inks)), bands, view).under(view)
    names = ("C", "M", "Y", "K", "light")
    return make_inverse(model, names, InkLimits(np.ones(5), np.ones(5), 2.6), BlackPolicy())


def test_inks_change_slowly_about_a_light_solid(inverse):
    """The way to the full solid passes by the light one, and both are given for their own colours."""
    ends = inverse.exact.lab(np.eye(5)[[MAGENTA, LIGHT]])
    cloth = inverse.exact.lab(np.zeros((1, 5)))
    for solid, end in zip((MAGENTA, LIGHT), ends, strict=True):
        lab = cloth + np.linspace(0.0, 1.0, 97)[:, None] * (end - cloth)
        found = solve(inverse, lab, exact=False)
        steps = delta_e_2000(lab[:-1], lab[1:])
        change = np.abs(np.diff(found.inks, axis=0)).sum(axis=1) / steps
        np.testing.assert_allclose(found.inks[-1], np.eye(5)[solid], atol=0.05)
        assert change.max() < 0.3
