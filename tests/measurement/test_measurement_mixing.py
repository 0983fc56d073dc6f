"""Readings put together, their noise, and columns or ramps that cannot be."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.measurement.consistency import check_consistency
from strikeoff.measurement.mixing import combine_readings
from strikeoff.measurement.noise import DEFAULT_READING_DE, patch_noise, readings_needed
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.measurement.repeats import merge_repeats

BANDS = np.arange(400.0, 701.0, 20.0)


def make(values, setup=None, **changes):
    n = len(values)
    plain = ReadingSet(
        tuple(f"p{i}" for i in range(n)),
        ("1CLR_1",),
        np.linspace(0, 1, n)[:, None],
        spectra=np.repeat(np.asarray(values, float)[:, None], len(BANDS), axis=1),
        wavelengths_nm=BANDS,
        setup=setup or Setup(mode="M1", backing="black"),
        lines=tuple(range(5, 5 + n)),
        source="a.txt",
    )
    return replace(plain, **changes)


def test_spectra_are_averaged_over_files():
    together, problems = combine_readings([make([0.8, 0.4]), make([0.9, 0.2]), make([0.7, 0.3])])
    assert problems == []
    merged = merge_repeats(together)
    np.testing.assert_allclose(merged.spectra[:, 0], [0.8, 0.3])
    assert together.lines == (5, 6) * 3


def test_a_copy_is_no_second_reading():
    """A file given twice, or under another name, would halve the noise; equal recipes read again do not."""
    copy = make([0.8, 0.4], source="b.txt")
    with pytest.raises(InputError, match="given twice") as caught:
        combine_readings([make([0.8, 0.4]), make([0.9, 0.2], source="c.txt"), copy])
    assert caught.value.path == "b.txt"
    assert "a.txt" in caught.value.found
    with pytest.raises(InputError, match="given twice"):
        combine_readings([make([0.8, 0.4]), make([0.8, 0.400003])])
    assert len(combine_readings([make([0.8, 0.4]), make([0.8, 0.4001])])[0]) == 4
    assert len(combine_readings([make([0.8, 0.4]), make([0.8, 0.4, 0.4])])[0]) == 5
    assert len(combine_readings([make([0.8]), make([0.8])])[0]) == 2


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"setup": Setup(mode="M0", backing="black")}, "measuring mode"),
        ({"setup": Setup(mode="M1", backing="white")}, "backing"),
        ({"setup": Setup(mode="M1", backing="black", side="backlit")}, "side"),
        ({"setup": Setup(mode="M1", backing="black", geometry="d/8")}, "geometry"),
        ({"ink_columns": ("2CLR_1",)}, "different inks"),
        ({"wavelengths_nm": BANDS + 5}, "wavelengths"),
        ({"spectra": None, "lab": np.zeros((2, 3))}, "kinds of colour"),
        ({"keywords": {"CURVES_DIGEST": "sha256:1"}}, "ink spaces"),
    ],
)
def test_other_set_ups_are_refused(change, says):
    setup = Setup(mode="M1", backing="black", side="face", geometry="45/0")
    with pytest.raises(InputError, match=says):
        combine_readings(
            [make([0.8, 0.4], setup), make([0.8, 0.4], setup=change.pop("setup", setup), **change)]
        )


def test_silent_set_ups_are_told():
    _, problems = combine_readings([make([0.8, 0.4]), make([0.8, 0.5], Setup(mode="M1", instrument="S"))])
    assert [p.message.split(" is ")[0] for p in problems] == ["backing"]


TABLE = "SAMPLE_ID,{},1CLR_1,LAB_L,LAB_A,LAB_B\na,{},0,90,0,0\nb,{},100,40,0,0\n"


@pytest.mark.parametrize(
    ("column", "first", "second"),
    [("MODE", "M0", "M2"), ("Sample Backing", "black", "white"), ("SAMPLE_SIDE", "face", "back")],
)
def test_rows_of_several_set_ups_are_refused(column, first, second):
    with pytest.raises(InputError, match="several set-ups") as caught:
        parse_readings(TABLE.format(column, first, second).encode())
    assert caught.value.where == "line 3"
    readings, _ = parse_readings(TABLE.format(column, first, first).encode())
    assert first in (readings.setup.mode, readings.setup.backing, readings.setup.side)


def test_repeated_keywords_of_several_modes_are_refused():
    text = "MEASUREMENT_CONDITION M1\nMEASUREMENT_CONDITION M2\nBEGIN_DATA_FORMAT\n1CLR_1 LAB_L LAB_A LAB_B\n"
    with pytest.raises(InputError, match="several set-ups"):
        parse_readings((text + "END_DATA_FORMAT\nBEGIN_DATA\n0 90 0 0\n100 40 0 0\nEND_DATA\n").encode())


def test_readings_needed():
    """n = (1.96 s / E)^2: the textbook size of a sample for a 95 % interval of half-width E."""
    assert [readings_needed(s, e) for s, e in ((0.3, 0.15), (0.6, 0.2), (0.15, 0.1))] == [16, 35, 9]
    hits = 0
    rng = np.random.default_rng(1)
    for _ in range(4000):
        hits += abs(rng.normal(0, 0.6, readings_needed(0.6, 0.2)).mean()) < 0.2
    assert 0.94 < hits / 4000 < 0.965


def test_noise_per_patch():
    once = patch_noise(make([0.8, 0.4]))
    assert (once.source, once.reading_de, once.freedom) == ("default", DEFAULT_READING_DE, 0)
    rng = np.random.default_rng(3)
    n, k = 40, 6
    lab = 50 + np.repeat(rng.normal(0, 20, (n, 3)), k, axis=0) + rng.normal(0, 0.4, (n * k, 3))
    lab[:k] += rng.normal(0, 3.0, (k, 3))
    inks = np.repeat(np.linspace(0, 1, n), k)[:, None]
    readings = ReadingSet(tuple(map(str, range(n * k))), ("1CLR_1",), inks, lab=lab)
    noise = patch_noise(readings, wanted=0.3)
    assert noise.source == "repeats"
    assert noise.patch_de[1:].mean() == pytest.approx(0.4 * np.sqrt(3), rel=0.6)
    assert np.argmax(noise.patch_de) == 0
    np.testing.assert_allclose(noise.uncertainty, 1.96 * noise.patch_de / np.sqrt(k))
    assert noise.more[0] > noise.more[1:].max() > 0
    assert not noise.cloth_only
    # Charts of ink limits have bare cloth before every ramp, and nothing else twice.
    ramps = replace(
        readings, coverages=np.where(np.arange(n * k) < k, 0.0, np.linspace(0, 1, n * k))[:, None]
    )
    assert patch_noise(ramps).cloth_only
    assert not once.cloth_only


def test_lightness_exchanged_with_another_column_is_an_error(smoothed_set):
    for order in ([1, 0, 2], [2, 1, 0]):
        swapped = replace(smoothed_set, lab=smoothed_set.lab[:, order])
        errors = [p for p in check_consistency(swapped) if p.severity == "error"]
        assert any("lightness is impossible" in p.message for p in errors)
        assert all(p.where.startswith("line ") for p in errors)


def ramp(readings, ink):
    others = np.delete(readings.coverages, ink, axis=1).max(axis=1)
    rows = np.flatnonzero((others == 0) & (readings.coverages[:, ink] > 0))
    return rows[np.argsort(readings.coverages[rows, ink])]


@pytest.mark.parametrize("ink", range(4))
def test_ramps_that_are_not_ramps(smoothed_set, ink):
    rows = ramp(smoothed_set, ink)
    lab = smoothed_set.lab.copy()
    lab[rows] = lab[np.roll(rows, 7)]
    wrong = [p for p in check_consistency(replace(smoothed_set, lab=lab)) if "no ramp" in p.message]
    assert [f"ink {smoothed_set.inks[ink]} " in p.message and p.severity == "error" for p in wrong] == [True]
    lab = smoothed_set.lab.copy()
    lab[rows] = smoothed_set.lab[smoothed_set.coverages.max(axis=1) == 0][0]
    dead = [p for p in check_consistency(replace(smoothed_set, lab=lab)) if "hardly changes" in p.message]
    assert len(dead) == 1
    # Saturation at the top is no fault of the rows.
    lab = smoothed_set.lab.copy()
    lab[rows[-1]] = lab[rows[-3]]
    assert not [p for p in check_consistency(replace(smoothed_set, lab=lab)) if "no ramp" in p.message]


@pytest.mark.parametrize(
    ("name", "cloth", "severity"),
    [("White", 94, "note"), ("Clear", 94, "note"), ("Yellow", 94, "warning"), ("White", 30, "warning")],
)
def test_white_and_clear_inks_that_hardly_show_are_no_alarm(name, cloth, severity):
    """Nobody expects colour of them on light cloth; of any other ink it may be a dead head."""
    amounts = np.array(
        [[0.0, 0], [0.25, 0], [0.5, 0], [0.75, 0], [1, 0], [0, 0.25], [0, 0.5], [0, 0.75], [0, 1]]
    )
    lab = np.zeros((9, 3))
    lab[:, 0] = cloth + np.array([0, -5, -10, -15, -20, 0.2, 0.4, 0.5, 0.6])
    readings = ReadingSet(tuple("123456789"), ("2CLR_1", "2CLR_2"), amounts, lab=lab)
    readings = replace(readings, keywords={"INK_NAMES": f"K {name}"})
    (told,) = [p for p in check_consistency(readings) if "hardly changes" in p.message]
    assert told.severity == severity
    assert ("dead head" in told.advice) is (severity == "note")


def test_white_lines_of_a_dead_nozzle(smoothed_set):
    """A third of the magenta is missing in some patches that have it."""
    rng = np.random.default_rng(2)
    inked = np.flatnonzero((smoothed_set.coverages[:729, 1] >= 0.4) & (smoothed_set.coverages[:729, 3] == 0))
    hurt = rng.choice(inked, 20, replace=False)
    lab = smoothed_set.lab.copy()
    paper = smoothed_set.lab[smoothed_set.coverages.max(axis=1) == 0][0]
    lab[hurt] = 0.6 * lab[hurt] + 0.4 * paper
    found = [
        p for p in check_consistency(replace(smoothed_set, lab=lab)) if "lighter than their" in p.message
    ]
    assert len(found) == 1
    assert "ink M " in found[0].message


def test_fewer_recipes_than_inks(smoothed_set):
    few = smoothed_set.take(np.array([0, 1, 2, 3]))
    assert any("fewer recipes" in p.message for p in check_consistency(few) if p.severity == "error")


def test_a_strip_in_another_mode_is_not_judged(small_readings, tmp_path):
    from strikeoff.condition.archive import write_condition
    from strikeoff.measurement.write import write_readings
    from strikeoff.workbench import check_readings, relinearise, verify

    condition = small_readings.condition
    write_condition(tmp_path / "a.cond", replace(condition, setup=replace(condition.setup, mode="M2")))
    strip = small_readings.readings.take(np.arange(60))
    write_readings(tmp_path / "m1.csv", replace(strip, setup=replace(strip.setup, mode="M1")))
    with pytest.raises(InputError, match="measuring mode"):
        verify(tmp_path / "a.cond", tmp_path / "m1.csv")
    with pytest.raises(InputError, match="measuring mode"):
        check_readings(tmp_path / "m1.csv", condition=tmp_path / "a.cond")
    with pytest.raises(InputError, match="measuring mode"):
        relinearise(tmp_path / "a.cond", tmp_path / "m1.csv", tmp_path / "b.cond")
    write_condition(tmp_path / "w.cond", replace(condition, setup=replace(condition.setup, backing="white")))
    write_readings(tmp_path / "black.csv", replace(strip, setup=replace(strip.setup, backing="black")))
    with pytest.raises(InputError, match="backing"):
        relinearise(tmp_path / "w.cond", tmp_path / "black.csv", tmp_path / "b.cond")
    write_readings(tmp_path / "silent.csv", strip)
    result = check_readings(tmp_path / "silent.csv", condition=tmp_path / "a.cond")
    assert any("measuring mode is not stated" in p.message for p in result.problems)
    assert result.results["sequence"] == []
