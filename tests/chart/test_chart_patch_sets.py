"""The standard CMYK chart and charts for any inks."""

from itertools import combinations, product

import numpy as np
import pytest

from strikeoff.base.errors import UsageError
from strikeoff.chart import space_filling
from strikeoff.chart.designs import (
    channels,
    characterisation,
    control_strip,
    ink_limit_ramps,
    linearisation,
    lot_check,
    neutrals,
    repeated,
)
from strikeoff.chart.patch_sets import ChartLimits, PatchSet, iso_12642_2, numbered, plain_limits
from strikeoff.chart.screen_inks import screen_colours
from strikeoff.chart.space_filling import fill_space, legal_points
from strikeoff.chart.total_ink_page import usual_combinations
from strikeoff.colour.difference import delta_e_2000
from strikeoff.inks.roles import darkest_ink
from strikeoff.model.forward import View, fit_forward

CMYK = ("C", "M", "Y", "K")


def test_standard_chart_has_the_published_counts():
    """ISO 12642-2: 1,617 patches, 1,588 distinct; how many keep a total is counted from its list."""
    chart = iso_12642_2()
    distinct = np.unique((100 * chart).round().astype(int), axis=0)
    assert (len(chart), len(distinct)) == (1617, 1588)
    assert [int((distinct.sum(axis=1) <= t).sum()) for t in (200, 250, 300, 320)] == [1290, 1477, 1561, 1572]


def test_standard_chart_row_by_row_against_a_set_that_others_made(smoothed_set):
    """The 1,617 patches inside a profile of Debian's scribus-data, order and all."""
    assert np.abs(iso_12642_2() - smoothed_set.coverages).max() < 1e-9


@pytest.mark.parametrize(
    ("inks", "total"), [(1, 1.0), (2, 1.4), (4, 2.6), (7, 3.0), (8, 2.2), (12, 3.2)], ids=str
)
def test_any_inks_keep_the_limits_and_hold_cloth_and_solids(inks, total):
    names = (*CMYK, *"OGVRBPXZ")[:inks]
    weights = np.linspace(0.5, 1.0, inks)
    limits = ChartLimits(np.linspace(0.8, 1.0, inks), weights, total)
    chart = characterisation(names, limits, 90, seed=3)
    assert len(np.unique(chart.recipes, axis=0)) == 90
    assert (chart.recipes @ weights).max() <= total + 1e-12
    assert (chart.recipes <= limits.per_ink + 1e-12).all()
    assert chart.recipes[0].sum() == 0
    for ink in range(inks):
        alone = chart.recipes[(np.delete(chart.recipes, ink, axis=1) == 0).all(axis=1), ink]
        assert alone.max() == pytest.approx(min(limits.per_ink[ink], total / weights[ink]), abs=1.01e-3)
    assert (characterisation(names, limits, 90, seed=3).recipes == chart.recipes).all()
    if inks > 1:
        assert (characterisation(names, limits, 90, seed=4).recipes != chart.recipes).any()


def test_overprints_and_neutrals_come_in_on_the_limit():
    limits = plain_limits(4, 2.5)
    recipes = characterisation(CMYK, limits, 400).recipes
    assert (recipes.sum(axis=1) > 2.49).sum() >= 5
    # Near-neutral of ISO 12642-2, 60/45/45 with K 40, lies under the limit and is printed as it is.
    assert (np.abs(recipes - [0.6, 0.45, 0.45, 0.4]).max(axis=1) < 1e-9).any()


def test_colours_stand_over_white_too():
    """On coloured cloth white lies under up to four inks: recipes of all five must not be guessed."""
    inks = (*CMYK, "White")
    recipes = characterisation(inks, plain_limits(5, 3.0), 300).recipes
    over = recipes[recipes[:, 4] > 0]
    assert ((over > 0).sum(axis=1) == 5).sum() >= 30
    assert (over[:, 4] == 1).sum() >= 30
    # Near-neutral of ISO 12642-2 with all of the white, brought under 300 % by the others.
    assert any(np.allclose(row, [0.6, 0.45, 0.45, 0.4, 1.0]) for row in recipes)
    for ink in range(4):
        alone = over[(np.delete(over, [ink, 4], axis=1) == 0).all(axis=1)]
        assert {0.5, 1.0} <= set(alone[alone[:, 4] == 1, ink])
    without = recipes[recipes[:, 4] == 0]
    assert ((without > 0).sum(axis=1) == 4).sum() >= 30
    # Other fifth inks are counted: few recipes hold five.
    other = characterisation((*CMYK, "Orange"), plain_limits(5, 3.0), 300).recipes
    assert ((other > 0).sum(axis=1) == 5).sum() < 30


