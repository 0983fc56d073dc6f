"""What the report of an older condition tells of today stands apart from what was noticed at its making."""

from dataclasses import replace

from strikeoff.base.problems import Problem
from strikeoff.condition.recipe_rules import RECIPE_RULES, rules_problems
from strikeoff.workbench.condition_tables import validity_section


def test_what_has_changed_since_was_not_noticed_while_it_was_made(small_readings):
    since = rules_problems(RECIPE_RULES + 1)
    problems = (Problem("note", "file", "harmless"), *since)
    older = replace(small_readings.condition, recipe_rules=RECIPE_RULES + 1, problems=problems)
    html = validity_section(older, "sha256:0").html
    order = ["Noticed while it was made", "harmless", "Different today", "sought by other rules"]
    assert sorted(order, key=html.index) == order
    assert html.count("sought by other rules") == 1
