"""A profile of ours comes back with the inks, roles, curves and total of its condition.

They are in the metadata tag (ICC.1:2022 clause 9.2). The press is one of the test's own: curves that sag, as
those of dyes do, a light ink, and a metallic and a clear ink whose names do not tell what they are.
"""

import json
from dataclasses import replace

import iccdev
import numpy as np
import pytest

from strikeoff import workbench
from strikeoff.condition.archive import read_condition
from strikeoff.condition.ink_space import ink_space_keywords
from strikeoff.icc.inspect import table_inks
from strikeoff.icc.profile import Profile, read_profile, write_profile
from strikeoff.icc.tags import dictionary
from strikeoff.inks.records import Ink
from strikeoff.inks.spaces import InkSpaces, identity_spaces
from strikeoff.inks.tables import FULL, NODES, checked_curves, straight_curves
from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.qualify import from_profile, profile_grids
from strikeoff.qualify.build import build_condition
from strikeoff.qualify.profile_facts import ENTRY, facts_metadata, read_facts
from strikeoff.qualify.profiles import build_profiles
from strikeoff.workbench.imported import import_condition

CHANNELS = ("C", "M", "K", "Glint", "Dew")
SOLIDS = np.array([[-38, -32, -46], [-44, 70, -4], [-80, 0, -2], [-25, 0, 1], [-1.5, 0, 0.6]], float)
TOTAL = 1.6


def press():
    node = np.linspace(0.0, 1.0, NODES)
    inks = (
        Ink("C"),
        Ink("M"),
        Ink("K"),
        Ink("Glint", "metallic"),
        Ink("Dew", "clear"),
        Ink("k", "light", "K"),
    )
    split = np.stack([node] * 4 + [node] + [0.6 * np.minimum(node, 1 - node)])
    split[2] = node**1.2
    codes = checked_curves(np.rint(split * FULL).astype(np.uint16), "split", rising=False)
    tone = np.rint(node[None] ** np.array([1.8, 1.9, 1.5, 1.0, 1.0])[:, None] * FULL).astype(np.uint16)
    drops = straight_curves(6)[:, None]
    return InkSpaces(CHANNELS, inks, tone, codes, drops, total=TOTAL, aim="colour")


@pytest.fixture(scope="module")
def condition(coarse_gamut_of_module):
    rng = np.random.default_rng(3)
    rest = rng.random((70, 5))
    rest[rng.random(rest.shape) < 0.4] = 0.0
    chart = np.vstack([np.zeros((1, 5)), np.kron(np.eye(5), [[0.3], [0.65], [1.0]]), rest])
    lab = np.array([94.0, 0.0, 2.0]) + -np.expm1(-1.6 * chart) @ SOLIDS / -np.expm1(-1.6)
    lab[:, 0] = np.maximum(lab[:, 0], 8.0)
    ids, columns = tuple(map(str, range(len(chart)))), tuple(f"5CLR_{k + 1}" for k in range(5))
    header = {"INK_NAMES": " ".join(CHANNELS), **ink_space_keywords(press())}
    data = format_iso28178(ReadingSet(ids, columns, chart, lab=lab), header=header).encode()
    readings, _ = parse_readings(data, source="made up")
    made = build_condition(readings, data, name="m", label="simulated", spaces=press(), validated=False)
    with pytest.MonkeyPatch.context() as patch:
        few_nodes(patch)
        yield replace(made, profiles=build_profiles(made))


def few_nodes(patch):
    patch.setattr(profile_grids, "_LEVELS", (5,))
    patch.setattr(profile_grids, "_LARGEST", {3: 9})
    patch.setattr(from_profile, "_FILL", 100)


def edited(data, **tags):
    profile = read_profile(data)
    kept = {name: tag for name, tag in {**profile.tags, **tags}.items() if tag is not None}
    return write_profile(Profile(profile.header, kept))


@pytest.mark.parametrize("version", [2, 4])
def test_profiles_that_carry_their_inks_validate(condition, version):
    """The ICC's reference implementation finds nothing to say."""
    data = condition.profiles[version]
    assert "meta" in read_profile(data).tags
    result = iccdev.validate_profile(data)
    assert (result.status, result.report) == (iccdev.ValidationStatus.OK, "")


@pytest.mark.parametrize("version", [2, 4])
def test_the_inks_come_back_as_they_were(condition, version):
    facts, problems = read_facts(read_profile(condition.profiles[version]))
    assert problems == []
    assert facts.spaces.as_record() == condition.spaces.as_record()
    assert facts.process_inks == ()


def test_an_import_holds_the_total_of_the_press_and_not_the_sum_of_amounts(condition, tmp_path):
    (tmp_path / "m.icc").write_bytes(condition.profiles[4])
    done = import_condition(tmp_path / "m.icc", tmp_path / "again.cond")
    sums = max(inks.sum(axis=-1).max() for inks in table_inks(read_profile(condition.profiles[4])).values())
    assert sums > 1.2 * TOTAL  # the sum that used to be the limit
    assert done.results["total_ink_laid_down_percent"] == pytest.approx(100 * TOTAL)
    again, _ = read_condition(tmp_path / "again.cond")
    assert again.by_name_only == condition.by_name_only == ("Glint", "Dew")
    assert again.spaces.curves_digest == condition.spaces.curves_digest
    assert again.limits.total == pytest.approx(condition.limits.total)
    np.testing.assert_allclose(again.limits.curves, condition.limits.curves)
    assert [p for p in done.problems if p.where.startswith("ink ")] == []
    (told,) = [p for p in done.problems if p.where == "total ink"]
    assert told.severity == "note"
    assert told.found.startswith("160 %; of calibrated ink ")
    assert told.found.count(" % in B2A") == 3
    assert any("a profile alone" in p.message for p in done.problems)


