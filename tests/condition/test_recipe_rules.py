"""Recipes of a given model stay what they were as long as the rules keep their number."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.links import artwork_table
from strikeoff.condition.recipe_rules import RECIPE_RULES, rules_problems
from strikeoff.condition.record import Condition, make_view
from strikeoff.condition.rendering import render
from strikeoff.condition.standing import recipe_problems, standing_problems
from strikeoff.inks.spaces import identity_spaces
from strikeoff.measurement.records import Setup
from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press
from strikeoff.model.black import BlackPolicy
from strikeoff.model.covariance import Kernel
from strikeoff.model.forward import ForwardModel
from strikeoff.model.inverse import solve
from strikeoff.model.limits import InkLimits
from strikeoff.model.neugebauer import DEGREE, AreaCoverageModel
from strikeoff.qualify.reach import find_reach

GOLD = Path(__file__).with_name("recipes_by_rules.json")
#: Share of an ink by which sums in another order may move a recipe, and the few near a choice of two.
SLACK, MOST, FEW = 0.003, 0.02, 0.03
INKS = ("CMYK", "CMYKOB")


def stated(inks):
    """A condition whose model is stated, not fitted, so that only the rules make its recipes."""
    press, count = invented_press("T1", inks=inks), len(inks)
    rng = np.random.default_rng(3)
    corners = np.array([[i >> k & 1 for k in range(count)] for i in range(2**count)], float)
    recipes = np.vstack([corners, rng.random((184, count)) ** 1.5])
    spectra = press.print(recipes)
    steps = np.full((count, DEGREE), 1.0 / DEGREE)
    physics = AreaCoverageModel(steps, spectra[: len(corners)] ** 0.5, 2.0)
    kernel = Kernel(np.full(count, 1.5), 1e-4, fine_variance=1e-3)
    forward = ForwardModel(recipes, np.ones(len(recipes)), spectra, kernel, kernel, physics)
    native = forward.under(make_view("D50", "2", WAVELENGTHS_NM))
    limits = InkLimits(np.ones(count), np.ones(count), 2.6)
    reach = find_reach(native, tuple(inks), limits, BlackPolicy())
    condition = Condition(
        name="stated",
        ink_columns=ink_columns(inks),
        setup=Setup(illuminant="D50", observer="2"),
        wavelengths_nm=WAVELENGTHS_NM,
        limits=limits,
        policy=reach.policy,
        spaces=identity_spaces(tuple(inks), 2.6),
        forward=forward,
        native=native,
        table=reach.table,
        boundary=reach.boundary,
        black_lab=reach.black_lab,
        validation=None,
        readings=b"stated",
        readings_name="stated",
        readings_digest=digest_bytes(b"stated"),
        label="simulated",
    )
    return condition.keeping(reach.nodes)


def made(condition):
    """Recipes of absolute colours, within the gamut and beyond, of a perceptual link, and of darks."""
    axes = (np.linspace(12, 92, 6), np.linspace(-60, 60, 4), np.linspace(-60, 60, 4))
    lab = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    matched = solve(condition.inverse, lab).inks

    def as_lab(values):
        return np.column_stack([values[:, 0] * 100, *(160 * values[:, k : k + 1] - 80 for k in (1, 2))])

    table = artwork_table(condition, "lab", as_lab, "perceptual", size=5)
    darks = np.linspace([0.0, 0.0, 0.0], [36.0, 0.0, 0.0], 37)
    return {
        "matched": matched,
        "linked": table.nodes.reshape(-1, condition.n_inks) / 65535.0,
        "darks": render(condition, darks, "relative").inks,
    }


@pytest.mark.parametrize("inks", INKS)
def test_recipes_are_those_of_the_rules(inks):
    kept = json.loads(GOLD.read_text())
    assert kept["recipe_rules"] == RECIPE_RULES, "write recipes_by_rules.json anew"
    for name, recipes in made(stated(inks)).items():
        gap = np.abs(recipes - np.array(kept[inks][name]) / 1e4).max(axis=1)
        assert (gap > SLACK).mean() <= FEW, (
            f"{(gap > SLACK).sum()} of {len(gap)} {name} recipes are not what they were, by up to "
            f"{100 * gap.max():.1f} % of an ink: raise RECIPE_RULES and write recipes_by_rules.json anew"
        )
        assert gap.max() <= MOST, "raise RECIPE_RULES and write recipes_by_rules.json anew"


def test_rules_are_kept_and_differing_ones_are_told(small_readings, tmp_path):
    path = tmp_path / "old.cond"
    write_condition(path, replace(small_readings.condition, recipe_rules=RECIPE_RULES + 6))
    kept, _ = read_condition(path)
    assert kept.recipe_rules == RECIPE_RULES + 6
    (problem,) = rules_problems(kept.recipe_rules)
    assert problem.severity == "warning"
    assert f"rules {RECIPE_RULES + 6}" in str(problem)
    assert "strike-off" in str(problem)
    assert rules_problems(RECIPE_RULES) == ()
    # What makes recipes says it in a line and where the rest stands; who looks at the condition gets it all.
    assert standing_problems(kept) == (problem,)
    (line,) = recipe_problems(kept)
    assert (line.severity, line.found, line.expected) == ("warning", problem.found, problem.expected)
    assert "`condition show`" in str(line)
    assert len(str(line)) < len(str(problem)) / 2
    assert recipe_problems(small_readings.condition) == standing_problems(small_readings.condition) == ()


@pytest.mark.parametrize("rules", ["1", -1, True, 1.5, None])
def test_rules_are_whole_numbers(small_readings, tmp_path, rules):
    path = tmp_path / "bad.cond"
    write_condition(path, replace(small_readings.condition, recipe_rules=rules))
    with pytest.raises(InputError, match="damaged"):
        read_condition(path)


if __name__ == "__main__":
    anew = {
        inks: {name: np.round(rows * 1e4).astype(int).tolist() for name, rows in made(stated(inks)).items()}
        for inks in INKS
    }
    GOLD.write_text(json.dumps({"recipe_rules": RECIPE_RULES} | anew, separators=(",", ":")) + "\n")
