"""Whether limits and tones were judged over white ink: from their files into the condition and its report."""

from dataclasses import replace

import pytest

from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.inks.press_file import read_press, write_curves
from strikeoff.inks.records import plain_inks
from strikeoff.workbench import conditions
from strikeoff.workbench.condition_tables import limits_section

INKS = "".join(f'[[ink]]\nname = "{name}"\n' for name in "CMY")


@pytest.fixture
def build(small_readings, tmp_path, monkeypatch):
    """Builds a condition without learning anything again."""
    known = small_readings.condition
    monkeypatch.setattr(conditions, "qualify", lambda *_, problems, **__: replace(known, problems=problems))
    monkeypatch.setattr(conditions, "build_profiles", lambda *_: {})
    (tmp_path / "read.txt").write_bytes(small_readings.data)

    def built(**files):
        done = conditions.build_condition(tmp_path / "read.txt", tmp_path / "a.cond", **files)
        return done, read_condition(tmp_path / "a.cond")[0]

    return built


@pytest.mark.parametrize(("word", "said"), [("true", True), ("false", False), (None, None)])
def test_the_condition_keeps_what_its_file_says(build, tmp_path, word, said):
    text = INKS if word is None else f"over_white = {word}\n{INKS}"
    # By any name: the option says what it is.
    for limits in (tmp_path / "limits.toml", tmp_path / "limits.txt"):
        limits.write_text(text)
        done, record = build(limits=limits)
        assert record.over_white is said
        assert done.results["over_white"] is said
    curves = tmp_path / "curves.json"
    write_curves(curves, read_press(limits).spaces(), over_white=said)
    assert build(curves=curves)[1].over_white is said
    assert build()[1].over_white is None


def test_an_auditor_sees_it(small_readings, tmp_path):
    plain = small_readings.condition
    one, two, three = plain_inks(plain.inks)
    white = replace(plain, spaces=replace(plain.spaces, inks=(one, two, replace(three, role="white"))))
    for condition, words in (
        (replace(plain, over_white=True), "over white ink"),
        (replace(plain, over_white=False), "on the bare cloth, not over white ink"),
        (white, "over white ink or on the cloth: not recorded"),
        (plain, None),
    ):
        write_condition(tmp_path / "a.cond", condition)
        html = limits_section(condition, ("#000000",) * 3).html
        lines = conditions.show_condition(tmp_path / "a.cond").lines
        told = [line for line in lines if line.startswith("limits and tones: judged ")]
        assert told == ([] if words is None else [f"limits and tones: judged {words}"])
        assert ("limits and tones judged" in html) is (words is not None)
        assert words is None or words in html
