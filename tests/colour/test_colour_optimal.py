"""Colours that a surface can have, against published limits and against reflectances."""

import numpy as np
import pytest

from strikeoff.colour.cielab import spectra_to_lab, xyz_to_lab
from strikeoff.colour.optimal import is_object_colour
from strikeoff.colour.weights import white_point

GREY = np.array([50.0, 0.0, 0.0])


@pytest.mark.parametrize("light", ["A", "D65"])
def test_published_limits_lie_on_the_border(light):
    """Tables of optimal colour stimuli (after MacAdam 1935), as colour-science carries them.

    They are given to three or four digits of x and y; the slack of the function is half a unit. Its own table
    of illuminant C differs by up to 3 units where it is steepest, and is left out.
    """
    from colour import xyY_to_XYZ
    from colour.volume.datasets import OPTIMAL_COLOUR_STIMULI_ILLUMINANTS

    limits = np.asarray(OPTIMAL_COLOUR_STIMULI_ILLUMINANTS[light])
    assert len(limits) > 150
    lab = xyz_to_lab(np.asarray(xyY_to_XYZ(limits)), white_point(light, "2"))
    out = (lab - GREY) / np.linalg.norm(lab - GREY, axis=1, keepdims=True)
    assert is_object_colour(lab - out, light, "2").all()
    assert not is_object_colour(lab + out, light, "2").any()


@pytest.mark.parametrize(("light", "observer"), [("D50", "2"), ("D65", "10"), ("FL11", "10")])
def test_every_reflectance_is_within(light, observer):
    """Random ones, and bands of all light and none, which are the limits themselves (Schroedinger 1920)."""
    rng = np.random.default_rng(4)
    # Each nanometre, so that nothing is interpolated beyond 0 and 1.
    grid = np.arange(380.0, 781.0)
    edges = np.sort(rng.uniform(380.0, 780.0, (300, 2)))
    bands = ((grid >= edges[:, :1]) & (grid <= edges[:, 1:])).astype(float)
    spectra = np.vstack([bands, 1.0 - bands, rng.uniform(size=(100, len(grid)))])
    assert is_object_colour(spectra_to_lab(spectra, grid, light, observer), light, observer).all()


def test_fluorescence_and_wrong_aims_are_beyond():
    """By hand: more red than white reflects, or less green than none."""
    aims = [[20, 150, 0], [95, 80, 0], [103, 0, 0], [30, 40, -190], [2, 0, -40]]
    assert not is_object_colour(aims).any()
    # Strong textile colours of everyday; the cloth, black, and rounding below it.
    assert is_object_colour(
        [[48, 75, 30], [89, -8, 98], [25, 20, -50], [45, 72, -10], [100, 0, 0], [0, 0, 0], [-0.4, 0, 0]]
    ).all()
    assert is_object_colour(np.zeros((0, 3))).shape == (0,)
