"""Recipes of many inks: neighbours alike, and no better ones overlooked."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from strikeoff.colour.difference import delta_e_2000
from strikeoff.mill.press import invented_press
from strikeoff.model import beyond, inverse, node_solving, recipe_field, ways
from strikeoff.model.black import BlackPolicy
from strikeoff.model.descent import colour_weights, costs, squared_misses
from strikeoff.model.forward import View, fit_forward
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.limits import InkLimits
from strikeoff.model.solved_nodes import solved_nodes
from strikeoff.model.table import InksToLab

NAMES = "CMYKORB"


@pytest.fixture(scope="module")
def made():
    """An inverse of seven inks at 280 %, from 240 simulated readings in nine bands, and its coarse field."""
    rng = np.random.default_rng(4)
    inks = rng.random((240, 7)) * (rng.random((240, 7)) < 0.5)
    inks[:8] = np.vstack([np.zeros(7), np.eye(7)])
    inks /= np.maximum(inks.sum(axis=1) / 2.8, 1.0)[:, None]
    bands = invented_press("T1", inks=NAMES).print(inks)[:, ::4]
    places = np.linspace(0.0, 1.0, bands.shape[1])[:, None]
    matrix = np.exp(-(((places - [0.75, 0.45, 0.1]) / 0.18) ** 2))
    view = View(matrix / matrix.sum(axis=0) * 100.0, np.full(3, 100.0))
    model = fit_forward(inks, np.ones(len(inks)), bands, view).under(view)
    limits = InkLimits(np.ones(7), np.ones(7), 2.8)
    fields = []

    def refine(guide, limits, coarse, *rest):
        fields.append(coarse)
        return recipe_field.refine(guide, limits, coarse, *rest)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(node_solving, "refine", refine)
        whole = make_inverse(model, tuple(NAMES), limits, BlackPolicy())
    (field,) = fields
    return whole, field


@pytest.fixture(scope="module")
def seven(made):
    return made[0]


@pytest.fixture(scope="module")
def coarse(made):
    """The same inverse with a field of half as many nodes along each axis."""
    whole, field = made
    nodes = solved_nodes(field, whole.dark_end)
    return make_inverse(whole.exact, tuple(NAMES), whole.limits, BlackPolicy(), nodes=nodes)


@dataclass(frozen=True)
class Watched:
    """A model that notes how many recipes it is asked for at a time."""

    model: InksToLab
    asked: list[int]

    @property
    def n_inks(self):
        return self.model.n_inks

    def lab(self, inks):
        self.asked.append(len(inks))
        return self.model.lab(inks)

    def jacobian(self, inks):
        self.asked.append(len(inks))
        return self.model.jacobian(inks)


@dataclass(frozen=True)
class Lighter:
    """A model that takes everything for 2 L* lighter."""

    model: InksToLab

    @property
    def n_inks(self):
        return self.model.n_inks

    def lab(self, inks):
        return self.model.lab(inks) + np.array([2.0, 0.0, 0.0])

    def jacobian(self, inks):
        lab, slope = self.model.jacobian(inks)
        return lab + np.array([2.0, 0.0, 0.0]), slope


@dataclass(frozen=True)
class OneChanged:
    """A model on which one ink is not what it was."""

    model: InksToLab
    ink: int

    @property
    def n_inks(self):
        return self.model.n_inks


class Weak(OneChanged):
    """One ink shows a tenth of what it did."""

    def lab(self, inks):
        return self.model.lab(inks * self._parts())

    def jacobian(self, inks):
        lab, slope = self.model.jacobian(inks * self._parts())
        return lab, slope * self._parts()

    def _parts(self):
        return np.where(np.arange(self.n_inks) == self.ink, 0.1, 1.0)


class Flat(OneChanged):
    """Tones of one ink begin flat, as those of dyes do: a half shows a sixteenth."""

    def lab(self, inks):
        return self.model.lab(inks ** self._powers())

    def jacobian(self, inks):
        powers = self._powers()
        lab, slope = self.model.jacobian(inks**powers)
        return lab, slope * (powers * inks ** (powers - 1.0))[:, None]

    def _powers(self):
        return np.where(np.arange(self.n_inks) == self.ink, 4.0, 1.0)


def test_many_colours_are_sought_some_at_a_time(seven, monkeypatch):
    """Memory grows with what is sought at a time, and a link has 100,000 nodes; recipes are the same."""
    lab = seven.quick.lab(seven.limits.random(300, np.random.default_rng(2)))
    at_once = solve(seven, lab, exact=False)
    monkeypatch.setattr(inverse, "_BATCH", 64)
    watched, told = Watched(seven.quick, []), []
    found = solve(replace(seven, quick=watched), lab, exact=False, step=told.append)
    assert max(watched.asked) <= 64
    np.testing.assert_allclose(told, np.arange(0, 300, 64) / 300)
    np.testing.assert_allclose(found.inks, at_once.inks, atol=1e-9)
    np.testing.assert_allclose(found.lab, at_once.lab, atol=1e-9)


def test_the_mean_of_neighbours_has_the_colour_between(seven):
    """What a table does between two nodes, for colours in gamut that are about 2.5 CIEDE2000 apart.

    The bound of mean and 99th percentile is that of links; common practice, no source.
    """
    rng = np.random.default_rng(1)
    middle = seven.quick.lab(seven.limits.random(600, rng) * rng.random((600, 1)) ** 0.3)
    way = rng.standard_normal((600, 3))
    way *= 1.25 / np.linalg.norm(np.einsum("mij,mj->mi", colour_weights(middle), way), axis=1)[:, None]
    ends = [solve(seven, middle + side * way, exact=False).inks for side in (-1.0, 1.0)]
    between = solve(seven, middle, exact=False)
    error = delta_e_2000(seven.exact.lab(0.5 * (ends[0] + ends[1])), seven.exact.lab(between.inks))
    assert error.mean() <= 0.15
    assert np.quantile(error, 0.99) <= 0.8


def test_colours_that_inks_at_the_limit_made_are_matched(seven):
    """Corners of the legal recipes and mixtures of two are in gamut by construction."""
    rng = np.random.default_rng(2)
    corners = seven.limits.corners()
    pairs = rng.integers(0, len(corners), (2, 400))
    share = rng.random((400, 1))
    inks = share * corners[pairs[0]] + (1.0 - share) * corners[pairs[1]]
    found = solve(seven, seven.exact.lab(inks), exact=False)
    assert seven.limits.legal(found.inks).all()
    assert found.de00.mean() <= 0.2
    assert np.quantile(found.de00, 0.9) <= 0.4


def test_a_finer_field_misses_less_at_the_edge(seven, coarse, monkeypatch):
    """Mixtures of two corners, in gamut by construction, as a table asks for them, without second tries."""
    monkeypatch.setattr(beyond, "_MISSED", (9.0, 9.0))
    rng = np.random.default_rng(5)
    corners = seven.limits.corners()
    first, second = rng.integers(0, len(corners), (2, 400))
    share = rng.random((400, 1))
    lab = seven.exact.lab(share * corners[first] + (1.0 - share) * corners[second])
    missed = [solve(made, lab, exact=False).de00.mean() for made in (seven, coarse)]
    assert missed[0] < 0.9 * missed[1]


def test_a_closer_recipe_is_worth_its_distance(seven, monkeypatch):
    """From any legal start the way back is to the start where it meets the colour, not to the closest.

    Without a price of distance recipes go farther, for colours that are met as well.
    """
    rng = np.random.default_rng(7)
    inks = seven.limits.random(60, rng)
    lab = seven.exact.lab(inks)
    kept, _, error = ways.alike(seven, seven.exact, lab, inks)
    np.testing.assert_array_equal(kept, inks)
    assert error.max() == 0.0
    other = seven.limits.pulled_in(np.clip(inks + rng.normal(0.0, 0.05, inks.shape), 0.0, 1.0))
    back, reached, error = ways.alike(seven, seven.exact, lab, other)
    assert seven.limits.legal(back).all()
    np.testing.assert_allclose(error, delta_e_2000(lab, reached), atol=1e-9)
    assert (error <= delta_e_2000(lab, seven.exact.lab(other)) + 1e-9).all()
    assert np.quantile(error, 0.9) <= 0.25
    monkeypatch.setattr(ways, "_FAMILY", (0.0, 0.0))
    free = ways.alike(seven, seven.exact, lab, other)[0]
    gone = [((recipe - other) ** 2).sum(axis=1).mean() for recipe in (back, free)]
    assert gone[0] < 0.75 * gone[1]


def test_distance_never_outweighs_a_colour_in_gamut(seven, monkeypatch):
    """However much distance counts, a quarter of a CIEDE2000 is the most that it costs there."""
    rng = np.random.default_rng(9)
    lab = seven.exact.lab(seven.limits.random(60, rng))
    astray = seven.limits.random(60, rng)
    monkeypatch.setattr(ways, "_FAMILY", (1e3, 0.6))
    _, reached, error = ways.alike(seven, seven.exact, lab, astray)
    assert np.median(delta_e_2000(lab, seven.exact.lab(astray))) > 5.0
    np.testing.assert_allclose(error, delta_e_2000(lab, reached), atol=1e-9)
    assert error.max() <= 0.25 + 0.1


def test_recipes_beyond_the_gamut_change_less(seven, monkeypatch):
    """Around a circle of dark colours that no ink reaches: less change of ink, for little colour."""
    turn = np.linspace(0.0, 2.0 * np.pi, 361)
    lab = np.stack([np.full(361, 12.0), 12.0 * np.cos(turn), 12.0 * np.sin(turn)], axis=1)
    held, told = (solve(seven, lab, exact=False, beyond=np.full(361, far)) for far in (0.0, 1.0))
    monkeypatch.setattr(inverse, "_HELD_WEIGHT", 0.0)
    free = solve(seven, lab, exact=False)
    change = [np.abs(np.diff(found.inks, axis=0)).sum() for found in (free, held, told)]
    assert seven.limits.legal(told.inks).all()
    assert change[1] < 0.8 * change[0]
    assert change[2] < 0.8 * change[0]
    assert max(held.de00.mean(), told.de00.mean()) < free.de00.mean() + 1.0


def test_the_field_is_read_where_it_misses_least(seven):
    """Colours that mixtures of two corners made: read in place its blur misses, read all the way out too."""
    rng = np.random.default_rng(12)
    corners = seven.limits.corners()
    first, second = rng.integers(0, len(corners), (2, 400))
    share = rng.random((400, 1))
    lab = seven.guide.lab(share * corners[first] + (1.0 - share) * corners[second])

    def miss(place):
        return np.sqrt(squared_misses(lab, seven.guide.lab(seven.field.at(place))))

    out = lab - seven.guide.lab(seven.field.at(lab))
    length = np.linalg.norm(out, axis=1, keepdims=True)
    farthest = lab + out * np.minimum(14.0 / length, 1.0)
    read = seven.field.sharp(seven.guide, lab)
    assert miss(read).mean() < 0.97 * min(miss(lab).mean(), miss(farthest).mean())
    assert (miss(read) < np.minimum(miss(lab), miss(farthest)) + 0.3).all()


def test_ways_held_to_the_field_cost_least_from_several_starts(seven, monkeypatch):
    """None costs more than from the field alone, colours in gamut stay as they are, and some cost less."""
    turn = np.linspace(0.0, 2.0 * np.pi, 181)
    far = np.stack([np.full(181, 20.0), 40.0 * np.cos(turn), 40.0 * np.sin(turn)], axis=1)
    lab = np.vstack([far, seven.guide.lab(seven.limits.random(100, np.random.default_rng(13)) * 0.5)])
    start, aims = ways.aims_for(seven, lab)
    held, miss, firm = beyond.held_way(seven, lab, start, aims)
    monkeypatch.setattr(beyond, "_cheapest_seeds", lambda *goal: [])
    alone, alone_miss, _ = beyond.held_way(seven, lab, start, aims)

    def cost(inks):
        return costs(seven.limits, lab, seven.guide.lab(inks), inks, 20.0 * firm, aims)

    assert seven.limits.legal(held).all()
    assert (cost(held) <= cost(alone) + 1e-9).all()
    assert (cost(held)[:181] < cost(alone)[:181] - 1.0).any()
    inside = alone_miss == 0.0
    assert inside[181:].mean() > 0.5
    np.testing.assert_array_equal(held[inside], alone[inside])
    np.testing.assert_allclose(
        miss, np.maximum(np.sqrt(squared_misses(lab, seven.guide.lab(held))) - 0.1, 0.0), atol=1e-12
    )


def test_inks_that_hardly_show_are_held_less_where_colours_are_light(seven, monkeypatch):
    """Yellow on a full orange has far to go for the last of a colour; in the dark hardly any ink shows."""
    rng = np.random.default_rng(8)
    inks = seven.limits.pulled_in(np.round(rng.random((600, 7)) * 1.4) * (rng.random((600, 7)) < 0.4))
    inks[:, 2] = 1.0
    weak = replace(seven, guide=Weak(seven.guide, 2))
    lab = weak.guide.lab(inks)
    start, aims = ways.aims_for(weak, lab)
    _, missed, firm = beyond.held_way(weak, lab, start, aims)
    slope = weak.guide.jacobian(start)[1]
    shown = np.stack([squared_misses(lab, lab + slope[:, :, k]) for k in range(7)], axis=1)
    part = np.sqrt(shown / shown.max(axis=1, keepdims=True))
    light, dark = lab[:, 0] > 60.0, lab[:, 0] < 40.0
    assert light.sum() > 10
    assert dark.sum() > 10
    np.testing.assert_array_equal(firm[dark], 1.0)
    np.testing.assert_array_equal(firm[part >= 0.2], 1.0)
    hardly = light[:, None] & (part < 0.2)
    assert hardly[:, 2].sum() > 10
    np.testing.assert_allclose(firm[hardly], np.maximum((part[hardly] / 0.2) ** 2, 0.05), rtol=1e-9)
    monkeypatch.setattr(beyond, "_LEAST_FIRM", (1.0, 1.0))
    firmly = beyond.held_way(weak, lab, start, aims)[1]
    assert missed[light].mean() < 0.8 * firmly[light].mean()
    np.testing.assert_array_equal(missed[dark], firmly[dark])


def test_the_last_of_a_colour_is_sought_with_much_of_an_ink_that_hardly_shows(seven):
    """Solid orange with more and more yellow, begun from orange alone, where yellow has no slope."""
    model = Flat(seven.quick, 2)
    flat = replace(seven, guide=Flat(seven.guide, 2), quick=model)
    orange = np.tile(np.eye(7)[4], (41, 1))
    wanted = orange.copy()
    wanted[:, 2] = np.linspace(0.0, 1.0, 41)
    lab, wishes = model.lab(wanted), ways.field_wishes(flat, 41)
    firm = np.ones((41, 7))
    firm[:, 2] = 0.05
    way = (model, lab, orange)
    stuck = ways.approach(flat, *way, orange, wishes, 40)
    before = delta_e_2000(lab, model.lab(stuck))
    missed = (before > 0.25) & (before < 3.0)
    assert missed.sum() > 5
    found, colour = beyond.with_weak_inks(flat, model, lab, stuck, wishes, orange, firm)
    np.testing.assert_array_equal(colour, model.lab(found))
    assert delta_e_2000(lab, colour)[missed].max() < 0.2
    np.testing.assert_array_equal(found[~missed], stuck[~missed])
    assert flat.limits.legal(found).all()
    held, _ = beyond.with_weak_inks(flat, model, lab, stuck, wishes, orange, np.ones((41, 7)))
    np.testing.assert_array_equal(held, stuck)


@pytest.fixture(scope="module")
def edge_ways(seven):
    """Mixtures of two corners, the recipes held to the field for them, and their Lab, wishes and aims."""
    rng = np.random.default_rng(6)
    corners = seven.limits.corners()
    first, second = rng.integers(0, len(corners), (2, 800))
    share = rng.random((800, 1))
    lab = seven.quick.lab(seven.limits.parted(share * corners[first] + (1.0 - share) * corners[second]))
    start, aims = ways.aims_for(seven, lab)
    there = beyond.held_way(seven, lab, start, aims)[0]
    return lab, there, (seven.quick.lab(there), ways.table_wishes(seven, lab, start), aims)


def test_colours_in_gamut_are_let_go_by_the_field(seven, edge_ways, monkeypatch):
    """What is missed by one or more is met, what is missed by less the less so, and far fewer are missed."""
    lab, there, way = edge_ways
    colour = way[0]
    found, reached, aimed = beyond.let_go(seven, seven.quick, lab, there, *way, np.ones(800))
    np.testing.assert_array_equal(reached, seven.quick.lab(found))
    assert seven.limits.legal(found).all()
    before, after = delta_e_2000(lab, colour), delta_e_2000(lab, reached)
    taken = (found != there).any(axis=1)
    assert taken.sum() > 20
    assert ((before > 0.3) & (before < 2.2) & (after < before))[taken].all()
    full = taken & (before > 1.0) & (before < 1.5)
    assert full.sum() > 3
    assert np.quantile(after[full], 0.8) < 0.3
    # Between 0.3 and 1 it is missed by so much that the colours leap nowhere: at most by 0.36.
    between = taken & (before < 1.0)
    assert between.sum() > 10
    left = before * (1.0 - (before - 0.3) / 0.7)
    np.testing.assert_allclose(delta_e_2000(lab, aimed)[between], left[between], atol=0.05)
    np.testing.assert_allclose(delta_e_2000(aimed, reached)[between], 0.0, atol=0.25)
    with_it = solve(seven, lab, exact=False).de00
    monkeypatch.setattr(beyond, "_MET", 0.0)
    without = solve(seven, lab, exact=False).de00
    assert (with_it > 0.5).sum() < 0.6 * (without > 0.5).sum()


def test_colours_are_let_go_no_more_than_they_may_be(seven, edge_ways):
    """Not at all, or so far that they come nearer to what is held."""
    lab, there, way = edge_ways
    held, _, aimed = beyond.let_go(seven, seven.quick, lab, there, *way, np.zeros(800))
    np.testing.assert_array_equal(held, there)
    np.testing.assert_array_equal(aimed, lab)
    full = beyond.let_go(seven, seven.quick, lab, there, *way, np.ones(800))
    half = beyond.let_go(seven, seven.quick, lab, there, *way, np.full(800, 0.5))
    both = (full[0] != there).any(axis=1) & (half[0] != there).any(axis=1)
    assert both.sum() > 5
    assert (delta_e_2000(way[0], half[2]) < delta_e_2000(way[0], full[2]))[both].all()


def test_recipes_do_not_jump_across_the_edge(seven, monkeypatch):
    """From grey through the edge of the gamut far beyond, in steps of 0.6: families change less at once."""
    turn = np.radians(np.arange(0, 360, 15))[:, None, None]
    chroma = np.linspace(0.0, 120.0, 201)[None, :, None]
    ramps = np.concatenate(
        [np.full((24, 201, 1), 45.0), chroma * np.cos(turn), chroma * np.sin(turn)], axis=2
    )
    jumps, steps = [], []
    for weight in (inverse._HELD_WEIGHT, 0.0):
        monkeypatch.setattr(inverse, "_HELD_WEIGHT", weight)
        found = solve(seven, ramps.reshape(-1, 3), exact=False)
        change = np.abs(np.diff(found.inks.reshape(24, 201, 7), axis=1)).sum(axis=2)
        jumps.append(change.max(axis=1))
        lab = found.lab.reshape(24, 201, 3)
        steps.append(delta_e_2000(lab[:, :-1], lab[:, 1:]).max(axis=1))
    assert jumps[0].sum() < 0.7 * jumps[1].sum()
    assert steps[0].max() < 0.5 * steps[1].max()


def test_ramps_to_solids_arrive_without_a_jump(seven):
    """A solid's colour is also made by others; the solid itself is given back exactly."""
    solids = seven.pure[seven.pure.any(axis=1)]
    cloth, ends = seven.exact.lab(np.zeros((1, 7))), seven.exact.lab(solids)
    ramps = cloth + np.linspace(0.0, 1.0, 81)[None, :, None] * (ends - cloth)[:, None]
    found = solve(seven, ramps.reshape(-1, 3), exact=False).inks.reshape(len(ends), 81, 7)
    np.testing.assert_array_equal(found[:, -1], solids)
    assert np.abs(np.diff(found, axis=1)).sum(axis=2).max() < 0.5


