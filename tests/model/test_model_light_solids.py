"""Recipes near the solid of a light ink, whose colour the full ink makes as well.

Dyes that add up after Beer and Lambert; the light one absorbs a quarter of what the full one does. No source
says how fast inks may change; measured here, 0.20 of full tone per CIEDE2000, and 0.45 where solids of light
inks reach no farther than others.
"""

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model import ways
from strikeoff.model.black import BlackPolicy
from strikeoff.model.descent import squared_misses
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


def along_the_edge(inverse):
    """Return how often an ink changes by a tenth in a 96th of a way along the edge, and what is missed."""
    rng, corners = np.random.default_rng(3), inverse.limits.corners()
    first, second = rng.integers(0, len(corners), (2, 160))
    share = np.linspace(0.0, 1.0, 97)[None, :, None]
    recipes = corners[first, None] * (1.0 - share) + corners[second, None] * share
    found = solve(inverse, inverse.quick.lab(recipes.reshape(-1, inverse.n_inks)), exact=False)
    inks = found.inks.reshape(recipes.shape)
    return int((np.abs(np.diff(inks, axis=1)).max(axis=2) > 0.1).sum()), float(found.de00.mean())


def test_neighbours_along_the_edge_are_alike(inverse, monkeypatch):
    """Mixtures of two corners of what is legal; the same with recipes loose, as direct matches are."""
    leaps, missed = along_the_edge(inverse)
    monkeypatch.setattr(ways, "_TABLE_WEIGHTS", (ways.FIELD_WEIGHT, ways.FIELD_WEIGHT))
    loose_leaps, loose_missed = along_the_edge(inverse)
    assert loose_leaps > 50
    assert leaps < 0.7 * loose_leaps
    assert missed < 1.3 * loose_missed


def test_recipes_are_held_by_what_inks_show(inverse):
    """Four times the slope, sixteen times the weight, within bounds, and all inks alike."""
    rng = np.random.default_rng(5)
    inks = inverse.limits.random(200, rng)
    lab, slope = inverse.guide.jacobian(inks)
    shown = np.stack([squared_misses(lab, lab + slope[:, :, k]) for k in range(5)], axis=1).max(axis=1)
    held = ways.table_wishes(inverse, lab, inks)
    assert held.shape == (200, 5)
    np.testing.assert_array_equal(held, held[:, :1].repeat(5, axis=1))
    np.testing.assert_allclose(held[:, 0], np.clip(5e-4 * shown, 0.05, 2.0), rtol=1e-9)
    assert ((held > 0.05) & (held < 2.0)).sum() > 100
