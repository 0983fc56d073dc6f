"""Readings that do not say in which mode they were taken."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from strikeoff.base.problems import Problem
from strikeoff.condition.archive import write_condition
from strikeoff.inks.goods import Cloth, Goods
from strikeoff.measurement.consistency import check_consistency
from strikeoff.measurement.iso28178 import write_iso28178
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.mill.press import WAVELENGTHS_NM, invented_press
from strikeoff.workbench import check_readings, proof_artwork, relinearise, split_light_inks, write_profile
from strikeoff.workbench.condition_readings import read_recipes
from strikeoff.workbench.condition_tables import cloth_section
from strikeoff.workbench.settled import with_known_roles
from strikeoff.workbench.undecided import MODE_OPEN, light_problems, mode_notes

ROWS = "90,0,0", "60,-30,-40", "62,-29,-41"


@pytest.mark.parametrize(
    ("head", "column", "told"),
    [
        ("", "", [MODE_OPEN]),
        ("MEASUREMENT_CONDITION,M1\n", "", []),
        ("", "M1", []),
        ("MEASUREMENT_CONDITION,M7\n", "", ["measuring mode is not known and is left open"]),
    ],
)
def test_what_is_not_stated_is_noted_once(tmp_path, head, column, told):
    """ISO 13655:2017 has M0 to M3, which differ by the ultraviolet in the light."""
    path = tmp_path / "chart.csv"
    names = "1CLR_1,LAB_L,LAB_A,LAB_B" + (",MEASUREMENT_CONDITION" if column else "")
    rows = [f"{50 * k},{row}" + (f",{column}" if column else "") for k, row in enumerate(ROWS)]
    path.write_text(head + "\n".join([names, *rows]) + "\n")
    result = check_readings(path)
    assert [p.message for p in result.problems if "mode" in p.message] == told
    assert result.results["mode"] == ("M1" if not told else None)
    assert all("MEASUREMENT_CONDITION" in p.advice for p in result.problems if "mode" in p.message)


def test_it_is_noted_where_ultraviolet_may_matter():
    assert [p.severity for p in mode_notes(Setup(), Cloth(optical_brightener="yes"))] == ["note"]
    assert mode_notes(Setup(), Cloth(optical_brightener="no")) == []
    told = Problem(
        "warning", "a.csv", "measuring mode is not stated; it is taken for that of the other readings"
    )
    assert mode_notes(Setup(), Cloth(), [told]) == []


@pytest.mark.parametrize("mode", ["M2", "M3"])
def test_readings_without_ultraviolet_show_no_whitener(small_readings, mode):
    """ISO 13655:2017: M2 and M3 leave ultraviolet out, so that no figure tells of what a whitener adds."""
    condition = small_readings.condition
    cut = replace(condition, setup=replace(condition.setup, mode=mode))
    (warning,) = light_problems(cut, "A")
    assert (warning.severity, warning.found) == ("warning", mode)
    assert "without ultraviolet" in warning.message
    plain = replace(cut, goods=Goods(cloth=Cloth(optical_brightener="no")))
    assert light_problems(plain, "A") == []


def test_a_whole_condition_is_undecided_under_other_lights_where_cloth_or_inks_fluoresce(small_readings):
    condition = small_readings.condition
    spaces = condition.spaces
    first = replace(spaces.inks[0], role="fluorescent")
    named = replace(condition, spaces=replace(spaces, inks=(first, *spaces.inks[1:])))
    whitened = replace(condition, goods=Goods(cloth=Cloth(optical_brightener="yes")))

    def found(record, light="A", inks=None):
        return [p.found for p in light_problems(record, light, inks) if "undecided" in p.message]

    assert found(condition) == []
    assert found(whitened) == ["the cloth"]
    assert found(whitened, condition.setup.illuminant) == []
    # An ink by name only is in no profile; a proof says what it shows.
    assert found(named) == []
    assert found(named, inks=[first.name]) == [f"ink {first.name}"]
    assert found(replace(named, process_inks=(first.name,))) == [f"ink {first.name}"]


def test_profiles_and_proofs_for_other_lights_say_so(small_readings, tmp_path, monkeypatch):
    condition = small_readings.condition
    monkeypatch.setattr("strikeoff.workbench.profiles.relight", lambda record, *light: record)
    whitened = replace(condition, goods=Goods(cloth=Cloth(optical_brightener="yes")))
    write_condition(tmp_path / "w.cond", whitened)
    Image.new("RGB", (8, 8), (200, 90, 60)).save(tmp_path / "a.png")
    for light, undecided in (("D50", 0), ("A", 1)):
        results = (
            write_profile(tmp_path / "w.cond", tmp_path / "p.icc", illuminant=light),
            proof_artwork(
                tmp_path / "w.cond",
                tmp_path / "a.png",
                tmp_path / "proof.png",
                finished=(80.0, 80.0),
                illuminant=light,
            ),
        )
        for result in results:
            assert sum("undecided: they fluoresce" in p.message for p in result.problems) == undecided


def test_reflectance_above_one_is_a_note_where_fluorescent_ink_is_known():
    """Only patches with that ink: bare cloth of reflectance 1.4 is an instrument out of calibration."""
    inks = np.array([[0.0, 0.0], [0.0, 1.0], [0.5, 0.6], [1.0, 0.0]])
    spectra = np.full((4, 36), 0.5)
    spectra[1:3, 20] = 1.4, 1.35
    grid = np.arange(380.0, 731.0, 10.0)

    def told(bare, roles):
        values = spectra.copy()
        values[0] = bare
        readings = ReadingSet(tuple("ABCD"), ("2CLR_1", "2CLR_2"), inks, spectra=values, wavelengths_nm=grid)
        problems = with_known_roles(check_consistency(readings), readings, roles)
        return [(p.severity, p.where) for p in problems if p.message.startswith("reflectance is far above")]

    assert told(0.9, ["process", "fluorescent"]) == [("note", "patch B")]
    assert told(0.9, ["process", "process"]) == [("warning", "patch B")]
    assert told(0.9, ["fluorescent"]) == [("warning", "patch B")]
    assert told(1.45, ["process", "fluorescent"]) == [("warning", "patch A")]


def test_a_clear_ink_that_hardly_shows_is_a_note_where_its_role_is_known():
    """Whatever it is called: of the same readings an ink for colour may be a dead channel."""
    ramp = np.linspace(0.0, 1.0, 6)[1:, None]
    inks = np.vstack([np.zeros((1, 2)), ramp * [1.0, 0.0], ramp * [0.0, 1.0]])
    spectra = np.full((11, 36), 0.8)
    spectra[1:6] -= 0.6 * ramp
    names = tuple(f"P{n}" for n in range(11))
    grid = np.arange(380.0, 731.0, 10.0)
    readings = ReadingSet(names, ("2CLR_1", "2CLR_2"), inks, spectra=spectra, wavelengths_nm=grid)
    for roles, severity in (
        (["process", "clear"], "note"),
        (["clear", "process"], "warning"),
        ([], "warning"),
    ):
        problems = with_known_roles(check_consistency(readings), readings, roles)
        (told,) = [p for p in problems if "hardly changes the cloth" in p.message]
        assert told.severity == severity
        assert ("dead head" in told.advice) == (severity == "note")


def test_commands_that_know_the_inks_ask_for_no_calibration_where_they_glow(tmp_path, small_readings):
    """Ramps of a press whose Y glows: by the file of ink limits, and by the condition."""
    ramp = np.linspace(0.0, 1.0, 11)
    inks = np.vstack([np.zeros((1, 3)), *(np.eye(3)[k] * ramp[1:, None] for k in range(3))])
    spectra = invented_press("T1", inks="CMY").print(inks)
    spectra[:, 20] += 0.9 * inks[:, 2]
    names = tuple(f"P{n}" for n in range(len(inks)))
    columns = small_readings.readings.ink_columns
    ramps = ReadingSet(names, columns, inks, spectra=spectra, wavelengths_nm=WAVELENGTHS_NM)
    readings, press, found = (tmp_path / name for name in ("r.txt", "press.toml", "y.cond"))
    write_iso28178(readings, ramps)
    press.write_text(
        '[[ink]]\nname = "C"\n[[ink]]\nname = "M"\nrole = "light"\nlight_of = "C"\n'
        '[[ink]]\nname = "Y"\nrole = "fluorescent"\n'
    )
    condition = small_readings.condition
    roles = [replace(ink, role="fluorescent") if ink.name == "3" else ink for ink in condition.spaces.inks]
    spaces = replace(condition.spaces, inks=tuple(roles))
    write_condition(found, replace(condition, spaces=spaces, profiles={}))
    for result in (
        split_light_inks(readings, tmp_path / "c.json", limits=press),
        check_readings(readings, condition=found),
        relinearise(found, readings, tmp_path / "z.cond"),
    ):
        told = [p for p in result.problems if p.message.startswith("reflectance is far above")]
        assert [p.severity for p in told] == ["note"]
    assert [p.severity for p in check_readings(readings).problems if "far above" in p.message] == ["warning"]


def test_ultraviolet_may_matter_to_fluorescent_inks_on_any_cloth(small_readings):
    """No brightener in the cloth, yet an ink that glows: the mode is asked for, and the report says why."""
    condition = small_readings.condition
    inks = tuple(replace(ink, role="fluorescent") for ink in condition.spaces.inks[:1])
    record = replace(
        condition,
        goods=Goods(cloth=Cloth(optical_brightener="no")),
        spaces=replace(condition.spaces, inks=(*inks, *condition.spaces.inks[1:])),
    )
    text = cloth_section(record, read_recipes(record, None)).html
    assert f"does not matter to it; it may to {inks[0].name}." in text
    bare = Cloth(optical_brightener="no")
    assert mode_notes(Setup(), bare) == []
    (note,) = mode_notes(Setup(), bare, glows=True)
    assert "whether ultraviolet took part" in note.message
    assert mode_notes(Setup(mode="M1"), bare, glows=True) == []
