"""Area coverage, tone curves and the forward model: published identities, exact recovery, slopes."""

import gc
import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.condition.record import make_view
from strikeoff.model import forward as forward_module
from strikeoff.model import gaussian
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.neugebauer import AreaCoverageModel, fit_area_coverage
from strikeoff.model.tone import DEGREE, bernstein, increments

STRAIGHT = np.full(DEGREE, 1 / DEGREE)
D50 = np.array([96.422, 100.0, 82.521])
numbers = st.floats(-4, 4)


def overprints(inks, bands, seed=0):
    rng = np.random.default_rng(seed)
    tint = rng.uniform(0.15, 0.9, (inks, bands))
    member = (np.arange(2**inks)[:, None] >> np.arange(inks)) & 1
    return 0.85 * np.prod(np.where(member[:, :, None] == 1, tint, 1.0), axis=1)


def slopes_by_differences(function, at, step=1e-6):
    columns = []
    for ink in range(at.shape[1]):
        shift = np.zeros(at.shape[1])
        shift[ink] = step
        columns.append((function(at + shift) - function(at - shift)) / (2 * step))
    return np.stack(columns, axis=-1)


@given(st.lists(numbers, min_size=DEGREE - 1, max_size=DEGREE - 1))
def test_tone_curves_rise_from_nothing_to_full(parameters):
    steps = increments(np.array(parameters))
    ink = np.linspace(0, 1, 101)
    value, _ = bernstein(ink, steps)
    assert value[0] == pytest.approx(0, abs=1e-12)
    assert value[-1] == pytest.approx(1)
    assert (np.diff(value) > 0).all()
    inner = np.linspace(0.01, 0.99, 50)
    numeric = slopes_by_differences(lambda x: bernstein(x[:, 0], steps)[0], inner[:, None])[:, 0]
    np.testing.assert_allclose(bernstein(inner, steps)[1], numeric, atol=1e-7)


def test_demichel_worked_example():
    """Demichel 1924: areas 0.5, 0.25 give cloth 0.375, first 0.375, second 0.125, both 0.125."""
    model = AreaCoverageModel(np.stack([STRAIGHT] * 2), np.eye(4), 1.0)
    areas = model.predict(np.array([[0.5, 0.25]]))[0]
    np.testing.assert_allclose(areas, [0.375, 0.375, 0.125, 0.125], atol=1e-12)


@given(st.integers(1, 6), st.integers(0, 1000))
def test_demichel_weights_sum_to_one(inks, seed):
    model = AreaCoverageModel(np.stack([STRAIGHT] * inks), np.ones((2**inks, 1)), 1.0)
    at = np.random.default_rng(seed).random((20, inks))
    np.testing.assert_allclose(model.predict(at), 1.0, atol=1e-12)


def test_murray_davies_is_the_limit_of_one_ink_and_no_spread():
    """Murray 1936: R = a R_solid + (1 - a) R_cloth."""
    ends = np.array([[0.8, 0.7], [0.1, 0.5]])
    model = AreaCoverageModel(STRAIGHT[None], ends, 1.0)
    area = np.linspace(0, 1, 11)[:, None]
    np.testing.assert_allclose(model.predict(area), area * ends[1] + (1 - area) * ends[0], atol=1e-12)


def test_yule_nielsen_worked_example():
    """Yule, Nielsen 1951, n = 2: R = (a sqrt(R_s) + (1 - a) sqrt(R_0))^2; 0.81, 0.09, a 0.5 give 0.36."""
    model = AreaCoverageModel(STRAIGHT[None], np.sqrt([[0.81], [0.09]]), 2.0)
    assert model.predict(np.array([[0.5]]))[0, 0] == pytest.approx(0.36)


