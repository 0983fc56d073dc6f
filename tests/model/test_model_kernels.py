"""Compiled loops against plain counterparts."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import minimize

from strikeoff.model.covariance import Kernel
from strikeoff.model.gaussian import GaussianProcess, in_parts
from strikeoff.model.kernels_descent import bounded_steps
from strikeoff.model.lone_ink import LonePart
from strikeoff.model.table import NODES, TabulatedModel, tabulate

seeds = st.integers(0, 2**32 - 1)


def random_kernel(rng, inks, parts):
    single, fine, product, lone = parts
    return Kernel(
        rng.uniform(0.05, 4.0, inks),
        1e-3,
        single * rng.uniform(0.01, 1),
        rng.uniform(0.05, 1),
        fine * rng.uniform(0.01, 1),
        rng.uniform(0.1, 0.7),
        rng.uniform(0.1, 20.0, inks) if product else None,
        random_lone_part(rng, inks) if lone else None,
    )


def random_lone_part(rng, inks):
    variances = rng.uniform(0.1, 1, inks) * rng.integers(0, 2, inks)
    return LonePart(variances, rng.uniform(0.1, 1.5), rng.uniform(0.1, 3.0))


PARTS = st.tuples(*[st.sampled_from([0, 1])] * 4)


@given(seeds, st.integers(1, 7), st.sampled_from([1, 40, 256, 257, 600]), PARTS)
def test_kernel_sums_equal_the_covariance(seed, inks, centres, parts):
    """Rasmussen & Williams 2006, equation 2.25: the mean is covariance times dual weights."""
    rng = np.random.default_rng(seed)
    kernel = random_kernel(rng, inks, parts)
    points = np.round(rng.random((centres, inks)), 1)
    process = GaussianProcess(points, kernel, rng.standard_normal((centres, 3)))
    at = np.vstack([rng.uniform(-0.1, 1.1, (5, inks)), points[:1]])
    plain = kernel.plain_covariance(at, points) @ process.weights
    scale = np.abs(kernel.plain_covariance(at, points)).sum(axis=1).max()
    np.testing.assert_allclose(process.predict(at), plain, atol=1e-6 * scale)
    np.testing.assert_allclose(process.jacobian(at)[0], process.predict(at), atol=1e-9 * scale)


@given(seeds, st.integers(1, 7), PARTS)
def test_slopes_of_kernel_sums(seed, inks, parts):
    rng = np.random.default_rng(seed)
    process = GaussianProcess(rng.random((80, inks)), random_kernel(rng, inks, parts), rng.random((80, 2)))
    at = rng.uniform(0.02, 0.98, (6, inks))
    slope = process.jacobian(at)[1]
    for ink in range(inks):
        shift = np.zeros(inks)
        shift[ink] = 1e-5
        numeric = (process.predict(at + shift) - process.predict(at - shift)) / 2e-5
        scale = max(1.0, np.abs(numeric).max())
        np.testing.assert_allclose(slope[:, :, ink], numeric, atol=2e-3 * scale)


@given(seeds, st.integers(1, 7), PARTS)
def test_compiled_covariance_equals_the_plain_one(seed, inks, parts):
    rng = np.random.default_rng(seed)
    kernel = random_kernel(rng, inks, parts)
    a, b = np.round(rng.random((7, inks)), 1), np.round(rng.random((30, inks)), 1)
    plain = kernel.plain_covariance(a, b)
    np.testing.assert_allclose(kernel.covariance(a, b), plain, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(np.diag(kernel.covariance(b, b)), kernel.variance(b), atol=1e-9)


def test_covariance_is_matern_of_seven_halves():
    """Rasmussen & Williams 2006, equation 4.16 with nu = p + 1/2, p = 3, by its general sum."""
    from math import factorial

    r = np.linspace(0, 3, 50)[:, None]
    scale, p = 0.7, 3
    x = np.sqrt(2 * p + 1) * r[:, 0] / scale
    terms = sum(
        factorial(p + i) / (factorial(i) * factorial(p - i)) * (2 * x) ** (p - i) for i in range(p + 1)
    )
    published = np.exp(-x) * factorial(p) / factorial(2 * p) * terms
    got = Kernel(np.array([scale]), 0.0).plain_covariance(r, np.zeros((1, 1)))[:, 0] - 0.1
    np.testing.assert_allclose(got, published, atol=1e-12)


def test_product_over_inks_is_a_sum_over_groups_of_inks():
    """Stone et al. 1997: (1 + k1)(1 + k2) = 1 + k1 + k2 + k1 k2, here over the product of variances."""
    rng = np.random.default_rng(0)
    a, b = rng.random((6, 2)), rng.random((5, 2))
    scales, variances = np.array([0.4, 0.9]), np.array([3.0, 0.5])
    alone = [
        Kernel(scales[k : k + 1], 0.0).plain_covariance(a[:, k : k + 1], b[:, k : k + 1])
        - 0.1 * (1.0 + np.outer(a[:, k], b[:, k]))
        for k in range(2)
    ]
    first, second = (v * k for v, k in zip(variances, alone, strict=True))
    got = Kernel(scales, 0.0, ink_variances=variances).plain_covariance(a, b)
    np.testing.assert_allclose(got, (1 + first + second + first * second) / np.prod(1 + variances))


@pytest.mark.parametrize("rows", [0, 1, 1023, 1024, 1025, 5000])
def test_parts_cover_every_row_once(rows):
    seen = np.zeros(rows, int)

    def work(part):
        seen[part] += 1

    in_parts(work, rows)
    assert (seen == 1).all()


def hermite(axis_nodes, values, at):
    """Catmull-Rom along the first axis by scipy: slopes are central differences."""
    slopes = (values[2:] - values[:-2]) / 2.0
    spline = CubicHermiteSpline(axis_nodes[1:-1], values[1:-1], slopes / (axis_nodes[1] - axis_nodes[0]))
    return spline(at), spline(at, 1)


@given(seeds, st.integers(1, 4), st.integers(2, 6))
def test_cubic_table_equals_hermite_splines(seed, inks, inner):
    rng = np.random.default_rng(seed)
    size = inner + 2
    axis = np.arange(-1, inner + 1) / (inner - 1)
    nodes = rng.standard_normal((size**inks, 3))
    model = TabulatedModel(nodes, size, inks)
    at = np.vstack([rng.random((3, inks)), np.zeros(inks), np.ones(inks)])
    value, slope = model.jacobian(at)
    for row in range(len(at)):
        for turned in range(-1, inks):  # -1: the value; else the ink whose slope is wanted
            block = nodes.reshape((size,) * inks + (3,))
            for ink in range(inks):
                block = hermite(axis, block, at[row, ink])[int(ink == turned)]
            got = value[row] if turned < 0 else slope[row, :, turned]
            np.testing.assert_allclose(got, block, atol=1e-9)


def test_table_passes_through_its_nodes_and_keeps_quadratics():
    class Quadratic:
        n_inks = 3

        def lab(self, inks):
            one, two, three = inks.T
            return np.stack([one**2 + two, two * three, 3 - three**2 + one * two], axis=1)

    table = tabulate(Quadratic())
    at = np.random.default_rng(3).random((100, 3))
    np.testing.assert_allclose(table.lab(at), Quadratic().lab(at), atol=1e-12)
    assert table.size == NODES[3] + 2


def test_more_inks_than_a_grid_can_hold_are_left_alone():
    class Five:
        n_inks = 5

    model = Five()
    assert tabulate(model) is model


def random_programs(rng, count, inks):
    root = rng.standard_normal((count, rng.integers(1, inks + 1), inks)) * rng.uniform(0.1, 30)
    hessian = np.einsum("mik,mil->mkl", root, root) + np.eye(inks) * 10.0 ** rng.uniform(-4, 0)
    upper = rng.uniform(0.3, 1.0, inks)
    weights = rng.uniform(0.5, 1.5, inks)
    total = float(rng.uniform(0.3, 1.0) * (upper @ weights))
    start = rng.random((count, inks)) * upper
    start[rng.random((count, inks)) < 0.2] = 0.0
    start /= np.maximum(start @ weights / total, 1.0)[:, None]
    gradient = rng.standard_normal((count, inks)) * rng.uniform(0.01, 100)
    return hessian, gradient, start, upper, weights, total


def run_steps(hessian, gradient, start, upper, weights, total):
    step = np.empty_like(start)
    bounded_steps(hessian, gradient, start, np.zeros(start.shape[1]), upper, weights, total, step)
    return step


def objective(hessian, gradient, step):
    return gradient @ step + step @ hessian @ step / 2


def best_by_enumeration(hessian, gradient, start, upper, weights, total):
    """Every choice of held inks, with and without the total: the least feasible objective."""
    inks, best = len(start), np.inf
    for state in itertools.product((-1, 0, 1), repeat=inks):
        held = np.array(state) != 0
        free = ~held
        fixed = np.where(np.array(state) < 0, 0.0, upper) - start
        for binds in (False, True):
            n = int(free.sum())
            if binds and n == 0:
                continue
            matrix = np.zeros((n + binds, n + binds))
            right = np.zeros(n + binds)
            matrix[:n, :n] = hessian[np.ix_(free, free)]
            right[:n] = -gradient[free] - hessian[np.ix_(free, held)] @ fixed[held]
            if binds:
                matrix[:n, n] = matrix[n, :n] = weights[free]
                right[n] = total - weights @ start - weights[held] @ fixed[held]
            step = fixed.copy()
            step[free] = np.linalg.solve(matrix, right)[:n]
            ink = start + step
            if (ink >= -1e-9).all() and (ink <= upper + 1e-9).all() and weights @ ink <= total + 1e-9:
                best = min(best, objective(hessian, gradient, step))
    return best


@given(seeds, st.integers(1, 4))
def test_bounded_steps_reach_the_enumerated_minimum(seed, inks):
    """Nocedal & Wright 2006, theorem 16.4: a convex program's best active set is its solution."""
    programs = random_programs(np.random.default_rng(seed), 4, inks)
    hessian, gradient, start, upper, weights, total = programs
    steps = run_steps(*programs)
    for i, step in enumerate(steps):
        best = best_by_enumeration(hessian[i], gradient[i], start[i], upper, weights, total)
        got = objective(hessian[i], gradient[i], step)
        assert got <= best + 1e-6 * abs(best) + 1e-9


