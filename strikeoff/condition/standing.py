"""What is to be said of a condition on the day it is used; none of it is kept in its file."""

from __future__ import annotations

from datetime import date

from strikeoff.base.problems import Problem
from strikeoff.base.today import today
from strikeoff.condition.recipe_rules import rules_problems, rules_reminder
from strikeoff.condition.record import Condition
from strikeoff.inks.goods import Goods


def recipe_problems(condition: Condition) -> tuple[Problem, ...]:
    """Return what whoever makes recipes of a condition should know: old rules, and `print_problems`."""
    return (*rules_reminder(condition.recipe_rules), *print_problems(condition))


def standing_problems(condition: Condition) -> tuple[Problem, ...]:
    """Return the same at full length, for whoever looks at the condition itself."""
    return (*rules_problems(condition.recipe_rules), *date_problems(condition.goods))


def print_problems(condition: Condition) -> tuple[Problem, ...]:
    """Return why prints may not be what a condition says: other curves, a date that has passed."""
    dates = date_problems(condition.goods)
    if not condition.spaces.stale:
        return dates
    return (
        Problem(
            "warning",
            "condition",
            "its tone curves do not hold any more: nothing prints as it says until they are made again",
            "; ".join(condition.spaces.stale),
            "curves made for this press",
            "Print and read a linearisation chart and run 'condition relinearise'",
        ),
        *dates,
    )


def date_problems(goods: Goods) -> tuple[Problem, ...]:
    """Return a warning where the last day on which a condition holds has passed.

    Parameters
    ----------
    goods : Goods
        What it holds for.

    Examples
    --------
    >>> date_problems(Goods())
    ()
    """
    return day_problems(goods.valid_until)


def day_problems(until: date | None) -> tuple[Problem, ...]:
    """Return that warning for a last day, None where none is recorded."""
    if until is None or (now := today()) <= until:
        return ()
    return (
        Problem(
            "warning",
            "condition",
            "the date until which it was said to hold has passed",
            f"valid until {until}",
            f"{now} or later",
            "Prove it with a control strip, or read the chart again and build it anew",
        ),
    )


def is_past(goods: Goods) -> bool:
    """Return whether the last day has passed; False where none is recorded."""
    return bool(date_problems(goods))
