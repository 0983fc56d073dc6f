"""Inks that mix in one layer, against Kubelka and Munk's formula and a press made of it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.model import layer_fit
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.layer_fit import CURVE_STEPS, fit_layer
from strikeoff.model.neugebauer import AreaCoverageModel, Layer, fit_area_coverage
from strikeoff.model.tone import increments

SURFACE = 0.02


def dyes(inks, bands=9, seed=1, loss=0.1):
    """Overprints of dyes whose absorption adds up, each by less where more come together."""
    rng = np.random.default_rng(seed)
    cloth = Layer(SURFACE, 1.0).absorption(rng.uniform(0.6, 0.85, bands))
    solid = rng.uniform(0.05, 9.0, (inks, bands))
    member = (np.arange(1 << inks)[:, None] >> np.arange(inks)) & 1
    return cloth + member / (1 + loss * np.maximum(member.sum(axis=1) - 1, 0))[:, None] @ solid


def dye_press(inks, seed=1):
    rng = np.random.default_rng(seed)
    # Even tones of dyes: absorption rises slowly, then steeply.
    steps = np.stack([increments(rng.uniform(-1, 1, CURVE_STEPS - 1) - 2.0) for _ in range(inks)])
    return AreaCoverageModel(steps, dyes(inks, seed=seed), 1.0, Layer(SURFACE, 1.0))


def recipes(inks, count, seed=2):
    rng = np.random.default_rng(seed)
    return np.vstack([np.zeros(inks), np.eye(inks), rng.random((count, inks))])


def test_absorption_of_an_opaque_layer():
    """Kubelka, Munk 1931: K/S = (1 - R)^2 / 2R, 0.25 at R 0.5 and 4.05 at R 0.1."""
    plain = Layer(0.0, 1.0)
    np.testing.assert_allclose(plain.absorption(np.array([0.5, 0.1])), [0.25, 4.05], rtol=1e-12)
    # 4 % that never enters, and half of the rest.
    assert Layer(0.04, 1.0).absorption(np.array([0.52]))[0] == pytest.approx(0.25)


@given(st.floats(0.0, 0.1), st.floats(1.0, 1.6), st.floats(2e-3, 100.0))
def test_reflectance_is_the_inverse_of_absorption(surface, white, absorption):
    layer = Layer(surface, white)
    value, slope = layer.reflectance(np.array([absorption]))
    assert surface < value[0] < white
    assert layer.absorption(value)[0] == pytest.approx(absorption, rel=1e-6)
    step = 1e-5 * absorption
    up, down = (layer.reflectance(np.array([absorption + s]))[0][0] for s in (step, -step))
    assert slope[0] == pytest.approx((up - down) / (2 * step), rel=1e-4)


@pytest.mark.parametrize("inks", [1, 3])
def test_recovers_dyes_that_add_up(inks):
    truth, at = dye_press(inks), recipes(inks, 300)
    fit = fit_layer(at, truth.predict(at))
    fresh = recipes(inks, 200, seed=3)
    assert np.abs(fit.model.predict(fresh) - truth.predict(fresh)).max() < 6e-3
    assert fit.model.layer.surface == pytest.approx(SURFACE, abs=2e-3)


@pytest.mark.parametrize("inks", [1, 4])
def test_slopes_are_those_of_the_values(inks):
    model = dye_press(inks)
    at = np.random.default_rng(1).uniform(0.05, 0.95, (30, inks))
    value, slope = model.jacobian(at)
    np.testing.assert_allclose(value, model.predict(at), atol=1e-12)
    for k in range(inks):
        step = np.eye(inks)[k] * 1e-5
        found = (model.predict(at + step) - model.predict(at - step)) / 2e-5
        np.testing.assert_allclose(slope[:, :, k], found, atol=1e-6)


def test_what_it_says_of_a_reading_without_it():
    """The short form gives what refitting the solids to all other readings gives."""
    truth, at = dye_press(3), recipes(3, 60)
    bands = truth.predict(at) * (1 + 0.01 * np.random.default_rng(5).normal(size=(len(at), 9)))
    given = (np.append(np.zeros(3 * (CURVE_STEPS - 1)), (0.4, 0.05)), float(bands.min()), 1.0)
    whole = layer_fit._finished(given[0], at, bands, *given[1:])
    assert len(at) > 30
    for row in range(0, len(at), 7):
        others = np.arange(len(at)) != row
        left = layer_fit._finished(given[0], at[others], bands[others], *given[1:])
        expected = left.model.predict(at[row : row + 1])[0]
        np.testing.assert_allclose(whole.unseen[row], expected, rtol=1e-6)


def test_slopes_of_the_search_are_exact_where_nothing_is_left_over():
    """Kaufman's short form leaves out only what goes with the misfit."""
    inks, at = 3, recipes(3, 40)
    free = np.random.default_rng(6).uniform(-1, 1, (inks, CURVE_STEPS - 1))
    loss, darkest = 0.1, 0.05
    steps = np.stack([increments(row) for row in free])
    truth = AreaCoverageModel(steps, dyes(inks, loss=loss), 1.0, Layer(SURFACE, 1.0)).predict(at)
    basis = layer_fit._basis(at)

    def mixed(curves):
        return layer_fit._solve(np.append(curves, (SURFACE / darkest, loss)), basis, truth, darkest, 1.0)

    solids = mixed(free.ravel())
    np.testing.assert_allclose(solids.layer.reflectance(solids.mixed)[0], truth, rtol=1e-9)
    slopes = layer_fit._curve_slopes(solids, basis)
    for k in range(0, free.size, 4):
        step = np.eye(free.size)[k] * 1e-5
        found = (mixed(free.ravel() + step).mixed - mixed(free.ravel() - step).mixed) / 2e-5
        np.testing.assert_allclose(slopes[:, :, k], found, atol=1e-5)


