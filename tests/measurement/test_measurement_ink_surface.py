"""Solids and ramps of simulated charts: good ones are not named, wrong ones are.

Limits are common practice, no source. The simulation shares no code with the package.
"""

import itertools

import numpy as np
import pytest

from strikeoff.chart.patch_sets import plain_limits
from strikeoff.measurement.ink_surface import InkSurface
from strikeoff.measurement.neighbours import neighbour_residuals
from strikeoff.measurement.outliers import find_outliers
from strikeoff.measurement.patch_checks import check_neighbours
from strikeoff.measurement.read import parse_readings
from strikeoff.qualify.next_patches import first_patches

BANDS = np.arange(380.0, 731.0, 10.0)
# Rough colour matching: lobes of X, Y, Z as centre, width [nm] and height; from memory.
LOBES = (((597, 38, 1.06), (446, 22, 0.36)), ((558, 46, 1.0),), ((449, 26, 1.78),))
# Peaks of K/S of cyan, magenta, yellow, black, orange, red and blue; invented.
DYES = (
    ((635, 45, 5.0), (690, 32, 3.2)),
    ((542, 30, 4.4), (512, 25, 2.7)),
    ((430, 40, 5.5),),
    ((550, 400, 7.0),),
    ((480, 55, 5.6),),
    ((500, 60, 5.2),),
    ((600, 50, 4.8),),
)


def bells(peaks):
    return sum(height * np.exp(-0.5 * ((BANDS - at) / width) ** 2) for at, width, height in peaks)


def printed(coverages):
    """Return CIELAB of dyes on cloth: Neugebauer's primaries of K/S, joined as Yule and Nielsen did."""
    inks = coverages.shape[1]
    dyes = np.array([bells(peaks) for peaks in DYES[:inks]])
    area = coverages + 0.6 * coverages * (1 - coverages) * (1 - 0.4 * coverages)
    mean = np.zeros((len(area), len(BANDS)))
    for solid in itertools.product((0, 1), repeat=inks):
        on = np.array(solid, dtype=bool)
        ks = 0.02 + dyes[on].sum(axis=0)
        share = np.where(on, area, 1 - area).prod(axis=1)
        mean += share[:, None] * np.sqrt(0.015 + 0.97 * (1 + ks - np.sqrt(ks * ks + 2 * ks)))
    lobes = np.array([bells(peaks) for peaks in LOBES])
    x, y, z = np.cbrt((mean**2) @ (lobes / lobes.sum(axis=1, keepdims=True)).T).T
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=1)


def ramps(inks, steps):
    """Return bare cloth and even steps of each ink alone."""
    levels = np.linspace(0, 1, steps + 1)[1:]
    return np.vstack([np.zeros((1, inks)), *[level * np.eye(inks) for level in levels]])


def noise(lab, size=0.15):
    return lab + np.random.default_rng(1).normal(0, size, lab.shape)


@pytest.mark.parametrize(("seed", "total", "patch"), [(4, 2.0, [0, 0, 1, 0, 0, 0, 0]), (1, 2.6, [0] * 7)])
def test_good_ends_of_a_small_chart_are_not_named(seed, total, patch):
    """Neighbours alone named the yellow solid of one, and the bare cloth of the other."""
    inks = first_patches(tuple("CMYKORB"), plain_limits(7, total), 60, seed=seed)
    lab = noise(printed(inks))
    (row,) = np.flatnonzero((inks == patch).all(axis=1))
    assert neighbour_residuals(inks, lab, np.ones(len(inks), dtype=bool))[row] > 20
    assert find_outliers(inks, lab)[0].size == 0


@pytest.mark.parametrize("inks", [4, 7])
@pytest.mark.parametrize("off", [(0, 0, -8), (0, 6, 5), (-30, 0, 0)])
def test_a_wrong_ramp_end_is_named_and_its_ramp_is_not(inks, off):
    recipes = ramps(inks, 12)
    lab = noise(printed(recipes))
    assert find_outliers(recipes, lab)[0].size == 0
    solid = len(recipes) - inks + 2
    lab[solid] += off
    rows, distances = find_outliers(recipes, lab)
    assert rows.tolist() == [solid]
    assert distances[0] == pytest.approx(np.linalg.norm(off), abs=2)


def test_two_swapped_solids_are_named_and_no_others():
    recipes = ramps(4, 12)
    lab = noise(printed(recipes))
    lab[[-4, -3]] = lab[[-3, -4]]
    assert sorted(find_outliers(recipes, lab)[0]) == [len(recipes) - 4, len(recipes) - 3]


def test_wrong_bare_cloth_is_named():
    recipes = ramps(4, 12)
    lab = noise(printed(recipes))
    lab[0] -= [20, 0, 0]
    assert find_outliers(recipes, lab)[0].tolist() == [0]


def test_a_patch_that_is_taken_out_leaves_the_surface_of_the_others():
    """What a patch reads has no say any more once it is out, and never in its own prediction."""
    recipes = ramps(4, 12)
    lab = noise(printed(recipes))
    wrong = lab.copy()
    wrong[5, 1] += 40
    surface, other = InkSurface(recipes, lab), InkSurface(recipes, wrong)
    assert other.misfits(8.0, 5.0)[0][5] == pytest.approx(surface.misfits(8.0, 5.0)[0][5] + 40, abs=6)
    surface.without(5)
    other.without(5)
    assert 5 not in surface.left
    np.testing.assert_allclose(surface.misfits(8.0, 5.0)[0], other.misfits(8.0, 5.0)[0], atol=0.5)


def test_the_message_says_how_far_from_what_and_what_to_do():
    recipes = ramps(4, 12)
    lab = noise(printed(recipes))
    lab[-2] += [0, 0, -20]
    head = "SAMPLE_ID,CMYK_C,CMYK_M,CMYK_Y,CMYK_K,LAB_L,LAB_A,LAB_B"
    lines = [
        ",".join([str(i), *(f"{v:.3f}" for v in (*(100 * recipes[i]), *lab[i]))]) for i in range(len(lab))
    ]
    readings, _ = parse_readings("\n".join([head, *lines, ""]).encode(), source="ramps")
    (finding,) = check_neighbours(readings, frozenset())
    problem = finding.problem
    assert problem.where.endswith(f"patch {len(lab) - 2}")
    assert problem.found.endswith("CIELAB units from the colour that the other patches predict")
    assert float(problem.found.split()[0]) == pytest.approx(20, abs=2)
    assert problem.advice == "Measure it again; if the reading repeats, the print is so: keep it"


@pytest.mark.parametrize(("recipes", "asked"), [(600, True), (601, False)])
def test_a_larger_chart_without_suspects_is_judged_by_neighbours_alone(monkeypatch, recipes, asked):
    """A surface costs the cube of its recipes."""
    made = []

    def surface(*given):
        made.append(given)
        return InkSurface(*given)

    monkeypatch.setattr("strikeoff.measurement.outliers.InkSurface", surface)
    rng = np.random.default_rng(3)
    inks = rng.uniform(0, 1, (recipes, 7)) * (rng.uniform(size=(recipes, 7)) < 0.4)
    find_outliers(inks, noise(printed(inks)))
    assert bool(made) == asked