def test_corners_are_legal_and_full(seven):
    """Of three inks with a total of 1.5: white, three solids, and a solid with half of another."""
    limits = InkLimits(np.ones(3), np.ones(3), 1.5)
    found = {tuple(corner) for corner in limits.corners()}
    solids = {tuple(row) for row in np.eye(3)}
    halves = {tuple(full + 0.5 * half) for full in np.eye(3) for half in np.eye(3) if full @ half == 0.0}
    assert found == {(0.0, 0.0, 0.0)} | solids | halves
    assert seven.limits.legal(seven.limits.corners()).all()


def test_what_few_steps_leave_off_is_put_right(seven, monkeypatch):
    """Where tones rise steeply from the cloth the usual steps do not arrive: here there is one alone."""
    monkeypatch.setattr(ways, "_LAST_OF_MANY", 1)
    rng = np.random.default_rng(3)
    pale = seven.exact.lab(seven.limits.random(300, rng) * rng.random((300, 1)) * 0.05)
    assert pale[:, 0].min() > pale[:, 0].max() - 15.0
    found = solve(seven, pale, exact=False)
    assert np.quantile(found.de00, 0.99) <= 0.1


def test_what_the_guide_leads_astray_is_put_right(seven, monkeypatch):
    """Corners and mixtures of two, in gamut, as tables seek them by a guide that is 2 L* too light."""
    monkeypatch.setattr(ways, "_LAST_OF_MANY", 1)
    monkeypatch.setattr(beyond, "_MISSED", (9.0, 9.0))
    misled = replace(seven, guide=Lighter(seven.guide))
    rng = np.random.default_rng(6)
    corners = seven.limits.corners()
    first, second = rng.integers(0, len(corners), (2, 300))
    share = rng.random((300, 1))
    lab = seven.exact.lab(share * corners[first] + (1.0 - share) * corners[second])
    found = solve(misled, lab, exact=False)
    assert seven.limits.legal(found.inks).all()
    monkeypatch.setattr(inverse, "_LATE", 0.0)
    astray = solve(misled, lab, exact=False)
    assert found.de00.mean() < 0.8 * astray.de00.mean()


