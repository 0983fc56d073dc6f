"""The fit of the area-coverage model to many inks: the same answer from a system of either size."""

import numpy as np
import pytest

from strikeoff.model import neugebauer
from strikeoff.model.neugebauer import fit_area_coverage


def readings(inks, rows, seed=0):
    """Recipes of a few inks each, and what inks that leave a share of each band make of them."""
    rng = np.random.default_rng(seed)
    recipes = rng.random((rows, inks)) * (rng.random((rows, inks)) < 0.35)
    left = rng.uniform(0.15, 0.9, (inks, 5))
    bands = 0.85 * np.prod(1.0 - recipes[:, :, None] * (1.0 - left), axis=1)
    return recipes, bands * rng.normal(1.0, 0.01, bands.shape)


@pytest.mark.parametrize(("inks", "rows"), [(4, 60), (7, 60), (8, 200), (9, 300)])
def test_both_systems_give_the_same_overprints(inks, rows):
    """Ridge regression by its dual (Saunders, Gammerman, Vovk 1998) is the same regression."""
    recipes, bands = readings(inks, rows)
    roots = bands**0.5
    weights = neugebauer.demichel_shares(recipes)
    by_overprints = neugebauer._solve_by_overprints(weights, roots, inks)
    singles, dual = neugebauer._solve_by_rows(recipes, roots)
    by_rows = neugebauer._products(singles, inks) + weights.T @ dual
    np.testing.assert_allclose(by_rows, by_overprints, atol=1e-9)
    np.testing.assert_allclose(roots - neugebauer._RIDGE * dual, weights @ by_overprints, atol=1e-9)


def test_fitted_roots_are_those_of_the_overprints():
    for rows in (50, 200):
        recipes, bands = readings(6, rows)
        overprints = neugebauer._overprints(recipes, bands)
        expected = neugebauer.demichel_shares(recipes) @ overprints
        np.testing.assert_allclose(neugebauer._fitted_roots(recipes, bands), expected, atol=1e-9)


def test_no_fit_solves_more_unknowns_than_readings_or_overprints(monkeypatch):
    """With 12 inks there are 4,096 overprints: solving for them took minutes for each trial of a curve."""
    sizes = []

    def sized(solve):
        def solving(matrix, *others, **options):
            sizes.append(len(matrix))
            return solve(matrix, *others, **options)

        return solving

    monkeypatch.setattr(np.linalg, "solve", sized(np.linalg.solve))
    monkeypatch.setattr(neugebauer.scipy.linalg, "cho_factor", sized(neugebauer.scipy.linalg.cho_factor))
    recipes, bands = readings(12, 80)
    model = fit_area_coverage(recipes, bands)
    assert max(sizes) == 80
    assert model.overprints.shape == (4096, 5)
    assert np.abs(model.predict(recipes) - bands).max() < 0.05
    sizes.clear()
    fit_area_coverage(*readings(4, 80))
    assert max(sizes) == 16


@pytest.mark.parametrize("inks", [2, 3, 5, 8, 9, 12])
@pytest.mark.parametrize("rows", [1, 300])
def test_slopes_by_halves_are_those_in_one_piece(inks, rows):
    rng = np.random.default_rng(inks)
    coverage, overprints = rng.uniform(-0.1, 1.1, (rows, inks)), rng.random((1 << inks, 7))
    value, slopes = neugebauer._mixed(coverage, overprints)
    halved, halved_slopes = neugebauer._mixed_by_halves(coverage, overprints)
    np.testing.assert_allclose(halved, value, atol=1e-12)
    np.testing.assert_allclose(halved_slopes, slopes, atol=1e-12)


@pytest.mark.parametrize("inks", [4, 12])
def test_slopes_are_differences_of_predictions(inks):
    """Central differences of ``predict``, which knows no slopes."""
    model = fit_area_coverage(*readings(inks, 80))
    at = np.random.default_rng(1).uniform(0.1, 0.9, (5, inks))
    value, slopes = model.jacobian(at)
    np.testing.assert_allclose(value, model.predict(at), atol=1e-12)
    for ink in range(inks):
        step = 1e-5 * np.eye(inks)[ink]
        difference = (model.predict(at + step) - model.predict(at - step)) / 2e-5
        np.testing.assert_allclose(slopes[:, :, ink], difference, atol=1e-6)


def test_slopes_of_many_inks_sum_over_the_overprints_twice(monkeypatch):
    """Not once for each ink: 12 of them took 0.7 ms a recipe, and the inverse asks for millions."""
    columns = []
    whole = neugebauer.demichel_shares

    def counted(coverage, replaced=None):
        columns.append(1 << coverage.shape[1])
        return whole(coverage, replaced)

    model = fit_area_coverage(*readings(12, 80))
    monkeypatch.setattr(neugebauer, "demichel_shares", counted)
    model.jacobian(np.full((3, 12), 0.4))
    assert max(columns) == 64
