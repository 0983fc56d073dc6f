"""Total ink: where overprints stop growing is known in closed form for colours that saturate.

The rule itself is common practice, no source.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.qualify.total_ink import TotalRule, find_ladders, find_total

CLOTH = np.array([94.0, 0.0, 2.0])
NAMES = ("C", "M", "Y", "K")


def saturating(total, rate, deep=15.0):
    """L* that falls from the cloth's to ``deep`` as a reaction of first order would."""
    fall = np.exp(-rate * np.asarray(total))
    return np.stack([deep + (94.0 - deep) * fall, 0.0 * fall, 2.0 * fall], axis=-1)


def ladder(mix, rate, count=16, last=None, deep=15.0):
    mix = np.asarray(mix, float)
    steps = np.linspace(0.2, 1.0 if last is None else last / mix.sum(), count)
    recipes = steps[:, None] * mix
    return recipes, recipes.sum(axis=1), saturating(recipes.sum(axis=1), rate, deep)


def put_together(*parts):
    recipes, load, lab = (np.concatenate(each) for each in zip(*parts, strict=True))
    return find_ladders(NAMES, recipes, load, lab)


@pytest.mark.parametrize("rate", [1.0, 1.4, 2.0])
def test_end_of_growth_is_where_the_closed_form_says(rate):
    """From readings without noise, within 2 % of ink; the crossing by bisection on the true course."""
    found = find_total(put_together(ladder([1, 1, 1, 1], rate)), CLOTH)
    low, high = 0.5, 4.0
    for _ in range(60):
        middle = (low + high) / 2
        gain = float(delta_e_2000(saturating(middle, rate), saturating(middle + 0.1, rate)))
        low, high = (middle, high) if gain >= 0.5 else (low, middle)
    assert found.total == pytest.approx(low, abs=0.02)
    assert found.inks == NAMES
    assert not found.limits[0].is_open


def test_noise_is_told_in_the_radius():
    rng = np.random.default_rng(5)
    truth = find_total(put_together(ladder([1, 1, 1, 1], 1.4)), CLOTH).total
    misses, radii = [], []
    for _ in range(20):
        recipes, load, lab = ladder([1, 1, 1, 1], 1.4)
        found = find_total(
            find_ladders(NAMES, recipes, load, lab + 0.3 * rng.standard_normal(lab.shape)), CLOTH
        )
        misses.append(abs(found.total - truth))
        radii.append(found.u90)
    assert np.mean(np.array(misses) <= np.array(radii)) >= 0.75
    assert 0.02 < np.median(radii) < 0.5


def test_a_pair_that_has_enough_does_not_hold_back_the_others():
    found = find_total(put_together(ladder([1, 1, 0, 0], 4.0), ladder([1, 1, 1, 1], 1.4)), CLOTH)
    pair, all_four = found.limits
    assert pair.useful < 1.5 < all_four.useful
    assert found.total == pytest.approx(all_four.useful, abs=1e-3)
    assert found.inks == NAMES


def test_lines_that_run_hold_all_back():
    ladders = put_together(ladder([1, 1, 0, 0], 3.0), ladder([1, 1, 1, 1], 1.0))
    first = ladders[0]
    # Edges move 0.02 mm up to 150 % and 0.2 mm more per 100 % beyond, so 0.1 mm more at 200 % of ink.
    grown = {
        row: 0.02 + 0.2 * max(0.0, total - 1.5)
        for part in ladders
        for row, total in zip(part.rows, part.total, strict=True)
    }
    found = find_total(ladders, CLOTH, None, grown)
    assert found.total == pytest.approx(2.0, abs=0.01)
    assert "lines" in found.reason
    assert find_total(ladders, CLOTH, TotalRule(growth_mm=0.9), grown).reason.startswith("no colour")
    # Lines measured at a pair alone hold the whole back too.
    of_pair = {row: 0.3 * (k > 7) for k, row in enumerate(first.rows)}
    assert find_total(ladders, CLOTH, None, of_pair).inks == ("C", "M")


def test_colour_that_turns_back_has_not_grown():
    """Bronzing: beyond 200 % the overprint gets lighter again, by as much as it had got darker."""
    recipes, load, _ = ladder([1, 1, 1, 1], 1.0)
    lab = np.stack([20.0 + 25.0 * np.abs(load - 2.0), 0 * load, 0 * load], axis=-1)
    found = find_total(find_ladders(NAMES, recipes, load, lab), CLOTH)
    assert found.total == pytest.approx(2.0, abs=0.2)


def test_growth_up_to_the_end_is_told():
    found = find_total(put_together(ladder([1, 1, 1, 1], 0.3)), CLOTH)
    assert found.limits[0].is_open
    assert found.total == 4.0
    assert found.reason == "colour grows up to full tone"
    short = find_total(put_together(ladder([1, 1, 1, 1], 0.3, last=2.0)), CLOTH)
    assert short.total == 2.0
    assert short.reason == "colour grows up to the last step"


def test_ladders_are_of_one_proportion():
    steps = np.linspace(0.1, 1.0, 6)[:, None]
    recipes = np.vstack([np.zeros(4), steps * [1, 1, 0, 0], steps * [1, 0.5, 0, 0], steps * [0, 0, 0, 1]])
    found = find_ladders(NAMES, recipes, recipes.sum(axis=1), np.zeros((len(recipes), 3)))
    assert [part.inks for part in found] == [("C", "M"), ("C", "M")]
    assert sorted(part.total[-1] for part in found) == pytest.approx([1.5, 2.0])
    with pytest.raises(InputError, match="no combination"):
        find_total([], CLOTH)


@settings(max_examples=8, deadline=None)
@given(st.permutations(range(17)), st.floats(1.05, 3.0))
def test_order_of_rows_and_weights_do_not_matter(order, heavier):
    """Rows may come as they like; where all inks weigh more, the limit in their load grows alike."""
    recipes, load, lab = ladder([1, 1, 1, 1], 1.4, count=17)
    plain = find_total(find_ladders(NAMES, recipes, load, lab), CLOTH)
    order = np.array(order)
    mixed = find_total(find_ladders(NAMES, recipes[order], load[order], lab[order]), CLOTH)
    assert mixed.total == plain.total
    weighty = find_ladders(NAMES, recipes, heavier * load, lab)
    rule = TotalRule(least_gain_de00=0.5 / heavier)
    assert find_total(weighty, CLOTH, rule).total == pytest.approx(heavier * plain.total, rel=0.05)
