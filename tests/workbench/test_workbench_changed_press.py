"""A press file that is put under a condition: whose inks they are, how much ink in one place it allows."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff import workbench
from strikeoff.base.errors import InputError
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.ink_space import calibrated_limits
from strikeoff.condition.rendering import render
from strikeoff.inks.press_file import read_press

PRESS = """
total_percent = 220
[screen]
dpi = [600, 600]
passes = 4
""" + "".join(f'[[ink]]\nname = "{name}"\nrole = "process"\ndrop_pl = [6, 12]\n' for name in "CMY")


@pytest.fixture
def described(small_readings, tmp_path):
    """A condition whose press was described."""
    path = tmp_path / "press.toml"
    path.write_text(PRESS)
    spaces = read_press(path).spaces()
    cond = tmp_path / "a.cond"
    write_condition(cond, replace(small_readings.condition, spaces=spaces, limits=calibrated_limits(spaces)))
    return cond


def changed(cond, text, folder):
    path = folder / "other.toml"
    path.write_text(text)
    return workbench.change_press(cond, folder / "b.cond", limits=path)


def test_inks_in_another_order_and_other_inks_are_refused(described, small_readings, tmp_path):
    swapped = PRESS.replace('"C"', '"x"').replace('"M"', '"C"').replace('"x"', '"M"')
    with pytest.raises(InputError, match=r"another order.*M, C, Y.*C, M, Y"):
        changed(described, swapped, tmp_path)
    with pytest.raises(InputError, match=r"inks are not those.*C, V, Y"):
        changed(described, PRESS.replace('"M"', '"V"'), tmp_path)
    # Inks that are only numbered take the names of the press.
    plain = tmp_path / "plain.cond"
    write_condition(plain, small_readings.condition)
    assert changed(plain, PRESS.replace('"M"', '"V"'), tmp_path).results["physical_inks"][1]["name"] == "V"


def test_an_ink_that_is_now_by_name_only_is_warned_of(described, tmp_path):
    moved = PRESS.replace('name = "Y"\nrole = "process"', 'name = "Y"\nrole = "fluorescent"')
    (problem,) = [p for p in changed(described, moved, tmp_path).problems if p.severity == "warning"]
    assert (problem.where, problem.found, problem.expected) == ("ink Y", "fluorescent", "process")


def test_a_lower_total_is_taken_over_and_a_higher_one_told(described, tmp_path):
    done = changed(described, PRESS.replace("passes = 4", "passes = 8").replace("220", "180"), tmp_path)
    assert done.results["stale"] == ["passes 8, was 4", "total ink limit 180 %, was 220 %"]
    assert done.results["total_ink_laid_down_percent"] == 180
    assert read_condition(tmp_path / "b.cond")[0].spaces.total == pytest.approx(1.8)
    done = changed(described, PRESS.replace("passes = 4", "passes = 8").replace("220", "260"), tmp_path)
    assert done.results["stale"] == ["passes 8, was 4"]
    assert done.results["total_ink_laid_down_percent"] == 220
    assert [p.found for p in done.problems if p.where == "total ink"] == ["260 %"]


def test_a_lower_total_alone_leaves_the_curves_and_binds_recipes_at_once(described, tmp_path, monkeypatch):
    """No ramp changes by it: a roll may be printed without new ones."""
    made = []
    monkeypatch.setattr("strikeoff.workbench.changed_press.build_profiles", lambda *_: made.append(1) or {})
    done = changed(described, PRESS.replace("220", "150"), tmp_path)
    assert done.results["stale"] == []
    assert done.results["total_ink_laid_down_percent"] == 150
    assert [p.expected for p in done.problems if p.where == "ink limits"] == ["total 220 % before"]
    before, after = read_condition(described)[0], read_condition(tmp_path / "b.cond")[0]
    assert len(made) == (1 if before.profiles else 0)
    assert after.limits.total == pytest.approx(1.5, abs=1e-3)
    assert after.spaces.curves_digest == before.spaces.curves_digest
    # Full inks of all three, which the condition allowed 2.2 of.
    dark = after.native.lab(np.array([[1.0, 1.0, 0.2]]))
    assert render(before, dark, "absolute").inks.sum() > 1.6
    assert render(after, dark, "absolute").inks.sum() <= 1.5 + 1e-3


def test_a_lower_limit_of_one_ink_binds_recipes_at_once_too(described, tmp_path, monkeypatch):
    monkeypatch.setattr("strikeoff.workbench.changed_press.build_profiles", lambda *_: {})
    lower = PRESS.replace('name = "M"', 'name = "M"\nlimit_percent = 60')
    done = changed(described, lower, tmp_path)
    assert [p.found for p in done.problems if p.where == "ink limits"] == ["M 60 % calibrated"]
    after = read_condition(tmp_path / "b.cond")[0]
    red = after.native.lab(np.array([[0.0, 1.0, 0.5]]))
    assert render(after, red, "absolute").inks[0, 1] <= 0.6 + 1e-3


def test_what_a_condition_of_stale_curves_says_is_warned_of(described, tmp_path):
    """A profile goes to other programs, which know nothing of curves."""
    patches = tmp_path / "patches.csv"
    patches.write_text("SAMPLE_ID,3CLR_1,3CLR_2,3CLR_3\nA,10,20,30\n")
    changed(described, PRESS.replace("passes = 4", "passes = 8"), tmp_path)
    for cond, stale in ((described, 0), (tmp_path / "b.cond", 1)):
        used = (
            workbench.write_profile(cond, tmp_path / "a.icc"),
            workbench.predict(cond, patches, tmp_path / "out.csv"),
        )
        for done in used:
            found = [p.found for p in done.problems if "tone curves do not hold" in p.message]
            assert found == ["passes 8, was 4"] * stale
