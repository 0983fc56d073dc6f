"""The chooser's shortcut against plain algebra."""

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.model.covariance import Kernel
from strikeoff.model.design import (
    amplitudes,
    choose,
    choose_together,
    squares_per_variance,
    trusted_kernel,
    usual_kernel,
    visibility,
)

KERNEL = Kernel(np.array([0.8, 1.1, 0.9]), 2e-3, 0.02, 0.5, 0.01, 0.4)


def plain_variance(read, repeats, targets):
    """Variance with a reading's noise (Rasmussen and Williams 2006, equation 2.26)."""
    covariance = KERNEL.plain_covariance
    variance = np.diag(covariance(targets, targets)) + KERNEL.noise
    if len(read):
        noisy = covariance(read, read) + np.diag(KERNEL.noise / repeats)
        cross = covariance(targets, read)
        variance = variance - np.einsum("ij,ji->i", cross, np.linalg.solve(noisy, cross.T))
    return variance


@pytest.mark.parametrize("already", [0, 6])
def test_choice_is_the_best_of_all_and_its_error_is_right(already):
    """The best is what takes most variance, each target's share over the root of what it has now."""
    rng = np.random.default_rng(4)
    read, repeats = rng.random((already, 3)), np.arange(1.0, already + 1)
    candidates, targets = rng.random((25, 3)), rng.random((40, 3))
    squares, share = rng.random(40), rng.dirichlet(np.ones(40))
    picks = choose(KERNEL, read, repeats, candidates, targets, squares, share)
    for _ in range(4):
        pick = next(picks)
        before = squares * plain_variance(read, repeats, targets)
        after = [
            squares * plain_variance(np.vstack([read, c]), np.append(repeats, 1.0), targets)
            for c in candidates
        ]
        gains = [share @ ((before - left) / (2 * np.sqrt(before))) for left in after]
        assert pick.index == int(np.argmax(gains))
        assert pick.error == pytest.approx(share @ np.sqrt(after[pick.index]), rel=1e-7)
        read, repeats = np.vstack([read, candidates[pick.index]]), np.append(repeats, 1.0)


def test_chosen_together_leave_less_doubt_than_one_by_one():
    """The last that was exchanged is the best beside all others, by plain algebra."""
    rng = np.random.default_rng(8)
    read, repeats = rng.random((3, 3)), np.ones(3)
    candidates, targets = rng.random((30, 3)), rng.random((40, 3))
    squares, share = rng.random(40), rng.dirichlet(np.ones(40))
    given = (KERNEL, read, repeats, candidates, targets, squares, share)
    together = choose_together(*given, 8)
    one_by_one = [pick.index for pick, _ in zip(choose(*given), range(8), strict=False)]
    assert len(set(together.tolist())) == 8

    def variance(chosen):
        all_read = np.vstack([read, candidates[chosen]])
        return squares * plain_variance(all_read, np.ones(len(all_read)), targets)

    assert share @ np.sqrt(variance(together)) < share @ np.sqrt(variance(one_by_one))
    others = together[:-1]
    before = variance(others)
    free = [i for i in range(30) if i not in set(others.tolist())]
    gains = [share @ ((before - variance(np.append(others, i))) / (2 * np.sqrt(before))) for i in free]
    assert together[-1] == free[int(np.argmax(gains))]
    assert sorted(choose_together(*given, 99).tolist()) == list(range(30))


def test_a_far_corner_does_not_take_all_patches():
    """Two groups, equally shared: the second patch goes to the nearer group, though the far one's
    variance is still larger, once its root counts."""
    near, far = np.full((6, 3), 0.3), np.full((6, 3), 0.9)
    targets = np.vstack([near, far]) + np.random.default_rng(0).normal(0, 0.01, (12, 3))
    squares = np.repeat([1.0, 900.0], 6)
    share = np.full(12, 1 / 12)
    candidates = np.array([[0.3, 0.3, 0.3], [0.9, 0.9, 0.9], [0.9, 0.9, 0.88]])
    picks = choose(KERNEL, np.zeros((0, 3)), np.zeros(0), candidates, targets, squares, share)
    first, second = next(picks).index, next(picks).index
    assert first in (1, 2)
    assert second == 0


