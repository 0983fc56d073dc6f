"""A clear ink goes through limits and tone curves, though its ramp has no colour.

Common practice, no source.
"""

import json

import numpy as np
import pytest

from strikeoff import workbench
from strikeoff.base.errors import InputError
from strikeoff.condition.archive import read_condition
from strikeoff.condition.ink_space import ink_space_keywords
from strikeoff.inks.press_file import read_inks
from strikeoff.inks.tables import FULL, look_up, to_codes
from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press
from strikeoff.qualify.limits import clear_limit
from strikeoff.qualify.ramps import Ramp

INKS = """
[[ink]]
name = "C"
role = "process"

[[ink]]
name = "K"
role = "process"

[[ink]]
name = "Gloss"
role = "{role}"
"""


def printed(laid_down):
    """Spectra of cyan, black and a clear ink that takes a tenth of the light at full tone."""
    coloured = np.zeros((len(laid_down), 4))
    coloured[:, [0, 3]] = laid_down[:, :2]
    return invented_press("O2", inks="CMYK").print(coloured) * (1.0 - 0.1 * laid_down[:, 2:])


def readings(recipes, spectra):
    return ReadingSet(
        tuple(f"P{number}" for number in range(len(recipes))),
        ink_columns(["1", "2", "3"]),
        recipes,
        spectra=spectra,
        wavelengths_nm=WAVELENGTHS_NM,
    )


def ramp_recipes():
    steps = np.linspace(0.05, 1.0, 20)
    recipes = np.zeros((61, 3))
    for ink in range(3):
        recipes[1 + 20 * ink : 21 + 20 * ink, ink] = steps
    return recipes


@pytest.fixture(scope="module")
def ramps(tmp_path_factory):
    """A ramp of each ink."""
    recipes = ramp_recipes()
    made = readings(recipes, printed(recipes))
    path = tmp_path_factory.mktemp("clear") / "ramps.txt"
    path.write_text(format_iso28178(made))
    return path


def described(folder, role):
    path = folder / f"{role}.toml"
    path.write_text(INKS.format(role=role))
    return path


def test_a_clear_ink_has_its_whole_ramp_and_even_tones(ramps, tmp_path):
    limits, curves = tmp_path / "limits.toml", tmp_path / "curves.json"
    done = workbench.find_ink_limits(ramps, limits, inks=described(tmp_path, "clear"))
    gloss = done.results["limits"][2]
    assert (gloss["ink"], gloss["limit_percent"]) == ("Gloss", 100.0)
    assert "gloss and hand" in gloss["reason"]
    made = workbench.make_tone_curves(ramps, curves, limits=limits)
    assert any("stay even" in str(problem) for problem in made.problems)
    tone = np.array(json.loads(curves.read_text())["tone"][2]) / FULL
    np.testing.assert_allclose(tone, np.linspace(0.0, 1.0, len(tone)), atol=1e-4)


def test_lines_limit_a_clear_ink_too():
    amount = np.linspace(0.0, 1.0, 11)
    cloth = np.tile([90.0, 0.0, 0.0], (11, 1))
    ramp = Ramp("Gloss", amount, cloth, np.full((11, 3), 0.77), tuple(map(str, range(11))))
    grown = np.where(amount[1:] < 0.55, 0.02, 0.02 + 0.4 * (amount[1:] - 0.55))
    # As for inks of colour: 0.1 mm beyond the start is reached at 0.55 + 0.1 / 0.4.
    assert clear_limit(ramp, growth=(amount[1:], grown)).limit == pytest.approx(0.80, abs=0.01)
    assert clear_limit(ramp).limit == 1.0


def test_another_ink_without_colour_is_still_refused(ramps, tmp_path):
    with pytest.raises(InputError, match="leaves no colour"):
        workbench.find_ink_limits(ramps, tmp_path / "x.toml", inks=described(tmp_path, "extra"))


