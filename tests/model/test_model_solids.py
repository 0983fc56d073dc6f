"""How near colours are to the tints and the solids of single inks."""

import numpy as np
import pytest

from strikeoff.model.solids import near_solids, near_tints


class TwoHues:
    """Two inks that each take 50 L*, the first towards red, the second towards green."""

    n_inks = 2

    def lab(self, inks):
        """Return Lab."""
        return np.array([100.0, 0.0, 0.0]) + inks @ np.array([[-50.0, 60.0, 0.0], [-50.0, -60.0, 0.0]])

    def jacobian(self, inks):
        """Return Lab and slopes."""
        raise NotImplementedError


def test_tints_draw_along_their_length_but_not_at_the_cloth():
    model, amount = TwoHues(), np.array([[0.0, 0.0], [0.5, 0.0], [1.0, 0.0], [0.0, 0.75]])
    share, tints = near_tints(model, np.eye(2), model.lab(amount), 10.0)
    np.testing.assert_allclose(share, [0.0, 1.0, 1.0, 1.0], atol=1e-9)
    np.testing.assert_allclose(tints[1:], amount[1:], atol=1e-9)


def test_between_two_tints_neither_draws():
    share, _ = near_tints(TwoHues(), np.eye(2), np.array([[90.0, 0.0, 0.0], [60.0, 0.0, 0.0]]), 10.0)
    np.testing.assert_allclose(share, 0.0, atol=1e-9)


def test_the_share_of_a_tint_falls_to_nothing_at_its_reach():
    lab = np.column_stack([np.full(60, 75.0), np.linspace(30.0, 90.0, 60), np.zeros(60)])
    share, _ = near_tints(TwoHues(), np.eye(2), lab, 10.0)
    assert share[0] == pytest.approx(1.0)
    assert (np.diff(share) <= 1e-12).all()
    assert share[-1] == 0.0


def test_solids_draw_wholly_at_their_colour_and_smoothly_about_it():
    solid_lab = TwoHues().lab(np.eye(2))
    lab = solid_lab[0] + np.linspace(0.0, 8.0, 81)[:, None] * [1.0, 0.0, 0.0]
    share, recipes = near_solids(lab, np.eye(2), solid_lab, np.full(2, 4.0))
    assert share[0] == pytest.approx(1.0)
    np.testing.assert_allclose(recipes[0], [1.0, 0.0], atol=1e-6)
    assert share[-1] == 0.0
    assert np.abs(np.diff(share)).max() < 0.05


def test_between_two_solids_their_mean_draws():
    solid_lab = np.array([[50.0, 0.0, 0.0], [54.0, 0.0, 0.0]])
    share, recipes = near_solids(np.array([[52.0, 0.0, 0.0]]), np.eye(2), solid_lab, np.full(2, 6.0))
    assert 0.0 < share[0] < 1.0
    np.testing.assert_allclose(recipes[0], [0.5, 0.5], atol=0.05)