def test_every_candidate_comes_once_and_doubt_only_falls():
    rng = np.random.default_rng(1)
    candidates = rng.random((12, 3))
    picks = list(
        choose(
            KERNEL, np.zeros((0, 3)), np.zeros(0), candidates, candidates, np.ones(12), np.full(12, 1 / 12)
        )
    )
    assert sorted(p.index for p in picks) == list(range(12))
    assert (np.diff([p.error for p in picks]) <= 1e-12).all()


def test_weights_draw_the_choice():
    """Only one corner matters: the first pick is the candidate next to it."""
    candidates = np.random.default_rng(2).random((60, 3))
    target = np.array([[0.9, 0.1, 0.9]])
    pick = next(choose(KERNEL, np.zeros((0, 3)), np.zeros(0), candidates, target, np.ones(1), np.ones(1)))
    best = KERNEL.plain_covariance(target, candidates)[0] ** 2 / (KERNEL.variance(candidates) + KERNEL.noise)
    assert pick.index == int(best.argmax())


def test_visibility_is_the_slope_of_the_difference():
    """Small steps along L*, a*, b*: CIEDE2000 grows in proportion, more in greys than in strong colours."""
    lab = np.array([[50.0, 0.0, 0.0], [60.0, 70.0, 50.0], [20.0, 5.0, -40.0]])
    slopes = np.sqrt(visibility(lab))
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 0.25
        assert delta_e_2000(lab, lab + step) == pytest.approx(0.25 * slopes[:, axis], rel=0.05)
    assert (slopes[1, 1:] < 0.6 * slopes[0, 1:]).all()


def test_doubt_goes_with_the_slope_of_the_colour():
    """Lightness of a thin and a thick layer (Beer-Lambert, from memory): less change, less doubt.

    The slopes are exp(1.6) to one: squares follow them, not their squares.
    """
    inks = np.array([0.1, 0.9])
    lab = np.array([[80.0, 0.0, 0.0], [20.0, 0.0, 0.0]])
    slopes = np.zeros((2, 3, 1))
    slopes[:, 0, 0] = -100.0 * np.exp(-2.0 * inks)
    spread = np.array([400.0, 0.0, 0.0])
    found = squares_per_variance(lab, slopes, spread)
    plain = visibility(lab)[:, 0]
    assert found[0] / found[1] == pytest.approx(plain[0] / plain[1] * np.exp(1.6))
    # Alike slopes leave what the spread says; so do none at all.
    for alike in (np.ones((2, 3, 1)) * [[[3.0], [0.0], [0.0]]], np.zeros((2, 3, 1))):
        assert squares_per_variance(lab, alike, spread) == pytest.approx(visibility(lab) @ spread)


def test_amplitudes_find_the_size_of_a_drawn_function():
    rng = np.random.default_rng(3)
    read = rng.random((250, 3))
    root = np.linalg.cholesky(KERNEL.covariance(read, read) + KERNEL.noise * np.eye(250))
    values = root @ rng.standard_normal((250, 2)) * [3.0, 0.5]
    assert np.sqrt(amplitudes(KERNEL, read, np.ones(250), values)) == pytest.approx([3.0, 0.5], rel=0.15)


def test_trust_grows_with_readings():
    own = Kernel(np.array([1.0, 6.0]), 1e-2, 0.0, 0.3, 0.1, 0.2)
    usual = usual_kernel(2)
    few, some, many = (trusted_kernel(own, n).scales for n in (1, 50, 100_000))
    assert few == pytest.approx(usual.scales, rel=0.03)
    assert some == pytest.approx(np.sqrt(usual.scales * own.scales))
    assert many == pytest.approx(own.scales, rel=0.01)
    assert trusted_kernel(own, 100).noise == usual.noise
