"""Patches that stand out of the held-out errors are named when a condition is built."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.model.validation import held_out_rows
from strikeoff.workbench.condition_readings import original_readings, read_recipes
from strikeoff.workbench.far_off import far_off_notes


@pytest.fixture(scope="module")
def built(small_readings):
    """Simulated readings, with even errors of 0.5 CIEDE2000."""
    condition = small_readings.condition
    validation = condition.validation
    groups = tuple(replace(group, percentile_95=0.5) for group in validation.groups)
    even = replace(validation, errors=np.full_like(validation.errors, 0.5), groups=groups)
    condition = replace(condition, validation=even)
    return condition, original_readings(condition)


def with_error(condition, recipe, error):
    errors = condition.validation.errors.copy()
    errors[held_out_rows(len(condition.forward.recipes)).ravel() == recipe] = error
    return replace(condition, validation=replace(condition.validation, errors=errors))


def test_even_errors_name_no_patch(built):
    assert far_off_notes(*built) == ()
    assert far_off_notes(replace(built[0], validation=None), built[1]) == ()


def test_a_spoilt_patch_is_named(built):
    condition, readings = built
    recipe = int(held_out_rows(len(condition.forward.recipes)).ravel()[0])
    assert far_off_notes(with_error(condition, recipe, 3.9), readings) == ()
    (told,) = far_off_notes(with_error(condition, recipe, 6.04), readings)
    assert told.severity == "warning"
    assert told.found == f"{read_recipes(condition, readings).names[recipe]} by 6.0 [CIEDE2000]"
    assert "1 patch read" in told.message


def test_five_are_named_and_more_counted(built):
    condition, readings = built
    for recipe in np.unique(held_out_rows(len(condition.forward.recipes)))[:7]:
        condition = with_error(condition, int(recipe), 5.0 + 0.1 * recipe)
    (told,) = far_off_notes(condition, readings)
    assert "7 patches read" in told.message
    assert told.found.count(" by ") == 5
    assert "and 2 more" in told.found
