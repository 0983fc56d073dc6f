"""Marginal likelihood: its gradient, and hyperparameters of data with known ones."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from strikeoff.model.covariance import Kernel
from strikeoff.model.likelihood import fit_kernel, negative_likelihood


def data(inks, rows=60, seed=0):
    rng = np.random.default_rng(seed)
    x = np.round(rng.random((rows, inks)) * 10) / 10  # equal levels, as charts have
    return x, np.stack([np.sin(3 * x[:, 0]), x.sum(axis=1) ** 2], axis=1) + 0.01 * rng.standard_normal(
        (rows, 2)
    )


@pytest.mark.parametrize("lone", [False, True])
@pytest.mark.parametrize("by_ink", [False, True])
@pytest.mark.parametrize("inks", [1, 3, 4])
def test_gradient(inks, by_ink, lone):
    x, y = data(inks)
    x[:20] *= np.eye(inks)[np.arange(20) % inks]
    rng = np.random.default_rng(1)
    for _ in range(4):
        at = np.concatenate(
            [rng.uniform(-1, 1, inks * (1 + by_ink)), rng.uniform([-3, -1, -4, -1, -6], [0, 0, -1, -0.3, -3])]
        )
        if lone:
            at = np.concatenate([at, rng.uniform(-1, 3, inks), rng.uniform(-1.5, 0.5, 2)])
        gradient = negative_likelihood(at, x, y, by_ink=by_ink)[1]
        for k in range(len(at)):
            shift = np.zeros(len(at))
            shift[k] = 1e-5
            up, down = (negative_likelihood(at + s, x, y, by_ink=by_ink)[0] for s in (shift, -shift))
            assert gradient[k] == pytest.approx((up - down) / 2e-5, rel=1e-4, abs=1e-4)


def test_value_is_the_density_of_the_data():
    """Rasmussen & Williams 2006, equation 2.30, one output, its variance at the best value."""
    x, y = data(2)
    at = np.array([-0.3, 0.2, -2.0, -1.0, -3.0, -0.9, -4.0])
    scales, rest = np.exp(at[:2]), np.exp(at[2:])
    kernel = Kernel(scales, rest[4], rest[0], rest[1], rest[2], rest[3])
    matrix = kernel.plain_covariance(x, x) + rest[4] * np.eye(len(x))
    target = y[:, :1]
    variance = (target[:, 0] @ np.linalg.solve(matrix, target[:, 0])) / len(x)
    density = multivariate_normal(np.zeros(len(x)), variance * matrix).logpdf(target[:, 0])
    constant = 0.5 * len(x) * (1 + np.log(2 * np.pi))
    assert negative_likelihood(at, x, target)[0] == pytest.approx(-density - constant, rel=1e-6)


def test_noise_is_found():
    rng = np.random.default_rng(2)
    x = rng.random((400, 2))
    clean = np.sin(2 * x[:, :1]) + x[:, 1:]
    fitted = fit_kernel(x, clean + 0.05 * rng.standard_normal((400, 1)))
    quiet = fit_kernel(x, clean + 0.005 * rng.standard_normal((400, 1)))
    assert fitted.noise > 20 * quiet.noise


def test_an_ink_that_does_nothing_gets_a_long_scale():
    rng = np.random.default_rng(3)
    x = rng.random((200, 2))
    fitted = fit_kernel(x, np.sin(6 * x[:, :1]))
    assert fitted.scales[1] > 4 * fitted.scales[0]


def test_ramps_that_lie_off_the_overprints_are_followed():
    """An ink alone is 3 units darker than where others join it, however little of them; noise 0.3."""
    rng = np.random.default_rng(4)
    x = np.round(rng.random((260, 3)) * 20) / 20
    x[:60] *= np.eye(3)[np.arange(60) % 3]
    alone = ((x > 0).sum(axis=1) == 1) & (x[:, 2] > 0)
    assert alone.sum() > 10
    y = (-40 * x @ [0.5, 0.3, 1.0] + 10 * x[:, 2] ** 2 - 3.0 * alone)[:, None]
    y = y + 0.3 * rng.standard_normal(y.shape)
    kernel = fit_kernel(x, y - y.mean())
    assert kernel.lone.variances[2] > 5 * kernel.noise
    missed = []
    for part in (kernel, replace(kernel, lone=None)):
        inverse = np.linalg.inv(part.plain_covariance(x, x) + part.noise * np.eye(len(x)))
        # Each from all others: Rasmussen & Williams 2006, equation 5.12.
        left_out = (inverse @ (y - y.mean()))[:, 0] / np.diag(inverse)
        missed.append(np.abs(left_out[alone]).mean())
    assert missed[0] < 0.6 < 1.0 < missed[1]
