"""Held-out accuracy against a general-purpose interpolator on the same splits."""

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.model.error_bars import covered_radius, doubt, joined, radius_scale
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.validation import (
    FEW,
    HELD_OUT,
    PARTS,
    SPLITS,
    interpolation_errors,
    parts_of_few,
    patch_groups,
    split_recipes,
    validate,
)

D50 = np.array([96.422, 100.0, 82.521])
SMALL = 100


def test_splits_hold_out_a_fifth_and_differ():
    splits = list(split_recipes(474))
    assert len(splits) == SPLITS
    for train, test in splits:
        assert len(test) == round(HELD_OUT * 474)
        assert sorted([*train, *test]) == list(range(474))
    assert len({tuple(test) for _, test in splits}) == SPLITS


@pytest.mark.parametrize("count", [7, 60, FEW])
def test_few_recipes_are_held_out_once_each(count):
    parts = parts_of_few(count)
    assert len(parts) == min(PARTS, count)
    np.testing.assert_array_equal(np.sort(np.concatenate([test for _, test in parts])), np.arange(count))
    for train, test in parts:
        assert sorted([*train, *test]) == list(range(count))
    sizes = [len(test) for _, test in parts]
    assert max(sizes) - min(sizes) <= 1


def test_many_recipes_have_no_such_parts():
    assert parts_of_few(FEW + 1) == []


def view_of(condition):
    return condition.native.view


@pytest.mark.parametrize(
    ("which", "readings"), [("measured_condition", "measured_set"), ("smoothed_condition", "smoothed_set")]
)
def test_no_worse_than_radial_basis_interpolation(request, which, readings):
    """The condition's own figures, 20 % of distinct recipes held out five times, against scipy's cubic
    radial-basis interpolation of Lab with smoothing tuned on the training part, on the same splits."""
    condition = request.getfixturevalue(which)
    merged = merge_repeats(request.getfixturevalue(readings))
    lab = view_of(condition).lab(condition.forward.bands)
    np.testing.assert_allclose(lab, readings_lab(merged), atol=0.6)
    recipes = merged.coverages
    baseline, rows = [], []
    for train, test in split_recipes(len(recipes)):
        baseline.append(interpolation_errors(recipes, lab, train, test))
        rows.append(test)
    error, index = np.concatenate(baseline), np.concatenate(rows)
    groups = patch_groups(recipes, lab)
    for name, mask in groups.items():
        part, figure = error[mask[index]], condition.validation.figure(name)
        assert figure.patches == len(part)
        print(
            f"{which} {name}: model {figure.mean:.3f} {figure.percentile_95:.3f}, "
            f"interpolation {part.mean():.3f} {np.percentile(part, 95):.3f}"
        )
        if name != "single inks":
            assert figure.mean <= 1.05 * part.mean()
            assert figure.percentile_95 <= 1.05 * np.percentile(part, 95)
    figure = condition.validation.figure("all")
    assert figure.mean <= error.mean()
    assert figure.percentile_95 <= np.percentile(error, 95)


@pytest.mark.parametrize(
    ("which", "readings"), [("measured_condition", "measured_set"), ("smoothed_condition", "smoothed_set")]
)
def test_small_charts_beat_interpolation(request, which, readings):
    """From 100 random patches, judged on all the others."""
    condition = request.getfixturevalue(which)
    recipes = merge_repeats(request.getfixturevalue(readings)).coverages
    view, bands = view_of(condition), condition.forward.bands
    lab = view.lab(bands)
    for seed in range(2):
        order = np.random.default_rng(seed).permutation(len(recipes))
        train, test = order[:SMALL], order[SMALL:]
        model = fit_forward(recipes[train], np.ones(SMALL), bands[train], view).under(view)
        mine = delta_e_2000(lab[test], model.lab(recipes[test])).mean()
        assert mine < 0.95 * interpolation_errors(recipes, lab, train, test).mean()


def toy(count=120, noise=0.0):
    rng = np.random.default_rng(0)
    recipes = np.vstack([np.zeros(2), rng.random((count, 2))])
    bands = np.exp(-recipes @ np.array([[2.0, 0.3, 0.1], [0.1, 1.0, 0.4]])) * 0.9
    return recipes, bands * (1 + noise * rng.standard_normal(bands.shape)), View(np.diag(D50), D50)


@pytest.fixture(scope="module")
def noisy():
    """What validation finds of noisy readings, and the fractions that it told."""
    recipes, bands, view = toy(noise=0.01)
    steps = []
    return validate(recipes, np.ones(len(recipes)), bands, view, steps.append), steps


def test_figures_are_those_of_the_splits(noisy):
    recipes, bands, view = toy(noise=0.01)
    repeats = np.ones(len(recipes))
    found, steps = noisy
    errors = []
    for train, test in split_recipes(len(recipes)):
        model = fit_forward(recipes[train], repeats[train], bands[train], view).under(view)
        errors.append(delta_e_2000(view.lab(bands[test]), model.lab(recipes[test])))
    errors = np.concatenate(errors)
    figure = found.figure("all")
    assert figure.patches == len(errors)
    assert figure.mean == pytest.approx(errors.mean(), rel=1e-6)
    assert figure.maximum == pytest.approx(errors.max(), rel=1e-6)
    assert (errors <= figure.percentile_95).mean() >= 0.95
    assert found.figure("totals over 250 %").patches == 0
    assert steps


@pytest.mark.parametrize(("count", "rows"), [(60, parts_of_few(61)), (FEW, list(split_recipes(FEW + 1)))])
def test_radii_rest_on_the_parts_of_few_and_the_splits_of_many(count, rows):
    recipes, bands, view = toy(count, noise=0.01)
    repeats = np.ones(len(recipes))
    errors, doubts = [], []
    for train, test in rows:
        forward = fit_forward(recipes[train], repeats[train], bands[train], view)
        errors.append(delta_e_2000(view.lab(bands[test]), forward.under(view).lab(recipes[test])))
        doubts.append(doubt(forward, forward.under(view), recipes[test]))
    wanted = radius_scale(np.concatenate(errors), joined(doubts))
    found = validate(recipes, repeats, bands, view)
    assert found.radius_scale.size == pytest.approx(wanted.size, rel=1e-6)
    assert found.radius_scale.slopes == pytest.approx(wanted.slopes, abs=1e-6)
    assert len(found.errors) == SPLITS * round(HELD_OUT * len(recipes))


def test_radius_holds_nine_errors_in_ten(noisy):
    """On two thousand recipes that neither model nor size has seen."""
    recipes, bands, view = toy(noise=0.01)
    repeats = np.ones(len(recipes))
    found, _ = noisy
    fresh, printed, _ = toy(count=2000)
    printed = printed * (1 + 0.01 * np.random.default_rng(8).standard_normal(printed.shape))
    fresh, printed = fresh[len(recipes) :], printed[len(recipes) :]
    forward = fit_forward(recipes, repeats, bands, view)
    error = delta_e_2000(view.lab(printed), forward.under(view).lab(fresh))
    inside = error <= covered_radius(forward, forward.under(view), fresh, found.radius_scale)
    assert 0.87 <= inside.mean() <= 0.95


def test_noise_raises_the_error():
    calm, rough = (validate(r, np.ones(len(r)), b, v) for r, b, v in (toy(), toy(noise=0.02)))
    assert rough.figure("all").mean > 5 * calm.figure("all").mean


def test_validation_can_be_stopped():
    recipes, bands, view = toy()

    def stop(fraction):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        validate(recipes, np.ones(len(recipes)), bands, view, stop)