@given(seeds, st.integers(1, 12))
def test_bounded_steps_never_pass_a_limit(seed, inks):
    programs = random_programs(np.random.default_rng(seed), 50, inks)
    _, _, start, upper, weights, total = programs
    ink = start + run_steps(*programs)
    assert ink.min() >= -1e-12
    assert (ink <= upper + 1e-12).all()
    assert (ink @ weights).max() <= total + 1e-9


def general_solution(hessian, gradient, start, upper, weights, total, scale):
    return minimize(
        lambda step: objective(hessian, gradient, step) / scale,
        np.zeros(len(start)),
        method="SLSQP",
        bounds=list(zip(-start, upper - start, strict=True)),
        constraints={"type": "ineq", "fun": lambda step: total - weights @ (start + step)},
        options={"ftol": 1e-12, "maxiter": 500},
    )


def test_bounded_steps_agree_with_a_general_solver():
    rng = np.random.default_rng(8)
    for inks in (3, 5, 8):
        programs = random_programs(rng, 6, inks)
        hessian, gradient, start, upper, weights, total = programs
        for i, step in enumerate(run_steps(*programs)):
            scale = np.abs(gradient[i]).max()
            found = general_solution(hessian[i], gradient[i], start[i], upper, weights, total, scale)
            assert objective(hessian[i], gradient[i], step) / scale <= found.fun + 1e-6 * (1 + abs(found.fun))


