"""Patches that a model without them misses far more than others: spoilt, misread, or without others near."""

from __future__ import annotations

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.condition.record import Condition
from strikeoff.measurement.records import ReadingSet
from strikeoff.workbench.condition_readings import held_out, read_recipes

# Times the 95 % figure, and CIEDE2000, from which a patch is named; at most so many are. Common practice, no
# source.
_TIMES, _LEAST_DE00, _NAMED = 2.75, 4.0, 5


def far_off_notes(condition: Condition, readings: ReadingSet) -> tuple[Problem, ...]:
    """Name the patches of a condition whose held-out errors stand out, or none.

    Parameters
    ----------
    condition : Condition
        With error figures; without them nothing is told.
    readings : ReadingSet
        What it was made from.
    """
    judged = held_out(condition)
    if judged is None or condition.validation is None:
        return ()
    found, errors = judged
    usual = condition.validation.figure("all").percentile_95
    far = np.flatnonzero(errors > max(_TIMES * usual, _LEAST_DE00))
    if not len(far):
        return ()
    worst = far[np.argsort(-errors[far], kind="stable")]
    names = read_recipes(condition, readings).names
    lines = dict(zip(readings.sample_ids, readings.lines, strict=False))
    places = [f"{name} (line {lines[name]})" if name in lines else name for name in names]
    said = ", ".join(f"{places[found[i]]} by {errors[i]:.1f}" for i in worst[:_NAMED])
    more = f" and {len(worst) - _NAMED} more" if len(worst) > _NAMED else ""
    return (
        Problem(
            "warning",
            "held-out errors",
            f"{counted(len(worst), 'patch', 'patches')} read far from what the others tell of the same inks: "
            "spoilt, misread, or without others near",
            f"{said}{more} [CIEDE2000]",
            f"less than {max(_TIMES * usual, _LEAST_DE00):.1f}; 95 % are within {usual:.2f}",
            "Look at these patches and read them again; build without those that are spoilt",
        ),
    )