@pytest.mark.parametrize("inks", [4, 8])
def test_points_hold_few_inks_as_often_as_many(inks):
    """Separations use two to five inks together: no number of them is left to be guessed from the others."""
    names = tuple("CMYKOGBV"[:inks])
    filled = fill_space(210, plain_limits(inks, 2.8), start=np.zeros((1, inks)), seed=4)
    held = np.bincount((filled > 0).sum(axis=1), minlength=6)
    expected = [0, 0, 70, 70, 70, 0] if inks == 4 else [0, 0, 60, 60, 60, 30]
    assert np.abs(held - expected).max() <= 5
    # Each pair of inks is there, and more than once.
    recipes = characterisation(names, plain_limits(inks, 2.8), 100 * inks).recipes
    for pair in combinations(range(inks), 2):
        alone = (np.delete(recipes, pair, axis=1) == 0).all(axis=1) & (recipes[:, pair].min(axis=1) > 0)
        assert alone.sum() >= 4


def test_space_filling_beats_random_points_in_the_smallest_distance():
    limits = plain_limits(4, 2.8)
    start = np.zeros((1, 4))
    filled = fill_space(60, limits, start=start, seed=1)
    lot = legal_points(60, limits, seed=1)

    def closest(points):
        gap = ((points[:, None] - points[None]) ** 2).sum(axis=2)
        return float(gap[~np.eye(len(points), dtype=bool)].min())

    assert closest(filled) > 5 * closest(lot)
    assert filled.sum(axis=1).max() <= 2.8


def test_overprints_hold_small_amounts_too():
    """Pale mixtures are half of many an artwork: of even amounts a fifth would lie below a fifth."""
    recipes = characterisation(CMYK, plain_limits(4, 3.0), 300).recipes
    amounts = recipes[(recipes > 0).sum(axis=1) > 1]
    amounts = amounts[amounts > 0]
    assert 0.15 < (amounts < 0.2).mean() < 0.25
    assert 0.15 < (amounts > 0.8).mean() < 0.25


def test_pale_mixtures_are_met_better_than_with_points_that_are_far_in_plain_amounts(monkeypatch):
    """Dots that lie over each other at random (H. E. J. Neugebauer, Z. wiss. Photogr. 36, 1937), with the
    exponent of J. A. C. Yule and W. J. Nielsen (TAGA Proc. 3, 1951): what each chart tells of them."""
    solids = np.array(
        [[1.0, 1.0, 1.0], [0.1, 0.5, 0.8], [0.8, 0.12, 0.3], [0.85, 0.75, 0.1], [0.03, 0.03, 0.03]]
    )
    corners = np.array(list(product((0.0, 1.0), repeat=4)))
    overprints = 0.9 * np.prod(np.where(corners[:, :, None] > 0, solids[1:], 1.0), axis=1)

    def printed(recipes):
        area = recipes[:, None] ** 0.8
        share = np.prod(np.where(corners > 0, area, 1.0 - area), axis=2)
        return (share @ overprints**0.5) ** 2.0

    view = View(np.diag([96.4, 100.0, 82.5]), np.array([96.4, 100.0, 82.5]))
    limits = plain_limits(4, 3.0)
    judged = legal_points(2048, limits, seed=9)
    lab = view.lab(printed(judged))
    pale = lab[:, 0] > 75

    def errors(power):
        monkeypatch.setattr(space_filling, "_POWER", power)
        recipes = characterisation(CMYK, limits, 200, seed=1).recipes
        read = printed(recipes) * (1.0 + 0.003 * np.random.default_rng(2).normal(size=(len(recipes), 1)))
        model = fit_forward(recipes, np.ones(len(recipes)), read, view).under(view)
        return delta_e_2000(lab, model.lab(judged))

    ours, plain = errors(space_filling._POWER), errors(1.0)
    assert ours[pale].mean() < 0.85 * plain[pale].mean()
    assert ours.mean() < plain.mean()


