"""The figures that the report of a condition leads with are those of the condition."""

import re

import numpy as np
import pytest

from strikeoff.chart.patch_sets import plain_limits
from strikeoff.chart.space_filling import legal_points
from strikeoff.model.error_bars import covered_radius
from strikeoff.qualify.next_patches import expected_error, usual_words
from strikeoff.workbench.condition_summary import summary_section
from strikeoff.workbench.condition_told import describe


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


def test_figures_of_many_inks_are_of_recipes_as_charts_hold_them():
    points = legal_points(500, plain_limits(8, 3.0), seed=2)
    assert f"to {(points > 0).sum(axis=1).max()} inks" in usual_words(8)
