import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.icc.curves import ParametricCurve, SampledCurve, evaluate_curve, invert_curve
from strikeoff.icc.interpolate import interpolate


def grid_of(rng, sizes, n_out=2):
    return rng.random((*sizes, n_out))


@pytest.mark.parametrize("method", ["multilinear", "simplex"])
@given(sizes=st.lists(st.integers(2, 4), min_size=1, max_size=5), seed=st.integers(0, 999))
@settings(max_examples=25, deadline=None)
def test_nodes_come_back(method, sizes, seed):
    grid = grid_of(np.random.default_rng(seed), sizes)
    nodes = np.stack(np.meshgrid(*[np.linspace(0, 1, s) for s in sizes], indexing="ij"), axis=-1)
    values = interpolate(grid, nodes.reshape(-1, len(sizes)), method)
    np.testing.assert_allclose(values, grid.reshape(-1, 2), atol=1e-12)


@pytest.mark.parametrize("method", ["multilinear", "simplex"])
@given(sizes=st.lists(st.integers(2, 4), min_size=1, max_size=6), seed=st.integers(0, 999))
@settings(max_examples=25, deadline=None)
def test_linear_functions_are_exact(method, sizes, seed):
    rng = np.random.default_rng(seed)
    slope = rng.normal(size=(len(sizes), 2))
    nodes = np.stack(np.meshgrid(*[np.linspace(0, 1, s) for s in sizes], indexing="ij"), axis=-1)
    points = rng.random((50, len(sizes)))
    np.testing.assert_allclose(interpolate(nodes @ slope, points, method), points @ slope, atol=1e-12)


def test_multilinear_against_nested_one_dimensional_steps():
    rng = np.random.default_rng(2)
    grid = grid_of(rng, (3, 4, 2, 5))

    def nested(block, point):
        if not len(point):
            return block
        position = point[0] * (len(block) - 1)
        i = min(int(position), len(block) - 2)
        t = position - i
        return (1 - t) * nested(block[i], point[1:]) + t * nested(block[i + 1], point[1:])

    points = rng.random((100, 4))
    expected = np.array([nested(grid, p) for p in points])
    np.testing.assert_allclose(interpolate(grid, points), expected, atol=1e-12)


def test_simplex_against_the_path_definition():
    rng = np.random.default_rng(3)
    grid = grid_of(rng, (2, 2, 2, 2))
    for point in rng.random((50, 4)):
        order = sorted(range(4), key=lambda axis: -point[axis])
        corner, value, left = [0] * 4, 0.0, 1.0
        for axis in order:
            value = value + (left - point[axis]) * grid[tuple(corner)]
            left = point[axis]
            corner[axis] = 1
        value = value + left * grid[tuple(corner)]
        np.testing.assert_allclose(interpolate(grid, point[None], "simplex")[0], value, atol=1e-12)


def test_fifteen_inputs_and_values_outside_the_range():
    corners = np.indices((2,) * 15)
    grid = (corners[0] + 2 * corners[14])[..., None]
    points = np.full((3, 15), 0.5)
    points[1, 0] = -3
    points[2, 14] = 7
    for method in ("multilinear", "simplex"):
        np.testing.assert_allclose(interpolate(grid, points, method).ravel(), [1.5, 1.0, 2.5])


# ICC.1:2022 10.18 table 65; the last is IEC 61966-2-1 (sRGB), whose 0.5 is 0.214041 linear.
@pytest.mark.parametrize(
    ("function", "parameters", "x", "y"),
    [
        (0, (2.0,), 0.5, 0.25),
        (1, (2.0, 2.0, -0.5), 0.5, 0.25),
        (1, (2.0, 2.0, -0.5), 0.1, 0.0),
        (2, (2.0, 2.0, -0.5, 0.1), 0.5, 0.35),
        (2, (2.0, 2.0, -0.5, 0.1), 0.1, 0.1),
        (3, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045), 0.5, 0.214041),
        (3, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045), 0.02, 0.02 / 12.92),
        (4, (2.0, 1.0, 0.0, 0.5, 0.5, 0.1, 0.05), 0.6, 0.46),
        (4, (2.0, 1.0, 0.0, 0.5, 0.5, 0.1, 0.05), 0.4, 0.25),
    ],
)
def test_parametric_functions(function, parameters, x, y):
    assert evaluate_curve(ParametricCurve(function, parameters), np.array([x]))[0] == pytest.approx(
        y, abs=1e-6
    )


@pytest.mark.parametrize(
    "curve",
    [
        ParametricCurve(0, (2.2,)),
        ParametricCurve(3, (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)),
        SampledCurve(np.linspace(0, 1, 50) ** 1.7),
        SampledCurve(np.linspace(1, 0, 50)),
    ],
)
def test_inverse(curve):
    x = np.linspace(0.01, 1, 101)
    np.testing.assert_allclose(invert_curve(curve, evaluate_curve(curve, x)), x, atol=3e-5)


@given(
    st.integers(0, 4),
    st.lists(st.floats(-32768, 32767, allow_nan=False), min_size=7, max_size=7),
)
@settings(deadline=None)
def test_any_parameters_stay_in_range(function, numbers):
    curve = ParametricCurve(function, tuple(numbers[: (1, 3, 4, 5, 7)[function]]))
    y = evaluate_curve(curve, np.linspace(0, 1, 33))
    assert ((y >= 0) & (y <= 1)).all()