def test_recipes_hold_few_inks(seven, coarse, monkeypatch):
    """Charts' patches hold two to five, and what was printed so is known best. Common practice, no source."""
    rng = np.random.default_rng(6)
    wanted = seven.exact.lab(seven.limits.random(300, rng) * (rng.random((300, 7)) < 0.4))
    few = solve(coarse, wanted, exact=False)
    monkeypatch.setattr(node_solving, "refine", lambda guide, limits, coarse, *rest: coarse)
    monkeypatch.setattr(node_solving, "_PRICE", 0.0)
    monkeypatch.setattr(ways, "_LESS", 0.0)
    free = make_inverse(seven.exact, tuple(NAMES), seven.limits, BlackPolicy())
    many = solve(free, wanted, exact=False)
    held = [(found.inks > 0.01).sum(axis=1).mean() for found in (few, many)]
    assert held[0] < held[1] - 0.5
    assert few.inks.sum(axis=1).mean() < many.inks.sum(axis=1).mean()
    assert few.de00.mean() <= many.de00.mean() + 0.01


def test_colours_beyond_the_gamut_get_the_closest_recipe(seven):
    """Single colours far outside: of 60,000 random legal recipes, half of them corners, hardly one is closer.

    By the weights of CIE 142 and CIE 116 about the colour that is wanted, hue first. Whatever the field
    leads to: here it is left with one recipe of the dark for all.
    """
    dark = seven.field.inks.reshape(-1, 7)[seven.field.inks.sum(axis=3).argmax()]
    misled = replace(seven, field=replace(seven.field, inks=np.broadcast_to(dark, seven.field.inks.shape)))
    rng = np.random.default_rng(8)
    lab = np.column_stack([rng.uniform(15, 85, 120), rng.uniform(-100, 100, (120, 2))])
    found = solve(misled, lab)
    beyond = found.de00 > 3.0
    assert beyond.sum() > 60
    tried = seven.limits.random(60_000, rng)
    tried[::2] = seven.limits.pulled_in(np.round(tried[::2]))
    made = seven.exact.lab(tried)
    weigh = colour_weights(lab[beyond])
    off = (np.linalg.norm((made - c) @ w.T, axis=1) for c, w in zip(lab[beyond], weigh, strict=True))
    least = np.array([one.min() for one in off])
    mine = np.linalg.norm(np.einsum("mij,mj->mi", weigh, found.lab[beyond] - lab[beyond]), axis=1)
    behind = mine - least
    assert behind.max() < 1.5
    assert np.mean(behind > 0.3) < 0.05
