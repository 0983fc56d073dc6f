"""Experts are weighed by readings left out: short forms against leaving each out in turn."""

import numpy as np
import pytest

from strikeoff.model import neugebauer
from strikeoff.model.covariance import Kernel
from strikeoff.model.expert_share import anchored_share
from strikeoff.model.forward import View, fit_forward, mean
from strikeoff.model.gaussian import GaussianProcess, left_out, solve_weights
from strikeoff.model.neugebauer import fit_area_coverage, without_itself

KERNEL = Kernel(np.full(3, 0.8), 1e-3, ink_variances=np.full(3, 1.0))


def readings(count, seed=0, inks=3):
    rng = np.random.default_rng(seed)
    at = rng.random((count, inks))
    return at, np.column_stack([np.sin(3 * at[:, 0]) + at[:, 1], at.prod(axis=1)])


def test_left_out_is_what_all_others_miss_it_by():
    """C. E. Rasmussen, C. K. I. Williams 2006, equation 5.12."""
    at, targets = readings(40)
    repeats = np.random.default_rng(1).integers(1, 4, len(at)).astype(float)
    found = left_out(KERNEL, at, targets, repeats)
    for row in range(0, 40, 9):
        others = np.arange(40) != row
        weights = solve_weights(KERNEL, at[others], targets[others], repeats[others])
        expected = targets[row] - GaussianProcess(at[others], KERNEL, weights).predict(at[row : row + 1])[0]
        np.testing.assert_allclose(found[row], expected, atol=1e-7)


@pytest.mark.parametrize(("inks", "count"), [(2, 60), (6, 40)])
def test_area_coverage_without_a_reading(inks, count):
    """Overprints refitted to all other readings, drawn to the same products, say what the short form says."""
    rng = np.random.default_rng(inks)
    at = np.vstack([np.zeros(inks), np.eye(inks), rng.random((count, inks))])
    bands = 0.8 * np.exp(-(at**0.9) @ rng.uniform(0.2, 2.0, (inks, 7)))
    model = fit_area_coverage(at, bands)
    found = without_itself(model, at, bands)
    coverage = neugebauer.coverages(at, model.steps)[0]
    weights, roots = neugebauer.demichel_shares(coverage), model.mixing(bands)
    # What the overprints were drawn to follows from the solution: gram P + ridge P = moment + ridge product.
    ridge = neugebauer._RIDGE
    product = model.overprints - weights.T @ (roots - weights @ model.overprints) / ridge
    for row in range(0, len(at), 11):
        others = np.arange(len(at)) != row
        w, y = weights[others], roots[others]
        normal = w.T @ w + ridge * np.eye(w.shape[1])
        refitted = product + np.linalg.solve(normal, w.T @ (y - w @ product))
        np.testing.assert_allclose(found[row], model.seen(weights[row] @ refitted)[0], rtol=1e-5)


def test_the_better_expert_counts_more():
    at, targets = readings(300)
    noise = 0.3 * np.random.default_rng(3).normal(size=targets.shape)
    ones = np.ones(len(at))
    good, bad = (KERNEL, targets), (KERNEL, targets + noise)
    assert anchored_share(at, ones, bad, good) > 0.7
    assert anchored_share(at, ones, good, bad) < 0.3
    assert anchored_share(at, ones, good, good) == pytest.approx(0.5)


def test_few_readings_say_little():
    at, targets = readings(300)
    targets = targets + 0.3 * np.random.default_rng(3).normal(size=targets.shape)
    still = np.zeros_like(targets)

    def found(rows):
        return anchored_share(at[:rows], np.ones(rows), (KERNEL, targets[:rows]), (KERNEL, still[:rows]))

    assert 0.5 < found(10) < found(50) < found(300) <= 0.95


def test_the_model_is_the_weighted_mean():
    rng = np.random.default_rng(0)
    at = np.vstack([np.zeros(3), np.eye(3), rng.random((80, 3))])
    bands = 0.8 * np.exp(-(at**0.7) @ rng.uniform(0.2, 2.0, (3, 9)))
    weights = rng.random((9, 3))
    forward = fit_forward(
        at, np.ones(len(at)), bands, View(weights / weights.sum(axis=0) * 100.0, np.full(3, 100.0))
    )
    model = forward.under(View(weights / weights.sum(axis=0) * 100.0, np.full(3, 100.0)))
    assert model.share == forward.share != 0.5
    inks = rng.random((20, 3))
    free = model.centre + model.free.predict(inks)
    anchored = model.view.lab(model.physics.predict(inks)) + model.anchored.predict(inks)
    np.testing.assert_allclose(model.lab(inks), mean(free, anchored, model.share), atol=1e-9)
    assert mean(np.array([1.0]), np.array([3.0]), 0.75)[0] == 2.5
