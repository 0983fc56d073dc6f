"""The figures that the report of a condition leads with are those of the condition."""

import re
from dataclasses import replace

import numpy as np
import pytest

from strikeoff.chart.patch_sets import plain_limits
from strikeoff.chart.space_filling import legal_points
from strikeoff.model.error_bars import covered_radius
from strikeoff.qualify.next_patches import expected_error, usual_words
from strikeoff.workbench.condition_figures import error_section
from strikeoff.workbench.condition_summary import summary_section
from strikeoff.workbench.condition_told import describe, summary


def test_the_main_figures_are_those_of_the_condition(small_readings):
    condition = small_readings.condition
    html = summary_section(condition, 123456.7).html
    figures = condition.validation.figure("all")
    for words in (f"{figures.mean:.2f} CIEDE2000", f"{figures.percentile_95:.2f} CIEDE2000", "123,457 cubic"):
        assert words in html, words
    assert f"{expected_error(condition):.2f} CIEDE2000" in html
    # Not that of the patches that were read, which says nothing of colours between them: half of them hold
    # two of the three inks.
    limits = condition.recipe_limits
    rng = np.random.default_rng(1)
    recipes = rng.random((4000, 3)) * limits.per_ink
    recipes[np.arange(2000), rng.integers(0, 3, 2000)] = 0.0
    recipes = recipes[limits.legal(recipes)]
    scale = condition.validation.radius_scale
    radius = covered_radius(condition.forward, condition.native, recipes, scale).mean()
    of = f"90 % radius, mean, {usual_words(3)}"
    assert of.endswith("legal recipes of 2 to 3 inks")
    told = re.search(f"{of}.*?([0-9.]+) CIEDE2000", html, re.DOTALL)
    assert float(told[1]) == pytest.approx(radius, rel=0.3)
    assert "Open, to be settled" in html


def test_why_held_out_errors_are_far_larger_than_expected_ones_is_told(small_readings):
    """One patch holds a corner of many inks, and without it the model can only extrapolate."""
    condition = small_readings.condition
    held_out = condition.validation.figure("all").mean
    for expected, far in ((held_out / 1.5, False), (held_out / 3.0, True)):
        (line,) = [text for text in describe(condition, "sha256:0", expected) if "expected mean" in text]
        assert line.startswith(f"expected mean error over {usual_words(3)} {expected:.2f}, from the radii")
        assert line.endswith("err more where no other patch holds their inks together") == far


def test_what_the_group_of_much_ink_counts_is_told(small_readings):
    """A limit that counts inks by what they lay down may stay below sums of inks that count alike."""
    condition = small_readings.condition
    read = int((condition.forward.recipes.sum(axis=1) > 2.5).sum())
    assert read > 1
    limits = condition.limits
    light = replace(limits, weights=np.array([0.5, 0.6, 0.7]), total=2.0)
    for of, words in (
        (
            light,
            f"limit of 200 % counts each ink by what it lays down, so sums may pass its figure; {read} of",
        ),
        (
            limits,
            f"as in the total ink limit of 250 %; none of {read} recipes read there keeps it, so no job",
        ),
    ):
        changed = replace(condition, limits=of)
        lines = describe(changed, "sha256:0", None)
        assert any(line.startswith("  ink sums over 250 %  ") for line in lines)
        assert not any("totals over" in line for line in lines)
        (line,) = [line for line in lines if line.startswith("ink sums over 250 %: all inks of a recipe")]
        assert words in line
        assert line[1:] in error_section(changed).html.replace("\n", " ")
    # Files and results keep their key.
    assert "totals over 250 %" in {row["group"] for row in summary(condition, "sha256:0")["held_out"]}


def test_figures_of_many_inks_are_of_recipes_as_charts_hold_them():
    points = legal_points(500, plain_limits(8, 3.0), seed=2)
    assert f"to {(points > 0).sum(axis=1).max()} inks" in usual_words(8)