@pytest.mark.parametrize("replaced", [None, 0, 2])
def test_demichel_weights_equal_products(replaced):
    """Demichel 1924: products over inks of coverage or its rest; one factor 1 or -1 in the derivative."""
    from strikeoff.model.kernels import demichel_weights

    coverage = np.random.default_rng(5).random((20, 4))
    weights = np.empty((20, 16))
    demichel_weights(coverage, -1 if replaced is None else replaced, weights)
    for column in range(16):
        expected = np.ones(20)
        for ink in range(4):
            inside = column >> ink & 1
            factor = coverage[:, ink] if inside else 1 - coverage[:, ink]
            expected *= (1.0 if inside else -1.0) if ink == replaced else factor
        np.testing.assert_allclose(weights[:, column], expected, atol=1e-14)


def test_lower_covariance_is_the_covariance_below_the_diagonal():
    rng = np.random.default_rng(8)
    lone = LonePart(np.array([0.3, 0.0, 0.2]), 0.4, 1.1)
    kernel = Kernel(np.array([0.7, 1.3, 2.0]), 1e-3, 0.05, 0.3, 0.02, 0.4, lone=lone)
    inks = rng.random((23, 3))
    whole = np.tril(kernel.covariance(inks, inks))
    np.testing.assert_allclose(kernel.lower_covariance(inks), whole, rtol=1e-13)


def test_inks_at_all_their_limits_stay_when_rounding_exceeds_the_total():
    """0.1 + 0.2 is more than 0.3 as binary numbers are; both inks want more and may not."""
    inks, step = np.array([[0.1, 0.2]]), np.full((1, 2), np.nan)
    hessian, gradient = np.eye(2)[None], np.array([[-1.0, -1.0]])
    bounded_steps(hessian, gradient, inks, np.zeros(2), inks[0], np.ones(2), 0.3, step)
    np.testing.assert_allclose(step, 0.0, atol=1e-15)
