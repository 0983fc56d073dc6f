"""Aims that are no colours of cloth are refused or told, with their place in the file."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.condition.archive import write_condition
from strikeoff.workbench import match
from strikeoff.workbench.object_colours import object_colour_problems, out_of_reach_problem

HEAD = "SAMPLE_ID,LAB_L,LAB_A,LAB_B\n"


@pytest.fixture(scope="module")
def condition(small_readings, tmp_path_factory):
    path = tmp_path_factory.mktemp("recipes") / "a.cond"
    write_condition(path, small_readings.condition)
    return path


def matched(condition, folder, rows):
    aims = folder / "aims.csv"
    aims.write_text(HEAD + rows)
    return match(condition, aims, folder / "out.csv")


@pytest.mark.parametrize("row", ["120,0,0", "-5,0,0", "50,400,0", "50,0,-300"])
def test_what_is_no_lab_colour_is_refused_with_its_line(condition, tmp_path, row):
    with pytest.raises(InputError, match="not a Lab colour") as fault:
        matched(condition, tmp_path, f"a,50,0,0\nb,{row}\nc,150,0,0\n")
    assert "line 3" in str(fault.value)
    assert "and 1 more" in str(fault.value)
    assert not (tmp_path / "out.csv").exists()


def test_colours_that_no_reflectance_gives_are_matched_with_a_warning(condition, tmp_path):
    """CIE 15: reflectance 0-1 keeps X, Y, Z within those of the light; L* 103 and this blue do not."""
    result = matched(condition, tmp_path, "a,50,10,10\nb,103,0,0\nc,30,40,-190\n")
    (told,) = [p for p in result.problems if "fluoresce" in p.message]
    assert (told.severity, told.where, told.found) == ("warning", "line 3", "103 0 0, and 1 more")
    assert (tmp_path / "out.csv").exists()


def test_aims_beyond_the_optimal_colours_are_matched_with_a_warning(condition, tmp_path):
    """X, Y and Z of the first are between black and white; no surface has all three (MacAdam 1935)."""
    result = matched(condition, tmp_path, "a,50,10,10\nb,20,150,0\nc,95,80,0\nd,48,75,30\n")
    (told,) = [p for p in result.problems if "fluoresce" in p.message]
    assert (told.where, told.found) == ("line 3", "20 150 0, and 1 more")
    assert "MacAdam" in told.expected
    assert "fluorescent sample" in told.advice


def test_a_named_colour_out_of_reach_says_whether_any_cloth_could_have_it():
    """By hand: the green is a strong one, the pink reflects more red than white does."""
    lab, said = (60.0, -120.0, 10.0), ("colour Leaf", "duller", 20.0)
    assert out_of_reach_problem(*said, lab, ("D50", "2")).advice is None
    advice = out_of_reach_problem(*said, (95.0, 80.0, 0.0), ("D50", "2")).advice
    assert "MacAdam" in advice
    assert "fluorescent" in advice


def test_an_aim_that_a_fluorescent_print_reaches_is_no_fault():
    aims = np.array([[95.0, 80.0, 0.0], [20.0, 150.0, 0.0], [50.0, 0.0, 0.0]])
    reached = object_colour_problems(aims, ("D50", "2"), ["a", "b", "c"], np.array([False, True, True]))
    assert [(told.where, told.found) for told in reached] == [("b", "20 150 0")]


@pytest.mark.parametrize("row", ["100,0,0", "0,0,0", "97.1,-15.7,93.4", "-0.4,0,0"])
def test_the_ends_of_lightness_and_strong_yellow_pass(condition, tmp_path, row):
    assert not [p for p in matched(condition, tmp_path, f"a,{row}\n").problems if "fluoresce" in p.message]
