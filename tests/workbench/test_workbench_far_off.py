"""Patches that stand out of the held-out errors are named when a condition is built."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.condition.archive import read_condition
from strikeoff.model.validation import held_out_rows
from strikeoff.workbench import conditions
from strikeoff.workbench.condition_readings import original_readings, read_recipes
from strikeoff.workbench.condition_tables import validity_section
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
    name = read_recipes(condition, readings).names[recipe]
    line = 1 + next(
        k for k, row in enumerate(condition.readings.splitlines()) if row.split()[:1] == [name.encode()]
    )
    assert told.found == f"{name} (line {line}) by 6.0 [CIEDE2000]"
    assert "1 patch read" in told.message


def test_five_are_named_and_more_counted(built):
    condition, readings = built
    for recipe in np.unique(held_out_rows(len(condition.forward.recipes)))[:7]:
        condition = with_error(condition, int(recipe), 5.0 + 0.1 * recipe)
    (told,) = far_off_notes(condition, readings)
    assert "7 patches read" in told.message
    assert told.found.count(" by ") == 5
    assert "and 2 more" in told.found


def test_the_report_of_a_condition_says_what_its_building_warned_of(built, tmp_path, monkeypatch):
    condition, _ = built
    recipe = int(held_out_rows(len(condition.forward.recipes)).ravel()[0])
    spoilt = with_error(condition, recipe, 6.04)
    monkeypatch.setattr(
        conditions, "qualify", lambda *_, **known: replace(spoilt, problems=known["problems"])
    )
    monkeypatch.setattr(conditions, "build_profiles", lambda *_: condition.profiles)
    (tmp_path / "read.txt").write_bytes(condition.readings)
    done = conditions.build_condition(tmp_path / "read.txt", tmp_path / "a.cond")
    (told,) = [problem for problem in done.problems if problem.where == "held-out errors"]
    record, digest = read_condition(tmp_path / "a.cond")
    html = validity_section(record, digest).html
    assert "Noticed while it was made" in html
    assert told.found in html
    assert told.advice in html
    # Told once: what is stored is not found again beside it.
    assert [p.where for p in done.problems].count("held-out errors") == 1
    assert told.as_record() in conditions.show_condition(tmp_path / "a.cond").results["noticed"]
