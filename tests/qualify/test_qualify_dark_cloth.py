"""Ramps on dark cloth: inks that show over white only are judged there, white by how it lightens."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.chart.designs import ink_limit_ramps, linearisation
from strikeoff.condition.ink_space import without_named
from strikeoff.condition.rendering import render
from strikeoff.inks.records import plain_inks
from strikeoff.inks.spaces import identity_spaces
from strikeoff.measurement.records import ReadingSet
from strikeoff.qualify.build import build_condition
from strikeoff.qualify.limits import LimitRule, find_limits
from strikeoff.qualify.linearise import linearise, match_tones
from strikeoff.qualify.ramps import ink_ramps
from strikeoff.qualify.reach import lighter_problem

INKS = ("C", "K", "White")
WHITE_LAB = np.array([84.0, 0.0, -2.0])
# Full ink over white, and what it moves the cloth by at most.
SOLIDS = {"C": np.array([54.0, -30.0, -42.0]), "K": np.array([24.0, 0.5, 0.0])}


def colours(recipes, cloth):
    """White stops at 70 %; colours move what is beneath towards their solid, less where that is dark."""
    lab = cloth + np.minimum(recipes[:, 2:] / 0.7, 1.0) * (WHITE_LAB - cloth)
    for ink, name in enumerate(("C", "K")):
        seen = np.clip((lab[:, :1] - 20.0) / 64.0, 0.02, 1.0)
        lab = lab + recipes[:, ink : ink + 1] ** 0.6 * seen * (SOLIDS[name] - WHITE_LAB)
    return lab


def readings_of(recipes, cloth):
    ids = tuple(map(str, range(len(recipes))))
    columns = ("3CLR_1", "3CLR_2", "3CLR_3")
    return ReadingSet(
        ids, columns, recipes, lab=colours(recipes, np.array(cloth)), keywords={"INK_NAMES": "C K White"}
    )


BLACK, NATURAL = (26.0, 0.0, 0.0), (80.0, 1.0, 8.0)


def test_charts_have_ramps_over_white():
    ramps = ink_limit_ramps(INKS)
    assert len(ramps) == 5
    assert ramps[3][0].tolist() == ramps[4][0].tolist() == [0, 0, 1]
    assert ramps[4][-1].tolist() == [0, 1, 1]
    rows = linearisation(INKS).recipes
    over = rows[(rows[:, 2] == 1) & (rows[:, :2].max(axis=1) > 0)]
    alone = rows[(rows[:, 2] == 0) & (rows[:, :2].max(axis=1) > 0)]
    assert sorted(map(tuple, over[:, :2])) == sorted(map(tuple, alone[:, :2]))
    assert len(ink_limit_ramps(INKS[:2])) == 2


def test_dark_cloth_is_judged_over_white_and_light_cloth_is_not():
    chart = np.vstack(ink_limit_ramps(INKS))
    dark = ink_ramps(readings_of(chart, BLACK))
    assert [ramp.over for ramp in dark] == ["White", "White", None]
    np.testing.assert_allclose(dark[0].lab[0], WHITE_LAB)
    np.testing.assert_allclose(dark[0].lab[-1], SOLIDS["C"])
    assert [ramp.over for ramp in ink_ramps(readings_of(chart, NATURAL))] == [None] * 3
    # A chart without them: the old refusal, with the way out.
    bare = chart[chart[:, :2].max(axis=1) * chart[:, 2] == 0]
    with pytest.raises(InputError, match="leaves no colour") as refused:
        find_limits(ink_ramps(readings_of(bare, BLACK)))
    assert "ramps over it" in refused.value.advice


def test_limits_of_inks_over_white_and_of_white_that_lightens():
    ramps = ink_ramps(readings_of(np.vstack(ink_limit_ramps(INKS)), BLACK))
    limits = find_limits(ramps, LimitRule(least_gain=0.05))
    assert limits[0].limit == limits[1].limit == 1.0
    assert limits[0].reason.endswith("over White")
    assert limits[2].limit == pytest.approx(0.665, abs=0.03)


@pytest.mark.parametrize("aim", ["colour", "lightness"])
def test_tones_grow_evenly_over_white(aim):
    ramps = ink_ramps(readings_of(linearisation(INKS).recipes, BLACK))
    fits = linearise(ramps, [1.0, 1.0, 0.7], aim)
    if aim == "lightness":
        half = fits[0].curve[128] / 65535
        # Tone is amount ** 0.6 by the making of it.
        assert half == pytest.approx((128 / 255) ** (1 / 0.6), abs=0.01)
    assert all((np.diff(fit.curve.astype(int)) >= 0).all() for fit in fits)


def test_tones_of_the_cloth_do_not_come_back_from_ramps_over_white():
    ramps = ink_ramps(readings_of(linearisation(INKS).recipes, BLACK))
    model = [np.linspace(BLACK, BLACK, 256)] * 3
    with pytest.raises(InputError, match="too little of this ink"):
        match_tones(ramps, [1.0, 1.0, 1.0], model)


@pytest.fixture(scope="module")
def black():
    """A condition on black cloth whose colours use white."""
    rng = np.random.default_rng(2)
    rest = rng.random((60, 3))
    rest[rng.random(rest.shape) < 0.3] = 0.0
    chart = np.vstack([np.zeros((1, 3)), np.kron(np.eye(3), [[0.3], [0.65], [1.0]]), rest])
    return build_condition(
        readings_of(chart, BLACK),
        b"data",
        name="black",
        label="simulated",
        spaces=identity_spaces(INKS, 3.0, inks=plain_inks(INKS)),
        process_inks=("White",),
    )


def test_colours_lighter_than_the_cloth_are_told_and_reached_with_absolute(black):
    (told,) = [problem for problem in black.problems if problem.where == "bare cloth"]
    assert "absolute" in told.advice
    # Artwork's white and a light grey, D50 Lab: white ink as it is, and less of it or a little black.
    recipes = render(black, np.array([[100.0, 0.0, 0.0], [70.0, 0.0, -1.0]]), "absolute")
    assert recipes.inks[0, 2] > 0.65
    assert recipes.inks[0, :2].max() < 0.05
    assert colours(recipes.inks, np.array(BLACK))[:, 0] == pytest.approx([84.0, 70.0], abs=4.0)


def test_white_by_name_only_leaves_the_cloth_the_lightest(black):
    limits = without_named(black.limits, black.spaces)
    assert lighter_problem(black.native, black.recipe_limits) is not None
    assert lighter_problem(black.native, limits) is None


def test_a_total_that_cannot_bind_is_not_called_missing():
    """White in drops of 30 pL, colours of 12: all of them at full tone are 180 % of white."""
    rng = np.random.default_rng(5)
    chart = np.vstack([np.zeros((1, 3)), np.kron(np.eye(3), [[0.3], [0.65], [1.0]]), rng.random((20, 3))])
    inks = tuple(replace(ink, drop_pl=(30.0 if ink.name == "White" else 12.0,)) for ink in plain_inks(INKS))
    for total, words in ((2.0, "the limit of 200 % is more"), (3.0, "no limit was given")):
        done = build_condition(
            readings_of(chart, NATURAL),
            b"data",
            name="white",
            label="simulated",
            spaces=identity_spaces(INKS, total, inks=inks),
            validated=False,
        )
        (told,) = [problem for problem in done.problems if problem.where == "total ink"]
        assert told.message.startswith(words)
