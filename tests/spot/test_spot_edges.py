"""Edges between recipes, and colours that merge. No source: own oracle by a model of one line."""

import numpy as np
import pytest

from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.spot.contrast import colour_pairs
from strikeoff.spot.edges import edge_curves


class Filter:
    """Each ink takes light by the square root of its amount: half the ink takes far more than half."""

    n_inks = 2

    def lab(self, inks):
        light = 1.0 - 0.9 * np.sqrt(np.clip(inks, 0, 1)[..., :1]) * np.ones(3)
        return xyz_to_lab(light, np.ones(3))


def test_half_the_area_is_half_the_light():
    """Light 1 - 0.9 sqrt(a) is at half its way where sqrt(a) = 0.5: a quarter of the ink."""
    recipes = np.array([[0.0, 0.0], [1.0, 0.3], [1.0, 0.9]])
    mixed = np.ones((3, 3), bool)
    found = edge_curves(Filter(), recipes, mixed, 64) / 65535
    assert found[0, 1, 32] == pytest.approx(0.25, abs=0.004)
    assert found[0, 1, 16] == pytest.approx(0.0625, abs=0.004)
    assert (found[..., 0] == 0).all()
    assert (found[..., -1] == 1).all()
    assert (np.diff(found, axis=2) >= 0).all()
    # Recipes of one colour, and pairs that never meet, mix as area.
    straight = np.linspace(0, 1, 65)
    np.testing.assert_allclose(found[1, 2], straight, atol=1e-4)
    mixed[:] = False
    np.testing.assert_allclose(edge_curves(Filter(), recipes, mixed, 64)[0, 1] / 65535, straight, atol=1e-4)


def test_pairs_tell_what_merges_and_what_turns():
    before = np.array([[90.0, 0, 0], [50.0, 20, 0], [20.0, 0, 0], [21.0, 0, 0]])
    wished = np.array([[40.0, 0, 0], [70.0, 20, 0], [40.2, 0, 0], [21.0, 0, 0]])
    printed = np.array([[40.0, 0, 0], [70.0, 20, 0], [41.0, 0, 0], [40.5, 0, 0]])
    borders = np.zeros((4, 4), int)
    borders[0, 1] = borders[1, 0] = 500
    borders[1, 2] = borders[2, 1] = 3
    pairs = {(p.first, p.second): p for p in colour_pairs(before, wished, printed, borders, 2.0)}
    # 2 and 3 were one colour before; 1 and 2 hardly meet.
    assert set(pairs) == {(0, 1), (0, 2), (0, 3)}
    assert pairs[0, 1].turns
    assert not pairs[0, 1].merges
    assert (pairs[0, 2].merges, pairs[0, 2].is_wished) == (True, True)
    assert (pairs[0, 3].merges, pairs[0, 3].is_wished) == (True, False)
    assert pairs[0, 1].lightness_printed == 30.0