def test_small_charts():
    limits = plain_limits(4, 2.4)
    strip = control_strip(CMYK, limits)
    assert strip.recipes[0].sum() == 0
    assert len(strip) == len(np.unique(strip.recipes, axis=0)) <= 30
    assert strip.recipes.sum(axis=1).max() <= 2.4
    assert len(lot_check(CMYK, limits, 25)) == 25
    for number in (24, 61):
        with pytest.raises(UsageError, match="25 to 60"):
            lot_check(CMYK, limits, number)


def test_ramps_rise_to_full_ink():
    ramps = ink_limit_ramps(CMYK, [("C", "y")])
    assert len(ramps) == 5
    assert ramps[4][-1].tolist() == [1, 0, 1, 0]
    assert (np.diff(ramps[1][:, 1]) > 0).all()
    assert all(not ramp[0].any() for ramp in ramps)
    lines = linearisation(CMYK)
    assert (lines.recipes.max(axis=1) == 0).sum() == 4
    for ink in range(4):
        assert {0.02, 0.5, 1.0} <= set(lines.recipes[lines.recipes.argmax(axis=1) == ink, ink])
    with pytest.raises(UsageError, match="combination"):
        ink_limit_ramps(CMYK, [("C", "Orange")])


def test_linearisation_over_white_only_where_it_is_wanted():
    inks = ("C", "K", "White")
    both, plain = linearisation(inks).recipes, linearisation(inks, over_white=False).recipes
    assert ((both[:, 2] == 1) & (both[:, :2].max(axis=1) > 0)).sum() > 20
    assert not ((plain[:, 2] > 0) & (plain[:, :2].max(axis=1) > 0)).any()
    for ink in range(3):
        assert plain[:, ink].max() == 1.0


def test_repeats_have_names_of_their_own():
    twice = repeated(numbered(("C", "M"), np.array([[0, 0], [1, 0.5]])), np.array([1]), 3)
    assert twice.names == ("1", "2", "2.2", "2.3")
    assert twice.recipes[2:].tolist() == [[1, 0.5]] * 2


@pytest.mark.parametrize("inks", [(), ("C", " C"), ("C", " "), tuple("ABCDEFGHIJKLM")], ids=len)
def test_ink_lists_that_cannot_be(inks):
    with pytest.raises(UsageError, match="ink"):
        characterisation(inks, plain_limits(max(1, len(inks))), 60)


def test_light_inks_are_told_from_dark_ones_by_case():
    # "c" and "m" beside "C" and "M": common practice, no source.
    inks = ("C", "M", "c", "m")
    assert characterisation(inks, plain_limits(4), 60).inks == inks
    assert channels(inks, ["m", "C"]) == [3, 0]
    assert channels(CMYK, ["m", "k"]) == [1, 3]
    with pytest.raises(UsageError, match="combination"):
        channels(CMYK, ["m", "M"])
    dark, light = (screen_colours(np.eye(4)[[channel]], inks) for channel in (0, 2))
    assert (light >= dark).all()
    assert light.mean() > dark.mean() + 0.1


def test_values_that_cannot_be():
    with pytest.raises(UsageError, match="none and full"):
        PatchSet(("C",), np.array([[1.2]]), ("1",))
    with pytest.raises(UsageError, match="none and full"):
        PatchSet(("C",), np.array([[np.nan]]), ("1",))
    with pytest.raises(UsageError, match="total ink"):
        plain_limits(4, 5.0)
    with pytest.raises(UsageError, match="too few"):
        characterisation(CMYK, plain_limits(4), 8)


@pytest.mark.parametrize("order", ["CMYKcmk", "cmkCMYK", "kKcCmMY"])
def test_light_inks_stand_in_for_no_process_ink(order):
    """Greys and overprints of small designs take C, M, Y, K in whatever order the inks stand."""
    inks, limits = tuple(order), plain_limits(7, 4.0)
    light = [i for i, ink in enumerate(inks) if ink.islower()]
    greys = neutrals(inks, limits)
    assert len(greys) == 36
    assert greys[:, light].max() == 0
    strip = control_strip(inks, limits).recipes
    mixed = strip[(strip > 0).sum(axis=1) > 1]
    assert len(mixed) == 7
    assert mixed[:, light].max() == 0
    small = {frozenset(group) for group in usual_combinations(inks) if len(group) < 7}
    assert small == {frozenset(group) for group in ("CM", "CY", "MY", "CMY", "CMYK")}
    assert inks[darkest_ink(inks)] == "K"
