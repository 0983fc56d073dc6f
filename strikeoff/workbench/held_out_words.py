"""How groups of held-out patches are named, and what the one of much ink counts."""

from __future__ import annotations

import numpy as np

from strikeoff.base.words import counted
from strikeoff.condition.record import Condition

#: The group of much ink as condition files and results name it.
MUCH_INK = "totals over 250 %"
_MUCH = 2.5
# Recipes are read from files that round them.
_ROUNDED = 1e-3
_SHOWN = {MUCH_INK: "ink sums over 250 %"}


def group_name(group: str) -> str:
    """Return the name of a group as people read it.

    Examples
    --------
    >>> group_name("totals over 250 %"), group_name("solids")
    ('ink sums over 250 %', 'solids')
    """
    return _SHOWN.get(group, group)


def much_ink_words(condition: Condition) -> str | None:
    """Say what the group of much ink counts beside the total ink limit, or None where it is empty."""
    if condition.validation is None:
        return None
    recipes = condition.forward.recipes
    of = recipes[recipes.sum(axis=1) > _MUCH]
    if not len(of) or not any(g.group == MUCH_INK and g.patches for g in condition.validation.groups):
        return None
    limits = condition.limits
    limit = f"the total ink limit of {100 * limits.total:.4g} %"
    alike = limits.curves is None and bool(np.all(limits.weights == 1.0))
    counts = (
        f"each counted alike, as in {limit}"
        if alike
        else f"each counted alike; {limit} counts each ink by what it lays down, so sums may pass its figure"
    )
    kept, read = int((limits.sums(of) <= limits.total + _ROUNDED).sum()), counted(len(of), "recipe")
    within = (
        f"none of {read} read there keeps it, so no job prints such recipes"
        if not kept
        else f"{kept} of {read} read there {'keeps' if kept == 1 else 'keep'} it"
    )
    return f"{_SHOWN[MUCH_INK]}: all inks of a recipe added up, {counts}; {within}"
