"""Numbered ink columns keep the names that their chart gave them, from readings to profile and back."""

from dataclasses import replace

import pytest

from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.read import parse_readings, read_readings
from strikeoff.measurement.write import write_readings
from strikeoff.qualify import profile_grids
from strikeoff.qualify.build import build_condition
from strikeoff.qualify.from_profile import profile_readings
from strikeoff.qualify.profiles import build_profiles, colorants
from strikeoff.workbench.condition_told import summary
from strikeoff.workbench.readings_files import convert_readings

NAMES = ("Teal", "Deep-Red", "Black")


@pytest.fixture(scope="module")
def named(small_readings):
    """The small readings with the header line that charts carry (docs/contracts.md, chart references)."""
    data = format_iso28178(small_readings.readings, header={"INK_NAMES": " ".join(NAMES)}).encode()
    return parse_readings(data, source="named cloth")[0], data


@pytest.fixture(scope="module")
def condition(named, coarse_gamut_of_module):
    """With profiles of few nodes."""
    readings, data = named
    made = build_condition(readings, data, name="named", label="simulated", total_ink=2.5, validated=False)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(profile_grids, "_LEVELS", (5,))
        patch.setattr(profile_grids, "_LARGEST", {3: 5})
        return replace(made, profiles=build_profiles(made))


def test_a_condition_speaks_of_inks_by_name(condition):
    assert condition.ink_columns == ("3CLR_1", "3CLR_2", "3CLR_3")
    found = summary(condition, "sha256:0")
    assert tuple(found["solids_lab"]) == tuple(found["ink_limits_percent"]) == NAMES
    assert tuple(ink["name"] for ink in found["physical_inks"]) == NAMES
    assert condition.inverse.black == 2  # found by its name, as of charts that name their inks


def test_profiles_carry_the_names_and_an_import_reads_them(condition):
    assert tuple(name for name, _ in colorants(condition)) == NAMES
    said = profile_readings(condition.profiles[4], "named.icc")
    assert parse_readings(said.readings, source="named.icc")[0].inks == NAMES


@pytest.mark.parametrize("ending", ["csv", "tsv", "cxf", "txt"])
def test_every_format_keeps_the_names(named, tmp_path, ending):
    readings, data = named
    (tmp_path / "in.txt").write_bytes(data)
    convert_readings(tmp_path / "in.txt", tmp_path / f"out.{ending}")
    back, problems = read_readings(tmp_path / f"out.{ending}")
    assert (back.inks, back.ink_columns) == (NAMES, readings.ink_columns)
    assert all(problem.severity == "note" for problem in problems)
    convert_readings(tmp_path / f"out.{ending}", tmp_path / "again.txt")
    convert_readings(tmp_path / "in.txt", tmp_path / "once.txt")
    again, once = (read_readings(tmp_path / f"{name}.txt")[0] for name in ("again", "once"))
    assert again.inks == once.inks
    assert (again.spectra == once.spectra).all()


def test_names_that_do_not_fit_are_left_alone(small_readings, tmp_path):
    for text in ("Teal Red", "Teal Teal Black", "\x07 Red Black"):
        odd = replace(small_readings.readings, keywords={"INK_NAMES": text})
        assert odd.inks == ("1", "2", "3")
    for text, warned in (("Teal Red", 1), ("Teal Teal Black", 1), ("Teal Red Black", 0)):
        data = format_iso28178(small_readings.readings, header={"INK_NAMES": text}).encode()
        _, problems = parse_readings(data)
        assert len([p for p in problems if "INK_NAMES does not fit" in p.message]) == warned
    write_readings(tmp_path / "plain.cxf", small_readings.readings)
    assert read_readings(tmp_path / "plain.cxf")[0].inks == ("1", "2", "3")
