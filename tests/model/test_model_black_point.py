"""Grey definitions, black points, pure black: in the model, in tables and in files."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import UsageError
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.links import artwork_table
from strikeoff.condition.pcs import Connection
from strikeoff.condition.rendering import render
from strikeoff.mill.press import invented_press
from strikeoff.model import gamut
from strikeoff.model.black import BlackPolicy, find_black
from strikeoff.model.dark_end import find_dark_end
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.gamut import ok_to_lab
from strikeoff.model.grey import grey_axis
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.limits import InkLimits
from strikeoff.qualify.reach import darkest_patch, find_reach
from strikeoff.workbench.black import make_policy

CLOTH = np.array([95.0, 1.5, -6.0])


def with_policy(condition, **changes):
    return replace(condition, policy=replace(condition.policy, **changes))


def test_fading_greys_follow_the_formula():
    """a*aim = a*paper (1 - 0.85 (L*p - L*) / (L*p - L*cmy)), recalled from ISO 12647-2:2013; on the
    coated paper of the 2015 data set, 95.00/1.50/-6.00, with black at 23.26."""
    got = grey_axis("fading", 0.85, CLOTH, 23.26, np.array([95.0, 59.13, 23.26, 5.0]))
    np.testing.assert_allclose(got[:, 0], [1.5, 0.8625, 0.225, 0.225], atol=1e-3)
    np.testing.assert_allclose(got[:, 1] / got[:, 0], -4.0)


def test_absolute_greys_are_neutral_but_for_the_cloth():
    got = grey_axis("absolute", 0.85, CLOTH, 15.0, np.array([95.0, 90.0, 85.0, 40.0]))
    np.testing.assert_allclose(got, [[1.5, -6], [0.75, -3], [0, 0], [0, 0]], atol=1e-12)


@pytest.mark.parametrize("grey", ["cloth", "fading", "absolute"])
@pytest.mark.parametrize("which", ["measured_condition", "smoothed_condition"])
def test_the_neutral_axis_is_held(request, which, grey):
    """|a*|, |b*| within 1 of the definition from the cloth to where the definition closes."""
    condition = with_policy(request.getfixturevalue(which), grey=grey)
    ramp = np.zeros((50, 3))
    ramp[:, 0] = np.linspace(95.0, condition.black_lab[0] + 2.0, 50)
    lab = render(condition, ramp, "relative").lab
    own = condition.connection.from_relative(ramp)
    black = condition.connection.from_relative(condition.black_lab[None])[0, 0]
    aim = (
        own[:, 1:] if grey == "cloth" else grey_axis(grey, 0.85, condition.cloth_lab, float(black), own[:, 0])
    )
    assert np.abs(lab[:, 1:] - aim).max() <= 1.0
    assert np.abs(lab[:, 0] - own[:, 0]).max() <= 0.5


@pytest.fixture(scope="module")
def patch_reach(small_readings):
    """The reach where black is the darkest patch, with a boundary that nobody judges."""
    plain = small_readings.condition
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gamut, "_LEVELS", 7)
        patch.setattr(gamut, "_HUES", 12)
        return find_reach(plain.native, plain.inks, plain.limits, replace(plain.policy, point="patch"))


@pytest.mark.usefixtures("coarse_gamut")
def test_black_points(small_readings, patch_reach):
    condition = small_readings.condition
    given = (30.0, 1.0, 2.0)
    reached = {
        point: find_reach(
            condition.native, condition.inks, condition.limits, replace(condition.policy, **choice)
        ).black_lab
        for point, choice in {"neutral": {}, "given": {"point": "given", "point_lab": given}}.items()
    }
    reached["patch"] = patch_reach.black_lab
    link = condition.connection
    np.testing.assert_allclose(reached["neutral"], condition.black_lab)
    np.testing.assert_allclose(link.from_relative(reached["given"][None])[0], given, atol=1e-6)
    patch = darkest_patch(condition.native, condition.limits)
    np.testing.assert_allclose(link.from_relative(reached["patch"][None])[0], patch, atol=1e-6)
    printed = condition.native.lab(condition.forward.recipes)
    legal = condition.limits.legal(condition.forward.recipes, 1e-6)
    assert patch[0] == pytest.approx(printed[legal, 0].min())


@pytest.mark.parametrize("which", ["small_readings", "measured_condition"])
def test_black_is_a_neutral_that_is_reached(request, which):
    """Not one that is nearly reached, before which shadows would end; and none is much darker."""
    made = request.getfixturevalue(which)
    condition = getattr(made, "condition", made)
    black = condition.connection.from_relative(condition.black_lab - np.array([[0.0], [1.0]]) * [1.0, 0, 0])
    found = solve(condition.inverse, condition.greys.onto(black))
    assert found.de00[0] < 0.15
    assert found.de00[1] > 0.4


@pytest.mark.usefixtures("coarse_gamut")
def test_a_black_point_out_of_reach_is_told(small_readings, patch_reach):
    """With what was asked, the darkest neutral and what is used; none where the press reaches it."""
    plain = small_readings.condition
    darkest = float(plain.connection.from_relative(plain.black_lab[None])[0, 0])
    for lightness, told in ((darkest - 12.0, True), (darkest + 0.2, False)):
        policy = replace(plain.policy, point="given", point_lab=(lightness, 0.0, 0.0))
        problem = find_reach(plain.native, plain.inks, plain.limits, policy).black_problem()
        assert (problem is not None) == told
        if problem is not None:
            assert problem.found == f"L* {lightness:.1f} asked for"
            assert problem.expected.startswith(f"L* {darkest:.1f} or lighter")
            assert f"scaled to L* {lightness:.1f} as asked" in problem.advice
    assert patch_reach.black_problem() is None


@pytest.mark.usefixtures("coarse_gamut")
def test_the_condition_keeps_the_warning_of_its_black_point(small_readings):
    from strikeoff.qualify.build import build_condition

    condition = build_condition(
        small_readings.readings,
        small_readings.data,
        name="dark",
        label="simulated",
        total_ink=2.5,
        policy=BlackPolicy(point="given", point_lab=(2.0, 0.0, 0.0)),
        validated=False,
    )
    assert [p.severity for p in condition.problems if p.where == "black point"] == ["warning"]


@pytest.mark.parametrize("grey", ["fading", "absolute"])
def test_black_and_gamut_follow_the_grey_definition(small_readings, grey):
    plain = small_readings.condition
    policy = replace(plain.policy, grey=grey, grey_fade=0.9)
    reach = find_reach(plain.native, plain.spaces.channels, plain.limits, policy)
    condition = replace(plain, policy=policy, black_lab=reach.black_lab, boundary=reach.boundary)
    black = condition.connection.from_relative(reach.black_lab[None])
    axis = grey_axis(grey, 0.9, plain.cloth_lab, float(black[0, 0]), black[:, 0])
    np.testing.assert_allclose(black[:, 1:], axis, atol=0.2)
    assert solve(condition.inverse, black).de00[0] < 0.8
    darker = black - [2.5, 0.0, 0.0]
    darker[:, 1:] = grey_axis(grey, 0.9, plain.cloth_lab, float(black[0, 0]), darker[:, 0])
    assert solve(condition.inverse, darker).de00[0] > 0.5
    edge = reach.boundary
    hue = np.arange(60) * 2 * np.pi / 60
    for level in (8, 16, 24):
        chroma = edge.chroma[level]
        for factor, reached in ((0.97, True), (1.1, False)):
            rings = np.stack(
                [
                    np.full(60, edge.lightness[level]),
                    factor * chroma * np.cos(hue),
                    factor * chroma * np.sin(hue),
                ],
                axis=1,
            )
            aims = condition.greys.onto(condition.connection.from_relative(ok_to_lab(rings)))
            assert (np.median(solve(condition.inverse, aims, exact=False).de00) < 0.4) == reached
    assert np.abs(condition.greys.off(condition.greys.onto(aims)) - aims).max() < 1e-9


def test_absolute_rendering_moves_no_grey(small_readings):
    lab = np.column_stack([np.linspace(40.0, 80.0, 9), np.full(9, 2.0), np.full(9, -3.0)])
    plain = render(small_readings.condition, lab, "absolute")
    shifted = render(with_policy(small_readings.condition, grey="absolute"), lab, "absolute")
    np.testing.assert_allclose(shifted.lab, plain.lab, atol=0.05)


def grey_artwork(values):
    return np.column_stack([100.0 * values.mean(axis=1), np.zeros(len(values)), np.zeros(len(values))])


def test_pure_black_prints_type_with_black_alone(measured_condition):
    black = np.array([0, 0, 0, 65535])
    plain = artwork_table(measured_condition, "rgb", grey_artwork, "relative-bpc", size=3)
    asked = artwork_table(
        with_policy(measured_condition, pure_black=True), "rgb", grey_artwork, "relative-bpc", size=3
    )
    assert plain.nodes[0, 0, 0, :3].sum() > 20000
    np.testing.assert_array_equal(asked.nodes[0, 0, 0], black)
    np.testing.assert_array_equal(asked.nodes[2, 2, 2], 0)
    np.testing.assert_array_equal(asked.nodes[1, 1, 1], plain.nodes[1, 1, 1])


def test_full_inks_print_with_their_namesakes(measured_condition):
    def to_lab(inks):
        return measured_condition.connection.to_relative(measured_condition.native.lab(inks * 0.9))

    pure = with_policy(measured_condition, pure_black=True, pure_inks=True)
    nodes = artwork_table(pure, "cmyk", to_lab, "relative", size=2).nodes
    for ink in range(4):
        place = tuple(int(k == ink) for k in range(4))
        np.testing.assert_array_equal(nodes[place], 65535 * np.eye(4, dtype=int)[ink])


def test_the_policy_survives_the_file(small_readings, tmp_path):
    policy = BlackPolicy(
        point="given", point_lab=(20.0, 0.0, -1.0), grey="fading", grey_fade=0.5, pure_black=True
    )
    write_condition(tmp_path / "a.cond", replace(small_readings.condition, policy=policy))
    assert read_condition(tmp_path / "a.cond")[0].policy == policy


@pytest.mark.parametrize(
    "bad",
    [
        {"point": "white"},
        {"point": "given"},
        {"point_lab": (20.0, 0, 0)},
        {"point": "given", "point_lab": (120.0, 0.0, 0.0)},
        {"point": "given", "point_lab": (float("nan"), 0.0, 0.0)},
        {"grey": "brown"},
        {"grey_fade": 1.5},
    ],
)
def test_policies_that_make_no_sense(bad):
    with pytest.raises(UsageError):
        BlackPolicy(**bad)


def test_black_in_the_terms_of_people():
    policy = make_policy(start=80.0, maximum=90.0, reach=20.0, point="patch", grey="fading", grey_fade=50.0)
    assert (policy.start, policy.maximum, policy.chroma_reach) == (80.0, 0.9, 20.0)
    assert (policy.point, policy.grey, policy.grey_fade) == ("patch", "fading", 0.5)
    assert make_policy() == BlackPolicy()
    with pytest.raises(UsageError, match="not a black point"):
        make_policy(point="dark")


@pytest.mark.parametrize(
    ("given", "found", "expected"),
    [
        ({"strength": 101.0}, "101 %", "0 to 100 %"),
        ({"maximum": -5.0}, "-5 %", "0 to 100 %"),
        ({"start": 101.0}, "101 L*", "0 to 100 L*"),
        ({"grey": "fading", "grey_fade": 120.0}, "120 %", "0 to 100 %"),
    ],
)
def test_policies_out_of_range_are_refused_in_the_units_in_which_they_were_given(given, found, expected):
    with pytest.raises(UsageError, match="out of range") as refused:
        make_policy(**given)
    assert (refused.value.found, refused.value.expected) == (found, expected)


@pytest.mark.parametrize("grey", [None, "cloth", "absolute"])
def test_only_fading_greys_fade(grey):
    """It would change nothing, and whoever asked for it would not know."""
    with pytest.raises(UsageError, match="only fading greys"):
        make_policy(grey=grey, grey_fade=50.0)


def few_readings(letters, recipes, hue=0.0):
    """Return a model of simulated readings whose last ink has a hue of its own, its limits and its reach."""
    bands = invented_press("T1", inks=letters).print(recipes)[:, ::4]
    bands *= 1.0 + hue * recipes[:, -1:] * np.linspace(-1.0, 1.0, bands.shape[1])
    matrix = np.random.default_rng(1).random((bands.shape[1], 3))
    view = View(matrix / matrix.sum(axis=0) * 100.0, np.full(3, 100.0))
    model = fit_forward(recipes, np.ones(len(recipes)), bands, view).under(view)
    limits = InkLimits(np.ones(len(letters)), np.ones(len(letters)), min(2.5, len(letters)))
    return model, limits, find_reach(model, tuple(letters), limits, BlackPolicy())


@pytest.mark.usefixtures("coarse_gamut")
@pytest.mark.parametrize(("letters", "hue"), [("K", 0.0), ("K", 0.5), ("OK", 0.8)])
def test_black_alone_or_with_one_ink_is_its_own_neutral(letters, hue):
    """Its hue keeps it from grey; a darkest neutral of L* 80 would be of no use to anyone."""
    rng = np.random.default_rng(0)
    recipes = np.vstack([np.zeros(len(letters)), np.eye(len(letters)), rng.random((30, len(letters)))])
    model, limits, reach = few_readings(letters, recipes, hue)
    assert reach.neutral_l < darkest_patch(model, limits)[0] + 15.0


@pytest.mark.usefixtures("coarse_gamut")
@pytest.mark.parametrize(("letters", "seed"), [("CMYOBK", 0), ("CMYK", 1)])
def test_few_readings_show_no_black_that_was_never_printed(letters, seed):
    """From 40 random patches a model may see greys of L* 14-20. Of 500 the darkest grey of the cloth's hue,
    with these six inks or four, has L* 29.7; lighter than the darkest patch, which is of another hue."""
    rng = np.random.default_rng(seed)
    recipes = rng.random((40, len(letters))) * (rng.random((40, len(letters))) < 0.4)
    recipes[0], recipes[1 : len(letters) + 1] = 0.0, np.eye(len(letters))
    recipes /= np.maximum(recipes.sum(axis=1) / 2.5, 1.0)[:, None]
    model, limits, reach = few_readings(letters, recipes)
    assert darkest_patch(model, limits)[0] - 2.5 < reach.neutral_l < 29.7 + 1.5


@pytest.mark.usefixtures("coarse_gamut")
def test_many_inks_end_at_the_darkest_grey_that_recipes_reach():
    """In tables too, which hold to a smooth field: without a leap of recipes before the end, and as dark as
    the darkest grey of random recipes."""
    rng = np.random.default_rng(1)
    letters, total = "CMYKRO", 1.8
    recipes = rng.random((200, 6)) * (rng.random((200, 6)) < 0.5)
    recipes[:7] = np.vstack([np.zeros(6), np.eye(6)])
    recipes /= np.maximum(recipes.sum(axis=1) / total, 1.0)[:, None]
    bands = invented_press("T1", inks=letters).print(recipes)[:, ::4]
    places = np.linspace(0.0, 1.0, bands.shape[1])[:, None]
    matrix = np.exp(-(((places - [0.75, 0.45, 0.1]) / 0.18) ** 2))
    view = View(matrix / matrix.sum(axis=0) * 100.0, np.full(3, 100.0))
    model = fit_forward(recipes, np.ones(len(recipes)), bands, view).under(view)
    limits = InkLimits(np.ones(6), np.ones(6), total)
    reach = find_reach(model, tuple(letters), limits, BlackPolicy())
    inverse = make_inverse(model, tuple(letters), limits, BlackPolicy(), printed=recipes, nodes=reach.nodes)
    link = Connection(view.white, model.lab(np.zeros((1, 6)))[0])
    greys = np.zeros((81, 3))
    greys[:, 0] = np.linspace(60.0, 20.0, 81)
    aims = link.from_relative(greys)
    darkest = aims[np.flatnonzero(solve(inverse, aims).de00 > 0.25)[0] - 1, 0]
    assert reach.neutral_l < darkest + 1.0
    black = link.from_relative(reach.black_lab[None])
    assert solve(inverse, black).de00[0] <= 0.5
    assert solve(inverse, black, exact=False).de00[0] <= 0.5
    down = link.from_relative(np.linspace(greys[0], reach.black_lab, 81))
    inks = solve(inverse, down, exact=False).inks
    # One ink of little use beneath black leaves within a step.
    assert np.abs(np.diff(inks, axis=0)).max() < 0.11
    tried = model.lab(inverse.limits.random(20000, rng))
    aside = np.abs(tried[:, 1:] - link.from_relative(link.to_relative(tried) * [1, 0, 0])[:, 1:]).max(axis=1)
    assert reach.neutral_l < tried[aside < 0.5, 0].min() + 0.2
    end = inverse.dark_end
    assert limits.legal(end.inks[None])[0]
    assert end.lab[0] < reach.neutral_l + 1.5
    fresh = find_dark_end(inverse.quick, inverse.limits, inverse.seeds, inverse.seed_lab)
    np.testing.assert_allclose(end.inks, fresh.inks, atol=1e-4)


def test_a_light_black_is_not_the_black():
    """In whatever order the inks stand."""
    solids = np.array([[60.0, 0.0, 0.0], [25.0, 0.0, 0.0], [55.0, -35.0, -40.0]])

    class Solids:
        n_inks = 3

        def __init__(self, order):
            self.order = list(order)

        def lab(self, inks):
            return inks @ solids[self.order]

    assert find_black(("k", "K", "C"), Solids((0, 1, 2))) == 1
    assert find_black(("K", "C", "k"), Solids((1, 2, 0))) == 0
    assert find_black(("k", "K", "C"), Solids((0, 1, 2)), np.array([True, False, True])) == 0
