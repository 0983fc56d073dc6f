"""Proposed patches: legal, new, useful, and when it is enough."""

import importlib.util
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import strikeoff
from strikeoff.chart.patch_sets import ChartLimits, plain_limits
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.record import make_view
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.model.forward import fit_forward
from strikeoff.model.limits import InkLimits
from strikeoff.model.validation import validate
from strikeoff.qualify import next_patches as proposals
from strikeoff.qualify.next_patches import BLOCK, LEAST_GAIN_DE00, first_patches, next_patches

CMYK = ("C", "M", "Y", "K")
LIMITS = InkLimits(np.ones(4), np.ones(4), 2.8)


def bands(recipes):
    """XYZ over white of invented inks: each passes its share of red, green and blue light."""
    density = np.array([[1.2, 0.3, 0.1], [0.2, 1.3, 0.5], [0.03, 0.1, 1.0], [1.4, 1.4, 1.4]])
    light = 0.9 * 10.0 ** -(np.asarray(recipes) ** 1.1 @ density)
    return light @ np.array([[0.45, 0.22, 0.02], [0.37, 0.72, 0.12], [0.18, 0.06, 0.86]])


@pytest.fixture(scope="module")
def condition():
    recipes = first_patches(CMYK, plain_limits(4, 2.8), 40)
    view = make_view("D50", "2", None)
    noise = np.random.default_rng(1).normal(0, 2e-3, (40, 3))
    forward = fit_forward(recipes, np.ones(40), bands(recipes) + noise, view)
    return SimpleNamespace(
        limits=LIMITS,
        recipe_limits=LIMITS,
        forward=forward,
        native=forward.under(view),
        spaces=SimpleNamespace(channels=CMYK),
        validation=None,
    )


def test_proposals_are_legal_new_and_each_lowers_the_expected_error(condition):
    found = next_patches(condition, 15, seed=1)
    assert len(found.recipes) == 15
    assert LIMITS.legal(found.recipes).all()
    gap = np.abs(found.recipes[:, None] - condition.forward.recipes[None]).max(axis=2)
    assert gap.min() >= 0.02
    assert (np.diff(found.expected_de00) < 0).all()
    again = next_patches(condition, 15, seed=1)
    assert (again.recipes == found.recipes).all()


def test_patches_are_exchanged_once_all_are_chosen(condition, monkeypatch):
    """Each was chosen in ignorance of those after it: together they leave less doubt than one by one."""
    together = next_patches(condition, 15, seed=1).expected_de00

    def greedy(*given, step):
        picks = proposals.choose(*given[:-1])
        return np.array([pick.index for pick, _ in zip(picks, range(given[-1]), strict=False)])

    monkeypatch.setattr(proposals, "choose_together", greedy)
    one_by_one = next_patches(condition, 15, seed=1).expected_de00
    assert together[0] == one_by_one[0]
    assert together[-1] < one_by_one[-1]


def test_stops_at_the_target(condition):
    curve = next_patches(condition, 15).expected_de00
    target = 0.5 * (curve[4] + curve[5])
    found = next_patches(condition, 15, target_de00=target)
    assert (found.stopped_by, len(found.recipes)) == ("target", 5)
    nothing = next_patches(condition, 15, target_de00=curve[0] + 0.01)
    assert (nothing.stopped_by, len(nothing.recipes)) == ("target", 0)


def test_stops_when_fifty_more_gain_too_little(condition):
    found = next_patches(condition, 400)
    assert found.stopped_by == "gain"
    assert len(found.recipes) % BLOCK == 0
    blocks = -np.diff(found.expected_de00[::BLOCK])
    assert blocks[-1] < LEAST_GAIN_DE00
    assert (blocks[:-1] >= LEAST_GAIN_DE00).all()


def test_artwork_draws_patches_to_its_own_recipes(condition):
    """Artwork of pale yellows: the patches stand nearer to it than those for all recipes."""
    art = np.random.default_rng(5).random((80, 4)) * [0.1, 0.15, 0.6, 0.0]
    near, wide = (
        np.abs(next_patches(condition, 10, artwork=which).recipes - art.mean(axis=0)).max(axis=1).mean()
        for which in (art, None)
    )
    assert near < 0.7 * wide


def test_flat_artwork_takes_no_recipe_twice(condition):
    """A thousand pixels of two colours are two recipes, not a thousand candidates: patches all differ."""
    flat = np.repeat([[0.3, 0.2, 0.6, 0.1], [0.31, 0.7, 0.1, 0.0]], [900, 100], axis=0)
    flat = flat + np.random.default_rng(3).uniform(-1e-4, 1e-4, flat.shape)
    found = next_patches(condition, 12, artwork=flat)
    gap = np.abs(found.recipes[:, None] - found.recipes[None]).max(axis=2) + np.eye(len(found.recipes))
    assert len(found.recipes) == 12
    assert gap.min() > 5e-3


@pytest.mark.parametrize(("inks", "patches"), [(1, 12), (7, 60), (12, 60)])
def test_first_patches_of_any_inks(inks, patches):
    limits = ChartLimits(np.ones(inks), np.ones(inks), min(2.6, inks))
    rows = first_patches(tuple(f"ink {i}" for i in range(inks)), limits, patches)
    assert rows.shape == (patches, inks)
    assert len(np.unique(rows, axis=0)) == patches
    assert rows[0].sum() == 0
    assert rows[1 : inks + 1].tolist() == np.eye(inks).tolist()
    assert rows.sum(axis=1).max() <= limits.total + 1e-9


def test_expected_error_is_that_of_readings_not_yet_bought(measured_set):
    """80 measured recipes by lot: what is expected of the others is within a third of what they show."""
    merged = merge_repeats(measured_set)
    order = np.random.default_rng(8).permutation(len(merged))
    bought, others = order[:80], order[80:480]
    view = make_view("D50", "2", merged.wavelengths_nm)
    recipes, spectra, once = merged.coverages[bought], merged.spectra[bought], np.ones(80)
    forward = fit_forward(recipes, once, spectra, view)
    limits = InkLimits(np.ones(4), np.ones(4), 4.0)
    condition = SimpleNamespace(
        recipe_limits=limits,
        forward=forward,
        native=forward.under(view),
        spaces=SimpleNamespace(channels=CMYK),
        validation=validate(recipes, once, spectra, view),
    )
    error = delta_e_2000(
        condition.native.lab(merged.coverages[others]), view.lab(merged.spectra[others])
    ).mean()
    found = next_patches(condition, 1, artwork=merged.coverages[others])
    assert found.expected_de00[0] == pytest.approx(error, rel=0.33)
    # Held-out errors of so small a chart say far more.
    assert condition.validation.figure("all").mean > found.expected_de00[0]


def test_beats_a_random_chart_on_measured_readings(measured_set, monkeypatch):
    """60 of 2,372 measured recipes, readings not bought unseen; the whole comparison is in bench/."""
    path = Path(strikeoff.__file__).parents[1] / "bench" / "bench_charts.py"
    spec = importlib.util.spec_from_file_location("bench_charts", path)
    bench = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "bench_charts", bench)
    spec.loader.exec_module(bench)
    press = bench.measured_press()
    judged, pool = bench.offer(press, 103)
    chosen = bench.adaptive(press, pool, (60,))[60]
    assert len(set(chosen)) == 60
    assert not set(chosen) & set(judged)
    lot = bench.random_and_corners(press, pool, 60, 103)
    assert press.error(chosen, judged) < 0.95 * press.error(lot, judged)