@pytest.mark.parametrize(("inks", "exponent"), [(1, 1.7), (3, 2.4), (4, 3.0)])
def test_recovers_a_press_that_follows_the_law(inks, exponent):
    rng = np.random.default_rng(inks)
    steps = np.stack([increments(rng.uniform(-1, 1, DEGREE - 1)) for _ in range(inks)])
    truth = AreaCoverageModel(steps, overprints(inks, 10, seed=inks) ** (1 / exponent), exponent)
    at = np.vstack([np.zeros(inks), np.eye(inks), rng.random((400, inks))])
    fitted = fit_area_coverage(at, truth.predict(at))
    fresh = rng.random((200, inks))
    assert np.abs(fitted.predict(fresh) - truth.predict(fresh)).max() < 2e-3
    assert fitted.exponent == pytest.approx(exponent, rel=0.1)


@pytest.mark.parametrize("inks", [1, 3, 5])
def test_area_coverage_slopes(inks):
    rng = np.random.default_rng(1)
    steps = np.stack([increments(rng.uniform(-1, 1, DEGREE - 1)) for _ in range(inks)])
    model = AreaCoverageModel(steps, overprints(inks, 6) ** 0.5, 2.0)
    at = rng.uniform(0.05, 0.95, (30, inks))
    value, slope = model.jacobian(at)
    np.testing.assert_allclose(value, model.predict(at), atol=1e-12)
    np.testing.assert_allclose(slope, slopes_by_differences(model.predict, at), atol=1e-6)


def small_press(inks, count, seed=2, bands=12):
    """A press that no area-coverage law fits: a tone curve after the mixing, and one interaction."""
    rng = np.random.default_rng(seed)
    at = np.vstack([np.zeros(inks), np.eye(inks), rng.random((count, inks))])
    density = at**0.8 @ -np.log(overprints(inks, bands)[[1 << k for k in range(inks)]] / 0.85)
    density *= 1 - 0.1 * at[:, :1] * at[:, -1:]
    return at, 0.85 * np.exp(-density)


def spectral_view(bands):
    weights = np.random.default_rng(0).random((bands, 3))
    return View(weights / weights.sum(axis=0) * D50, D50)


@pytest.mark.parametrize("inks", [1, 3, 4])
def test_forward_model_slopes(inks):
    at, bands = small_press(inks, 120)
    view = spectral_view(12)
    model = fit_forward(at, np.ones(len(at)), bands, view).under(view)
    inside = np.random.default_rng(3).uniform(0.05, 0.95, (40, inks))
    value, slope = model.jacobian(inside)
    np.testing.assert_allclose(value, model.lab(inside), atol=1e-9)
    np.testing.assert_allclose(slope, slopes_by_differences(model.lab, inside, 1e-5), rtol=1e-3, atol=2e-2)


def test_view_slopes_on_both_sides_of_the_cube_root():
    """CIE 15: below a ratio of (6/29)^3 the cube root gives way to a line."""
    view = spectral_view(3)
    path = np.vstack([np.full((1, 3), 0.002), np.full((1, 3), 0.4)])
    slope = np.array([[[0.3], [0.1], [0.7]]] * 2)

    def along(step):
        return view.lab(path + step * slope[:, :, 0])

    numeric = (along(1e-6) - along(-1e-6)) / 2e-6
    np.testing.assert_allclose(view.lab_slopes(path, slope)[:, :, 0], numeric, rtol=1e-4)


def test_readings_are_reproduced_and_light_can_change():
    wavelengths = 400 + 10.0 * np.arange(31)
    at, bands = small_press(3, 150, bands=31)
    two = make_view("D50", "2", wavelengths)
    ten = make_view("D65", "10", wavelengths)
    forward = fit_forward(at, np.ones(len(at)), bands, two)
    for view in (two, ten):
        direct = xyz_to_lab(bands @ view.matrix, view.white)
        assert np.linalg.norm(forward.under(view).lab(at) - direct, axis=1).mean() < 0.3
    np.testing.assert_allclose(forward.reflectance(at), bands, atol=0.01)


