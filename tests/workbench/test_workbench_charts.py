"""Charts of a condition hold the total ink limit under the curves that it has now."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.chart.space_filling import legal_points
from strikeoff.inks.tables import FULL, NODES, to_codes
from strikeoff.measurement.read import read_readings
from strikeoff.workbench.chart_press import chart_press, condition_press
from strikeoff.workbench.charts import make_chart


def test_curves_made_again_do_not_lift_a_chart_over_the_total(small_readings):
    condition = small_readings.condition
    steps = np.linspace(0.0, 1.0, NODES) ** 0.7
    tone = np.tile(np.round(FULL * steps).astype(np.uint16), (3, 1))
    bent = replace(condition, spaces=condition.spaces.with_tone(tone, "colour"))

    def highest(press):
        amounts = legal_points(2000, press.limits, seed=1)
        return bent.spaces.load(bent.spaces.to_laid_down(to_codes(amounts))).max()

    before = condition_press("characterisation", condition, "sha256:0", "calibrated", None, 0)
    after = condition_press("characterisation", bent, "sha256:0", "calibrated", None, 0)
    assert highest(before) > bent.spaces.total * 1.03
    assert bent.spaces.total * 0.97 < highest(after) <= bent.spaces.total
    assert (before.limits.weights == condition.limits.weights).all()
    assert before.limits.total == condition.limits.total


def test_a_page_is_no_longer_than_its_patches_and_says_its_limit(tmp_path):
    """60 patches of 14 mm need four rows of cloth, not a page of 420 mm, unless that page is asked for."""
    wish = {"kind": "first", "inks": ["C", "M", "Y", "K"], "total_ink": 290.0, "dpi": (50.0, 50.0)}
    short = make_chart(tmp_path / "short", **wish).results
    width, height = short["page_mm"]
    assert (width, short["pages"]) == (297.0, 1)
    assert 4 * 14 < height < 120
    asked = make_chart(tmp_path / "asked", page=(297.0, 420.0), **wish).results
    assert asked["page_mm"] == [297.0, 420.0]
    many = make_chart(tmp_path / "many", **wish | {"patches": 500}).results
    assert many["pages"] == 2
    assert 400 < many["page_mm"][1] <= 420
    text = (tmp_path / "short" / "first.pdf").read_bytes().decode("latin-1")
    assert "at most 290 % ink" in text
    assert "patches 14 mm" in text


def test_the_title_of_a_chart_without_a_limit_does_not_call_the_sum_of_all_inks_one(tmp_path):
    """Nobody prints 400 % of four inks because a page says "at most" that; such a chart keeps no limit."""
    rows = "".join(f'[[ink]]\nname = "{name}"\nrole = "process"\n' for name in "CMYK")
    (tmp_path / "press.toml").write_text(f"total_percent = 240\n{rows}")
    wish = {"kind": "linearisation", "curves": tmp_path / "press.toml", "dpi": (50.0, 50.0)}
    assert make_chart(tmp_path / "c", **wish).results["highest_total_percent"] <= 100.0
    text = (tmp_path / "c" / "linearisation.pdf").read_bytes().decode("latin-1")
    assert "total ink not limited" in text
    assert "at most 400 % ink" not in text


def test_both_sums_are_told_where_inks_count_differently(tmp_path):
    """A black of half the ink counts half in the limit; the reader of the chart counts all alike."""
    (tmp_path / "press.toml").write_text(
        "total_percent = 200\n[screen]\ndpi = [600, 600]\n"
        + "".join(
            f'[[ink]]\nname = "{name}"\nrole = "process"\ndrop_pl = [{drop}]\n'
            for name, drop in (("C", 12), ("M", 12), ("Y", 12), ("K", 6))
        )
    )
    made = make_chart(tmp_path / "c", kind="first", curves=tmp_path / "press.toml", dpi=(50.0, 50.0))
    told = made.results
    assert told["highest_total_percent"] <= 200.0
    assert told["highest_sum_percent"] > told["highest_total_percent"] + 10
    rows = (tmp_path / "c" / "first.txt").read_text().split("BEGIN_DATA\n")[1].split("\nEND_DATA")[0]
    sums = [sum(map(float, row.split()[1:5])) for row in rows.splitlines()]
    assert told["highest_sum_percent"] == pytest.approx(max(sums), abs=0.01)
    assert f"highest sum of inks {told['highest_sum_percent']:.4g} % (each counts alike)" in made.lines[1]


def test_a_chart_of_light_inks_by_themselves_warns_unless_it_comes_before_the_split(tmp_path):
    """Such a linearisation would be printed for nothing: tone curves are made of ramps through the split."""
    path = tmp_path / "limits.toml"
    rows = (("C", 'role = "process"'), ("c", 'role = "light"\nlight_of = "C"'))
    path.write_text("".join(f'[[ink]]\nname = "{name}"\n{role}\n' for name, role in rows))
    (told,) = chart_press("linearisation", None, None, path, None, 0).problems
    assert (told.severity, told.where) == ("warning", "ink c")
    assert "condition split" in told.advice
    assert chart_press("ink-limit", None, None, path, None, 0).problems == ()


@pytest.mark.parametrize(("repeats", "cloths"), [(None, 5), (3, 2), (1, 2), (0, 1)])
def test_bare_cloth_takes_half_of_the_repeats(tmp_path, repeats, cloths):
    """All colours are relative to it, so that its noise would go into each; prints tell noise too."""
    made = make_chart(
        tmp_path, kind="characterisation", inks=["C", "M", "Y"], patches=60, repeats=repeats, dpi=(50.0, 50.0)
    ).results
    assert made["patches"] - made["recipes"] == (8 if repeats is None else repeats)
    recipes = read_readings(tmp_path / "characterisation.txt", need_colour=False)[0].coverages
    assert (~recipes.any(axis=1)).sum() == cloths


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [("c.yaml", "ink: 1", "'ink: 1'"), ("c.json", "", "an empty file"), ("c.txt", "\0\1", "'??'")],
)
def test_a_chart_through_a_file_that_is_neither_curves_nor_limits_says_both(tmp_path, name, text, found):
    (tmp_path / name).write_text(text)
    with pytest.raises(InputError, match="neither ink curves nor ink limits") as told:
        make_chart(tmp_path / "out", kind="linearisation", curves=tmp_path / name)
    assert "JSON" in told.value.expected
    assert "TOML" in told.value.expected
    assert told.value.found.endswith(found)
