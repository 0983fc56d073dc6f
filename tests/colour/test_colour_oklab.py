"""Oklab against its author's table of check pairs and an independent implementation."""

import colour
import numpy as np
import pytest

from strikeoff.colour.oklab import oklab_to_xyz, xyz_to_oklab

D65 = np.array([0.95047, 1.0, 1.08883])
D50 = np.array([0.9642, 1.0, 0.8249])

# B. Ottosson, "A perceptual color space for image processing" (2020), table of example XYZ and Oklab.
PUBLISHED = [
    ((0.950, 1.000, 1.089), (1.000, 0.000, 0.000)),
    ((1.000, 0.000, 0.000), (0.450, 1.236, -0.019)),
    ((0.000, 1.000, 0.000), (0.922, -0.671, 0.263)),
    ((0.000, 0.000, 1.000), (0.153, -1.415, -0.449)),
]


@pytest.mark.parametrize(("xyz", "oklab"), PUBLISHED)
def test_published_pairs(xyz, oklab):
    np.testing.assert_allclose(xyz_to_oklab(xyz, D65), oklab, atol=1.0e-3)


def test_agrees_with_an_independent_implementation():
    xyz = np.random.default_rng(1).uniform(0.01, 0.9, (500, 3))
    np.testing.assert_allclose(xyz_to_oklab(xyz, D65), colour.XYZ_to_Oklab(xyz), atol=1e-5)


@pytest.mark.parametrize("white", [D65, D50, 100 * D50])
def test_there_and_back(white):
    xyz = np.random.default_rng(2).uniform(0.0, 1.0, (300, 3)) * white
    np.testing.assert_allclose(oklab_to_xyz(xyz_to_oklab(xyz, white), white), xyz, atol=1e-9 * white[1])


def test_any_white_is_white_and_greys_are_neutral():
    greys = np.linspace(0.05, 1.0, 9)[:, None] * D50
    oklab = xyz_to_oklab(greys, D50)
    np.testing.assert_allclose(oklab[:, 0], np.cbrt(np.linspace(0.05, 1.0, 9)), atol=2e-4)
    np.testing.assert_allclose(oklab[:, 1:], 0.0, atol=2e-4)


def test_white_is_adapted_not_scaled():
    # Bradford from D50 to D65 first, by an independent implementation.
    xyz = np.array([0.3, 0.2, 0.1])
    adapted = colour.adaptation.chromatic_adaptation_VonKries(xyz, D50, D65, transform="Bradford")
    np.testing.assert_allclose(xyz_to_oklab(xyz, D50), colour.XYZ_to_Oklab(adapted), atol=1e-4)
