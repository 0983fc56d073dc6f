"""By which rules colours become inks, so that goods of a year ago are not re-made differently unawares.

A condition keeps its readings, model and profiles, but recipes are sought anew whenever it is used. A later
release may seek them in another way and give the same colour other inks. The number of the rules goes into
the condition when it is built; where it is no longer today's, whatever makes recipes of it says so in a line,
and ``condition show`` and the report tell the whole.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from strikeoff.base.problems import Problem

#: To be raised by whoever changes how a given model's colours become inks; a test holds sample recipes to it.
#: 10: of many inks, those that hardly show are less held to the field in light colours.
#: 17: of many inks, recipes of tables are held to the field by what inks show.
RECIPE_RULES = 17
#: Of conditions from before the rules were numbered.
UNNUMBERED = 0


def rules_reminder(rules: int) -> tuple[Problem, ...]:
    """Return that warning in a line, for the many commands that make recipes.

    Parameters
    ----------
    rules : int
        Of the condition.

    Examples
    --------
    >>> rules_reminder(RECIPE_RULES)
    ()
    >>> rules_reminder(UNNUMBERED)[0].advice
    'More in `condition show` and `condition report`'
    """
    return tuple(
        replace(
            problem,
            message="recipes are sought by other rules than when it was built: "
            "inks may differ from earlier goods",
            advice="More in `condition show` and `condition report`",
        )
        for problem in rules_problems(rules)
    )


def rules_problems(rules: int) -> tuple[Problem, ...]:
    """Return a warning where recipes would be sought by other rules than those a condition was built with.

    Parameters
    ----------
    rules : int
        Of the condition.

    Examples
    --------
    >>> rules_problems(RECIPE_RULES)
    ()
    >>> rules_problems(UNNUMBERED)[0].found
    'rules from before they were numbered'
    """
    if rules == RECIPE_RULES:
        return ()
    found = f"rules {rules}" if rules > UNNUMBERED else "rules from before they were numbered"
    return (
        Problem(
            "warning",
            "condition",
            "was built when recipes were sought by other rules: colours are held as before, but goods made "
            "of it earlier may have been printed with other inks, and then look different under other lights",
            found,
            f"rules {RECIPE_RULES}",
            "To re-make earlier goods to the bit, print their kept planes or use the release that made them; "
            "else print a strike-off, and build the condition again from its readings once it is approved",
        ),
    )


def read_rules(record: dict[str, Any]) -> int:
    """Return the rules of a stored condition.

    Raises
    ------
    ValueError
        When they are no whole number.
    """
    rules = record.get("recipe_rules", UNNUMBERED)
    if not isinstance(rules, int) or isinstance(rules, bool) or rules < UNNUMBERED:
        raise ValueError(f"recipe rules {rules!r}")
    return rules
