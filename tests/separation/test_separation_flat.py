"""Flat artwork to ink planes by recipe. No source: own oracle."""

import numpy as np
import pytest

from strikeoff.artwork.linear_rgb import linear_rgb
from strikeoff.artwork.unmix import Palette, Unmixer
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import ArraySource
from strikeoff.separation.flat import FlatSource

SPACE = linear_rgb(None, 8)


def test_solids_are_their_recipe_and_edges_add_tints():
    colours = np.array([[255, 255, 255], [200, 30, 40]])
    pixels = np.zeros((6, 9, 3), np.uint8) + colours[0].astype(np.uint8)
    pixels[:, 5:] = colours[1]
    light = SPACE.linear(colours)
    pixels[:, 4] = SPACE.encode(light[0] * 0.75 + light[1] * 0.25)
    unmixer = Unmixer(ArraySource(pixels), SPACE, Palette(light, 0.3 / 255, "linear"))
    ramp = np.arange(65536, dtype=np.uint16)
    bare, red = np.zeros((65536, 2), np.uint16), np.stack([ramp // 2, ramp], axis=1)
    made = FlatSource(unmixer, (bare, red), (1.0, 1.0), 1.6).read(0, 6)
    assert not made[:, :4].any()
    assert (made[:, 5:] == (32767, 65535)).all()
    np.testing.assert_allclose(made[:, 4] / 65535, np.tile([0.125, 0.25], (6, 1)), atol=0.01)
    held = FlatSource(unmixer, (bare, red), (1.0, 1.0), 1.2).read(0, 6)
    assert held.sum(axis=2, dtype=int).max() <= 1.2 * 65535
    with pytest.raises(InputError, match="do not fit"):
        FlatSource(unmixer, (bare,), (1.0, 1.0), 1.6)