def test_an_inspection_tells_the_inks_that_a_profile_carries(condition, tmp_path):
    path = tmp_path / "m.icc"
    path.write_bytes(condition.profiles[4])
    done = workbench.inspect_profile(path)
    carried = done.results["carried_inks"]
    assert {ink["name"] for ink in carried["inks"]} == {ink.name for ink in condition.spaces.inks}
    assert [ink["name"] for ink in carried["inks"] if ink["role"] == "metallic"] == ["Glint"]
    assert carried["curves_digest"] == condition.spaces.curves_digest
    assert carried["total_percent"] == pytest.approx(100 * TOTAL)
    # As the tables' own press counts it, within the limit; all inks alike it is far above.
    assert 0.9 * 100 * TOTAL < carried["most_in_tables_percent"] <= 100 * TOTAL + 0.1
    assert done.results["ink_limit_percent"] > 1.2 * 100 * TOTAL
    assert any("Glint (metallic)" in line for line in done.lines)
    assert done.lines[-1].startswith("carries the readings")
    path.write_bytes(edited(condition.profiles[4], meta=None, targ=None))
    bare = workbench.inspect_profile(path)
    assert bare.results["carried_inks"] is None
    assert not any("carries" in line for line in bare.lines)


def test_what_is_laid_down_is_not_known_from_a_profile_without_curves(condition, tmp_path):
    (tmp_path / "bare.icc").write_bytes(edited(condition.profiles[4], meta=None, targ=None))
    done = import_condition(tmp_path / "bare.icc", tmp_path / "bare.cond")
    assert done.results["total_ink_laid_down_percent"] is None
    assert "no table tells what is laid down" in done.lines[1]
    assert done.lines[2] == "tone curves: not known, none are applied"
    report = tmp_path / "bare.html"
    workbench.report_condition(tmp_path / "bare.cond", report)
    text = report.read_text(encoding="utf-8")
    assert "not known: the profile told no tone curves" in text
    assert "straight curves" not in text


def test_a_profile_that_carries_straight_curves_tells_what_is_laid_down(condition, tmp_path):
    text = facts_metadata(identity_spaces(CHANNELS, TOTAL))[ENTRY]
    tag = dictionary.encode(dictionary.Dictionary(((ENTRY, text),)))
    (tmp_path / "m.icc").write_bytes(edited(condition.profiles[4], meta=tag))
    done = import_condition(tmp_path / "m.icc", tmp_path / "m.cond")
    assert done.results["total_ink_laid_down_percent"] == pytest.approx(100 * TOTAL)
    assert "160 % laid down" in done.lines[1]


@pytest.mark.parametrize("damage", ["cut", "of four inks"])
def test_tables_that_cannot_be_read_do_not_hide_the_inks(condition, tmp_path, damage):
    """A warning names the table, as ever; before the rest went with it."""
    tags = read_profile(condition.profiles[4]).tags
    table = tags["B2A1"]
    # ICC.1:2022 10.13: byte 9 counts the output channels.
    table = table[:200] if damage == "cut" else table[:9] + b"\x04" + table[10:]
    path = tmp_path / "m.icc"
    path.write_bytes(edited(condition.profiles[4], B2A1=table))
    done = workbench.inspect_profile(path)
    assert [ink["name"] for ink in done.results["carried_inks"]["inks"]][:3] == ["C", "M", "K"]
    assert done.results["carried_inks"]["most_in_tables_percent"] is None
    assert any(p.severity == "warning" for p in done.problems)


def test_a_given_total_counts_as_the_press_lays_down(condition):
    data = condition.profiles[4]
    lower = from_profile.profile_readings(data, "m.icc", 1.2)
    assert (lower.total, lower.problems[-1].severity) == (1.2, "note")
    higher = from_profile.profile_readings(data, "m.icc", 2.0)
    assert (higher.total, higher.problems[-1].severity) == (2.0, "warning")
    assert higher.problems[-1].expected == "at most 160 %"


def test_without_its_inks_a_profile_says_that_its_amounts_go_through_curves(condition):
    """Profiles of before, and those that another program has written again."""
    said = from_profile.profile_readings(edited(condition.profiles[4], meta=None), "m.icc")
    assert said.facts is None
    (told,) = said.problems
    assert told.severity == "warning"
    assert "tone curves that it does not carry" in told.message
    plain = from_profile.profile_readings(edited(condition.profiles[4], meta=None, targ=None), "m.icc")
    assert "no table tells" in plain.problems[0].message


@pytest.mark.parametrize(
    "text", ["{", "[]", '{"spaces": {}, "process_inks": []}', "[" * 100_000, "other", "stranger"]
)
def test_a_damaged_entry_is_told_and_not_used(condition, text):
    facts = json.loads(dict(read_profile(condition.profiles[4]).decode("meta").entries)[ENTRY])
    if text == "other":
        facts["spaces"]["tone"][0][9] += 1
        text = json.dumps(facts)
    if text == "stranger":
        text = json.dumps({**facts, "process_inks": ["C"]})
    tag = dictionary.encode(dictionary.Dictionary(((ENTRY, text),)))
    found, problems = read_facts(read_profile(edited(condition.profiles[4], meta=tag)))
    assert found is None
    assert [(p.severity, p.where) for p in problems] == [("warning", f"tag meta, entry {ENTRY}")]


def test_entries_of_others_are_left_alone(condition):
    for tag in (
        dictionary.encode(dictionary.Dictionary((("other", "1"),))),
        b"data" + bytes(12),
    ):
        assert read_facts(read_profile(edited(condition.profiles[4], meta=tag))) == (None, [])