def test_a_white_ink_that_light_cloth_hides_has_its_whole_ramp_too(ramps, tmp_path):
    """The press of a house that prints dark cloth also, with its white ink, on white cloth."""
    limits, curves = tmp_path / "limits.toml", tmp_path / "curves.json"
    done = workbench.find_ink_limits(ramps, limits, inks=described(tmp_path, "white"))
    white = done.results["limits"][2]
    assert white["limit_percent"] == 100.0
    assert "cover and hand" in white["reason"]
    recipes = ramp_recipes()
    same = tmp_path / "same.txt"
    same.write_text(format_iso28178(readings(recipes, printed(recipes * [1.0, 1.0, 0.0]))))
    made = workbench.make_tone_curves(same, curves, limits=limits)
    (told,) = [problem for problem in made.problems if "hardly shows" in problem.message]
    assert (told.severity, told.where) == ("warning", "ink Gloss")
    tone = np.array(json.loads(curves.read_text())["tone"][2]) / FULL
    np.testing.assert_allclose(tone, np.linspace(0.0, 1.0, len(tone)), atol=1e-4)
    # Dark cloth shows a white ink that prints.
    dark = tmp_path / "dark.txt"
    dark.write_text(format_iso28178(readings(recipes, 0.3 * printed(recipes * [1.0, 1.0, 0.0]))))
    with pytest.raises(InputError, match="leaves no colour"):
        workbench.find_ink_limits(dark, tmp_path / "x.toml", inks=described(tmp_path, "white"))


def test_an_ink_that_the_cloth_hides_stays_even_in_ink_and_one_that_did_not_print_is_refused(ramps, tmp_path):
    """As yellow is hidden by yellow cloth: the rest of the press goes on."""
    curves = tmp_path / "curves.json"
    made = workbench.make_tone_curves(ramps, curves, limits=described(tmp_path, "extra"))
    (told,) = [problem for problem in made.problems if "hardly shows" in problem.message]
    assert (told.severity, told.where) == ("warning", "ink Gloss")
    tone = np.array(json.loads(curves.read_text())["tone"]) / FULL
    np.testing.assert_allclose(tone[2], np.linspace(0.0, 1.0, tone.shape[1]), atol=1e-4)
    assert np.abs(tone[0] - tone[2]).max() > 0.05
    recipes = ramp_recipes()
    bare = tmp_path / "bare.txt"
    bare.write_text(format_iso28178(readings(recipes, printed(recipes * [1.0, 1.0, 0.0]))))
    with pytest.raises(InputError, match="does not show"):
        workbench.make_tone_curves(bare, curves, limits=described(tmp_path, "extra"))


@pytest.mark.usefixtures("coarse_gamut")
@pytest.mark.parametrize("role", ["clear", "white"])
def test_relinearising_leaves_an_ink_without_colour_alone(role, ramps, tmp_path, monkeypatch):
    """The same press read again, its ramp cut at 90 %: neither its noise nor its end makes a curve."""
    # Profiles take long and tell nothing of curves.
    monkeypatch.setattr("strikeoff.workbench.conditions.build_profiles", lambda *_: {})
    limits, curves, found = (tmp_path / name for name in ("limits.toml", "curves.json", "a.cond"))
    workbench.find_ink_limits(ramps, limits, inks=described(tmp_path, role))
    workbench.make_tone_curves(ramps, curves, limits=limits)
    spaces = read_inks(None, curves)[0]
    rng = np.random.default_rng(2)
    recipes = np.round(np.vstack([np.zeros(3), np.eye(3), rng.random((60, 3))]), 3)
    path = tmp_path / "chart.txt"
    laid = np.stack(
        [look_up(t, to_codes(x)) / FULL for t, x in zip(spaces.tone, recipes.T, strict=True)], axis=1
    )
    read = readings(recipes, printed(laid))
    path.write_text(format_iso28178(read, header=ink_space_keywords(spaces)))
    built = workbench.build_condition(path, found, curves=curves)
    # The chart is silent about its mode: told when the condition is made, and kept for its report.
    for told in (built.problems, read_condition(found)[0].problems):
        assert len([p for p in told if "whether ultraviolet took part" in p.message]) == 1
    again = tmp_path / "b.cond"
    recipes = ramp_recipes()
    cut = recipes[recipes[:, 2] < 0.93]
    short = tmp_path / "short.txt"
    short.write_text(format_iso28178(readings(cut, printed(cut))))
    done = workbench.relinearise(found, short, again)
    assert [row["ink"] for row in done.results["changes"]] == ["C", "K"]
    kept = [read_condition(file)[0].spaces.tone[2] for file in (found, again)]
    np.testing.assert_array_equal(*kept)
