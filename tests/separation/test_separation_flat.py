"""Flat artwork to ink planes by recipe. No source: own oracle."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.artwork.linear_rgb import linear_rgb
from strikeoff.artwork.unmix import Palette, Unmixer, Weights
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import ArraySource
from strikeoff.separation.flat import STEPS, FlatSource, mixed_plain, plain_curves

SPACE = linear_rgb(None, 8)


def edge(share=0.25):
    """White, one column of a mixture, red."""
    colours = np.array([[255, 255, 255], [200, 30, 40]])
    pixels = np.full((6, 9, 3), 255, np.uint8)
    pixels[:, 5:] = colours[1]
    light = SPACE.linear(colours)
    pixels[:, 4] = SPACE.encode(light[0] * (1 - share) + light[1] * share)
    return Unmixer(ArraySource(pixels), SPACE, Palette(light, 0.3 / 255, "linear"))


def test_solids_are_their_recipe_and_edges_lie_between():
    recipes = np.array([[0, 0], [32767, 65535]], np.uint16)
    made = FlatSource(edge(), recipes, plain_curves(2)).read(0, 6)
    assert not made[:, :4].any()
    assert (made[:, 5:] == (32767, 65535)).all()
    np.testing.assert_allclose(made[:, 4] / 65535, np.tile([0.125, 0.25], (6, 1)), atol=0.01)
    with pytest.raises(InputError, match="do not fit"):
        FlatSource(edge(), recipes[:1], plain_curves(2))


def test_an_edge_follows_its_curve_from_either_side():
    """Ink of area a is a squared for the second colour: 0.25 of the area is 0.0625 of the ink."""
    curves = plain_curves(2)
    curves[0, 1] = np.rint(np.linspace(0, 1, STEPS + 1) ** 2 * 65535)
    recipes = np.array([[0, 0], [32767, 65535]], np.uint16)
    made = FlatSource(edge(), recipes, curves).read(0, 6)
    np.testing.assert_allclose(made[:, 4, 1] / 65535, 0.0625, atol=0.006)
    assert (made[:, 5:] == (32767, 65535)).all()
    # The colours the other way round: the curve belongs to the second still, so white holds the square now.
    turned = Unmixer(edge().source, SPACE, Palette(edge().palette.linear[::-1].copy(), 0.3 / 255, "linear"))
    made = FlatSource(turned, recipes[::-1].copy(), curves).read(0, 6)
    np.testing.assert_allclose(made[:, 4, 1] / 65535, 1 - 0.75**2, atol=0.012)


def test_equal_recipes_leave_no_edge():
    curves = plain_curves(2)
    curves[0, 1] = np.rint(np.linspace(0, 1, STEPS + 1) ** 3 * 65535)
    recipes = np.array([[12345, 54321], [12345, 54321]], np.uint16)
    made = FlatSource(edge(), recipes, curves).read(0, 6)
    assert (made == (12345, 54321)).all()


def made_weights(rng, count):
    """Weights of every kind: one, two and three colours."""
    places = np.array([[rng.permutation(count)[:3] for _ in range(12)] for _ in range(3)], np.uint8)
    second = rng.integers(0, 40000, (3, 12)) * rng.integers(0, 2, (3, 12))
    third = rng.integers(0, 25000, (3, 12)) * rng.integers(0, 2, (3, 12))
    weights = np.stack([65535 - second - third, second, third], axis=2).astype(np.uint16)
    return Weights(places, weights, np.zeros((3, 12), np.float32))


@settings(max_examples=25)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(3, 7), inks=st.integers(1, 9))
def test_compiled_mixing_equals_the_plain_and_keeps_the_total(seed, count, inks):
    rng = np.random.default_rng(seed)
    recipes = rng.integers(0, 65536, (count, inks), dtype=np.uint16)
    curves = np.sort(rng.integers(0, 65536, (count, count, STEPS + 1), dtype=np.uint16), axis=2)
    curves[..., 0], curves[..., -1] = 0, 65535
    made = made_weights(rng, count)
    unmixed = SimpleNamespace(
        source=ArraySource(np.zeros((3, 12, 3), np.uint8)),
        palette=Palette(np.zeros((count, 3)), 0.01, "linear"),
        read=lambda y0, y1: (None, made),
    )
    found = FlatSource(unmixed, recipes, curves).read(0, 3)
    np.testing.assert_array_equal(found, mixed_plain(made, recipes, curves))
    most = recipes.sum(axis=1, dtype=np.int64).max() + inks / 2
    assert found.sum(axis=2, dtype=np.int64).max() <= most
    alone = made.weights[..., 0] == 65535
    np.testing.assert_array_equal(found[alone], recipes[made.places[..., 0][alone]])
