"""The saturation rule: chroma towards the boundary, order, hue and greys kept (our own rule, no source)."""

import numpy as np
import pytest

from strikeoff.model.gamut import GamutBoundary, expand_chroma, lab_to_ok, ok_to_lab

LEVELS = np.linspace(0.2, 1.0, 33)
BOUNDARY = GamutBoundary(LEVELS, np.tile(np.sqrt(np.maximum(0.16 - (LEVELS - 0.6) ** 2, 0))[:, None] / 2, 60))


def line(lightness, angle, count=200):
    chroma = np.linspace(0.0, 0.3, count)
    return np.column_stack([np.full(count, lightness), chroma * np.cos(angle), chroma * np.sin(angle)])


@pytest.mark.parametrize("angle", [-3.0, -1.2, 0.0, 0.7, 2.4])
def test_order_hue_and_lightness_are_kept(angle):
    ok = line(0.6, angle)
    out = lab_to_ok(expand_chroma(BOUNDARY, ok_to_lab(ok), 0.8))
    chroma, before = np.hypot(out[:, 1], out[:, 2]), np.hypot(ok[:, 1], ok[:, 2])
    assert np.diff(chroma).min() > 0
    assert (chroma >= before - 1e-9).all()
    np.testing.assert_allclose(out[:, 0], 0.6, atol=1e-9)
    turned = np.angle(np.exp(1j * (np.arctan2(out[1:, 2], out[1:, 1]) - angle)))
    assert np.abs(turned).max() < 1e-6


def test_greys_and_the_boundary_stay_and_middles_gain():
    """r + 0.8 r^2 (1 - r) at r = 0, 1/2, 2/3, 1 and beyond: by hand."""
    largest = 0.2
    ratio = np.array([0.0, 0.5, 2 / 3, 1.0, 1.3])
    ok = np.column_stack([np.full(5, 0.6), ratio * largest, np.zeros(5)])
    out = lab_to_ok(expand_chroma(BOUNDARY, ok_to_lab(ok), 0.8))[:, 1] / largest
    np.testing.assert_allclose(out, [0.0, 0.6, 2 / 3 + 0.8 * 4 / 27, 1.0, 1.3], atol=2e-4)


def test_amount_zero_changes_nothing():
    ok = line(0.7, 1.0)
    np.testing.assert_allclose(expand_chroma(BOUNDARY, ok_to_lab(ok), 0.0), ok_to_lab(ok), atol=1e-8)