def test_readings_choose_how_inks_mix():
    """Dyes by their absorption, halftones by area; what does not fit is given up early."""
    at = recipes(3, 150)
    white = np.full(3, 100.0)
    weights = np.random.default_rng(0).random((9, 3))
    view = View(weights / weights.sum(axis=0) * 100.0, white)
    dyed = dye_press(3).predict(at)
    assert fit_forward(at, np.ones(len(at)), dyed, view).physics.layer is not None
    steps = np.full((3, 4), 0.25)
    halftone = AreaCoverageModel(steps, np.random.default_rng(4).uniform(0.03, 0.8, (8, 9)) ** 0.5, 2.0)
    printed = halftone.predict(at)
    assert fit_forward(at, np.ones(len(at)), printed, view).physics.layer is None
    assert fit_layer(at, printed, to_beat=1e-3) is None


def test_fewer_readings_of_dyes_do():
    """Held out, dyes that add up are predicted better than by areas."""
    truth, at, fresh = dye_press(4), recipes(4, 80), recipes(4, 300, seed=9)
    bands = truth.predict(at)
    by_area, in_layer = fit_area_coverage(at, bands), fit_layer(at, bands).model
    errors = [
        np.abs(np.cbrt(model.predict(fresh)) - np.cbrt(truth.predict(fresh))).mean()
        for model in (by_area, in_layer)
    ]
    assert errors[1] < 0.5 * errors[0]


def test_cloth_that_fluoresces_is_whiter_than_white():
    """Reflectance above 1 is allowed, and what is fitted stays finite."""
    truth, at = dye_press(2), recipes(2, 80)
    bands = truth.predict(at)
    bands[:, 0] *= 1.5
    fit = fit_layer(at, bands)
    assert fit.model.layer.white == pytest.approx(1.05 * bands.max())
    value, slope = fit.model.jacobian(at)
    assert np.isfinite(value).all()
    assert np.isfinite(slope).all()


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "spoilt", ["ink never printed", "inks always together", "dead band", "dead patch", "blank"]
)
def test_poor_readings_leave_all_finite(spoilt):
    at = recipes(3, 60)
    if spoilt == "ink never printed":
        at[:, 2] = 0.0
    if spoilt == "inks always together":
        at[:, 1] = at[:, 0]
    bands = dye_press(3).predict(at)
    if spoilt == "dead band":
        bands[:, 0] = 0.0
    if spoilt == "dead patch":
        bands[5] = 0.0
    if spoilt == "blank":
        bands[:] = bands[0]
    fit = fit_layer(at, bands)
    value, slope = fit.model.jacobian(recipes(3, 100, seed=4))
    assert np.isfinite(value).all()
    assert np.isfinite(slope).all()
    assert np.isfinite(fit.unseen).all()


def test_a_fit_can_be_cancelled():
    class EnoughError(Exception):
        pass

    def stop():
        raise EnoughError

    with pytest.raises(EnoughError):
        fit_layer(recipes(2, 30), dye_press(2).predict(recipes(2, 30)), wanted=stop)


def test_a_reading_of_nothing_does_not_blacken_the_surface():
    """One patch that the instrument missed among 200 leaves surface and predictions as they were."""
    truth, at = dye_press(3), recipes(3, 200)
    bands = truth.predict(at)
    bands[17] = 0.0
    fit = fit_layer(at, bands)
    assert fit.model.layer.surface == pytest.approx(SURFACE, abs=4e-3)
    fresh = recipes(3, 200, seed=3)
    off = np.abs(np.cbrt(fit.model.predict(fresh)) - np.cbrt(truth.predict(fresh)))
    assert np.quantile(off, 0.95) < 0.01