def test_doubt_grows_with_distance_from_the_readings():
    at, bands = small_press(3, 150)
    corner = at[(at.sum(axis=1) < 1.2)]
    view = spectral_view(12)
    forward = fit_forward(corner, np.ones(len(corner)), bands[at.sum(axis=1) < 1.2], view)
    (near, far), (less, more) = forward.relative_spread(np.array([[0.3, 0.3, 0.3], [1.0, 1.0, 1.0]]))
    assert far > 2 * near
    # The noise is the same in both.
    assert near**2 * (1 - less) == pytest.approx(far**2 * (1 - more))
    assert 0 < less < more < 1


@pytest.fixture
def factored(monkeypatch):
    """Recipes of every matrix that is factored, in order."""
    calls = []

    def counted(kernel, inks, repeats):
        calls.append(inks)
        return plain(kernel, inks, repeats)

    plain = gaussian.factor
    monkeypatch.setattr(gaussian, "factor", counted)
    monkeypatch.setattr(forward_module, "factor", counted)
    return calls


def trained(count=80, seed=2):
    at, bands = small_press(3, count, seed)
    return at, fit_forward(at, np.ones(len(at)), bands, spectral_view(12))


def test_reflectance_is_solved_for_once_also_by_threads(factored):
    """One matrix per expert, however many ask at a time; the numbers are those of a fresh model."""
    at, forward = trained()
    copies = [replace(forward) for _ in at[:12]]
    factored.clear()
    with ThreadPoolExecutor(6) as pool:
        found = list(pool.map(lambda row: forward.reflectance(at[row : row + 1]), range(12)))
    assert len(factored) == 2
    for row, copy in enumerate(copies):
        np.testing.assert_array_equal(found[row], copy.reflectance(at[row : row + 1]))
    assert len(factored) == 2 + 2 * len(copies)


def test_kept_weights_are_those_of_the_bands(factored):
    """The law written out: the share of what either expert says of cube roots, cubed."""
    at, forward = trained()
    roots, base = np.cbrt(forward.bands), np.cbrt(forward.physics.predict(at))
    asked = np.random.default_rng(4).random((7, 3))
    parts = []
    for kernel, left in ((forward.free, roots - roots.mean(axis=0)), (forward.anchored, roots - base)):
        matrix = kernel.plain_covariance(at, at) + np.diag(kernel.noise / forward.repeats)
        parts.append(kernel.plain_covariance(asked, at) @ np.linalg.solve(matrix, left))
    free, anchored = roots.mean(axis=0) + parts[0], np.cbrt(forward.physics.predict(asked)) + parts[1]
    whole = (1 - forward.share) * free + forward.share * anchored
    for _ in range(2):
        np.testing.assert_allclose(forward.reflectance(asked), whole**3, atol=1e-6)


def test_doubt_keeps_the_matrix_of_the_last_model_only(factored):
    at, first = trained()
    other, second = trained(70, seed=3)
    alone = second.relative_spread(other[:5])[0]
    factored.clear()
    once = first.relative_spread(at[:5])[0]
    np.testing.assert_array_equal(first.relative_spread(at[:5])[0], once)
    assert len(factored) == 1
    np.testing.assert_array_equal(second.relative_spread(other[:5])[0], alone)
    np.testing.assert_array_equal(first.relative_spread(at[:5])[0], once)
    assert [len(inks) for inks in factored] == [len(at), len(other), len(at)]


def test_nothing_large_outlives_its_model_or_goes_into_copies():
    at, forward = trained()
    plain = len(pickle.dumps(replace(forward)))
    forward.relative_spread(at[:1])
    assert len(pickle.dumps(forward)) < 1.1 * plain
    assert forward_module._LATEST._kept is not None
    del forward
    gc.collect()
    assert forward_module._LATEST._kept is None


def test_too_few_patches_are_refused():
    at, bands = small_press(3, 9)
    with pytest.raises(InputError, match="too few distinct patches"):
        fit_forward(at, np.ones(len(at)), bands, spectral_view(12))
