"""Repeats, and data found inside other packages."""

import struct
import zlib
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, StorageError
from strikeoff.measurement import embedded
from strikeoff.measurement.embedded import find_icc_profiles, targ_text
from strikeoff.measurement.mixing import combine_readings
from strikeoff.measurement.noise import patch_noise
from strikeoff.measurement.patch_checks import check_repeats
from strikeoff.measurement.read import parse_readings, read_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats, recipe_groups, repeat_noise
from strikeoff.measurement.write import write_readings


def test_groups_are_numbered_as_they_come():
    inks = [[0.2, 0], [0, 0], [0.2, 0.00004], [-0.0, 0], [0.2, 0.1]]
    assert recipe_groups(inks).tolist() == [0, 1, 0, 1, 2]
    assert recipe_groups(np.zeros((3, 0))).tolist() == [0, 1, 2]


def test_merging_averages_each_recipe():
    readings = ReadingSet(
        ("a", "b", "c"),
        ("1CLR_1",),
        np.array([[0.5], [0.0], [0.5]]),
        spectra=np.array([[0.2] * 3, [0.9] * 3, [0.4] * 3]),
        wavelengths_nm=np.array([400.0, 550, 700]),
        lab=np.array([[50.0, 2, 0], [95, 0, 0], [54, 0, 0]]),
        lines=(5, 6, 7),
    )
    merged = merge_repeats(readings)
    assert (merged.sample_ids, merged.lines) == (("a", "b"), (5, 6))
    np.testing.assert_allclose(merged.lab, [[52, 1, 0], [95, 0, 0]])
    np.testing.assert_allclose(merged.spectra[:, 0], [0.3, 0.9])
    np.testing.assert_array_equal(merged.averaged, [2, 1])
    assert merge_repeats(merged) is merged


def test_means_of_means_weigh_by_their_readings():
    """Merging in two steps gives what merging at once gives: means, numbers of readings, scatter."""
    rng = np.random.default_rng(4)
    lab = rng.normal([50.0, 10, -20], 0.5, (6, 3))
    inks = np.full((6, 1), 0.5)
    once = merge_repeats(ReadingSet(tuple("abcdef"), ("1CLR_1",), inks, lab=lab))
    parts = [
        merge_repeats(ReadingSet(tuple("abcdef"[rows]), ("1CLR_1",), inks[rows], lab=lab[rows]))
        for rows in (slice(0, 4), slice(4, 6))
    ]
    together, _ = combine_readings(parts)
    np.testing.assert_array_equal(together.averaged, [4, 2])
    twice = merge_repeats(together)
    np.testing.assert_allclose(twice.lab, once.lab)
    assert (once.averaged[0], twice.averaged[0]) == (6, 6)
    # Between means of 4 and 2 readings lies one degree of freedom, of the scatter of one reading.
    first, second = together.lab
    expected = np.abs(first - second) / np.sqrt(1 / 4 + 1 / 2)
    np.testing.assert_allclose(repeat_noise(together).lab_sd, expected)
    np.testing.assert_allclose(
        patch_noise(together).uncertainty, 1.96 * repeat_noise(together).de_rms / np.sqrt(6), rtol=1e-9
    )


@pytest.mark.parametrize(
    ("column", "read", "told"), [("4 1", [4, 1], 0), ("4 0", None, 1), ("2.5 1", None, 1), ("4 -", None, 2)]
)
def test_the_number_of_readings_is_read_and_written(column, read, told, tmp_path):
    first, second = column.split()
    text = f"SAMPLE_ID,1CLR_1,LAB_L,LAB_A,LAB_B,READINGS\na,50,60,1,2,{first}\nb,0,95,0,0,{second}\n"
    readings, problems = parse_readings(text.encode())
    assert len(readings) == 2
    assert sum(p.severity == "warning" and "READINGS" in str(p) for p in problems) == told
    if read is None:
        assert readings.averaged is None
        return
    np.testing.assert_array_equal(readings.averaged, read)
    for name in ("r.csv", "r.txt"):
        write_readings(tmp_path / name, readings)
        np.testing.assert_array_equal(read_readings(tmp_path / name)[0].averaged, read)


def test_noise_is_the_pooled_standard_deviation():
    # Two recipes, two and three readings: sums of squares 2 + 2 over 1 + 2 degrees of freedom.
    readings = ReadingSet(
        tuple("abcdef"),
        ("1CLR_1",),
        np.array([[0.5], [0.5], [0.1], [0.1], [0.1], [0.9]]),
        lab=np.array([[49.0, 0, 0], [51, 0, 0], [70, 0, 0], [71, 0, 0], [72, 0, 0], [20, 0, 0]]),
    )
    noise = repeat_noise(readings)
    assert (noise.n_groups, noise.freedom) == (2, 3)
    np.testing.assert_allclose(noise.lab_sd, [np.sqrt(4 / 3), 0, 0])
    np.testing.assert_allclose(noise.patch_sd[:5], [np.sqrt(2)] * 2 + [1.0] * 3)
    assert np.isnan(noise.patch_sd[5])
    assert repeat_noise(readings.take(np.array([0, 2, 5]))) is None


def test_the_smoothed_set_has_the_repeats_of_iso_12642_2(smoothed_set):
    # ISO 12642-2 chart: 1,617 patches, 1,588 distinct recipes, 29 repeats (counted on a published file).
    assert len(smoothed_set) == 1617
    assert len(merge_repeats(smoothed_set)) == 1588
    assert repeat_noise(smoothed_set).freedom == 29
    assert smoothed_set.spectra is None
    # Paper and solids of the 2008 coated aims, rounded as the association published them.
    rows = {
        tuple(c): lab
        for c, lab in zip(smoothed_set.coverages.round(3).tolist(), smoothed_set.lab, strict=True)
    }
    np.testing.assert_allclose(rows[(0, 0, 0, 0)], [95, 0, -2], atol=0.5)
    np.testing.assert_allclose(rows[(1, 0, 0, 0)], [55, -37, -50], atol=0.5)
    np.testing.assert_allclose(rows[(0, 1, 0, 0)], [48, 74, -3], atol=0.5)
    np.testing.assert_allclose(rows[(0, 0, 1, 0)], [89, -5, 93], atol=0.5)


def test_the_measured_set_is_what_it_says(measured_set):
    assert len(measured_set) == 2376
    assert measured_set.ink_columns == ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")
    assert measured_set.wavelengths_nm.tolist() == list(range(380, 731, 10))
    assert measured_set.spectra.max() == pytest.approx(1.0261, abs=1e-4)
    assert measured_set.lines[0] > 60
    noise = repeat_noise(measured_set)
    assert (noise.n_groups, noise.freedom) == (2, 4)
    assert noise.de_rms < 1.0


def small_profile(text=b"BEGIN_DATA\n", kind=b"text"):
    tag = kind + bytes(4) + text + b"\0"
    head = bytearray(128)
    size = 128 + 4 + 12 + len(tag)
    struct.pack_into(">I", head, 0, size)
    head[8] = 2
    head[12:20], head[36:40] = b"prtrCMYK", b"acsp"
    return bytes(head) + struct.pack(">I4sII", 1, b"targ", 144, len(tag)) + tag


def test_profiles_are_found_plain_and_deflated():
    profile = small_profile()
    data = (
        b"\x7fELF" + bytes(50) + profile + b"acsp" + b"x" * 99 + zlib.compress(profile, 9) + b"\x78\xda tail"
    )
    assert find_icc_profiles(data) == [profile, profile]
    assert targ_text(profile) == "BEGIN_DATA\n"


@pytest.mark.parametrize(
    "profile",
    [b"", bytes(200), small_profile()[:140], small_profile(kind=b"mluc"), small_profile()[:-9]],
)
def test_damaged_profiles_are_refused(profile):
    with pytest.raises(InputError):
        targ_text(profile)


@given(st.binary(max_size=300), st.integers(0, 160), st.binary(min_size=1, max_size=4))
def test_no_bytes_break_the_search(noise, place, patch):
    data = bytearray(small_profile() + noise)
    data[place : place + len(patch)] = patch
    for profile in find_icc_profiles(bytes(data)):
        with suppress(InputError):
            targ_text(profile)


def test_an_absent_package_is_a_storage_error_with_advice(monkeypatch):
    monkeypatch.setattr(embedded, "_DEMO_PACKAGE", "strikeoff-no-such-package")
    with pytest.raises(StorageError, match=r"pip install strikeoff\[demo\]"):
        embedded.measured_cmyk_text()


def test_taking_rows_keeps_lines(smoothed_set):
    part = replace(smoothed_set, source="x").take(np.array([3, 1]))
    assert part.lines == (smoothed_set.lines[3], smoothed_set.lines[1])


@pytest.mark.parametrize("seed", range(5))
def test_many_repeats_tell_of_faults_that_few_would_hide(seed):
    """Fifteen readings of bare cloth that scatter by 0.2; two are darker by as much as 7 % less light."""
    rng = np.random.default_rng(seed)
    lab = np.array([93.0, 0.0, 4.0]) + 0.2 * rng.standard_normal((15, 3))
    names = tuple(f"w{k}" for k in range(15))
    plain = ReadingSet(names, ("1CLR_1",), np.zeros((15, 1)), lab=lab, source="a.csv")
    assert check_repeats(plain, lab) == []
    # CIE 15: L* + 16 goes with the cube root of Y.
    wrong = lab.copy()
    wrong[[4, 11], 0] = (lab[[4, 11], 0] + 16.0) * 0.93 ** (1 / 3) - 16.0
    found = [finding.problem for finding in check_repeats(plain, wrong)]
    assert sorted(problem.where for problem in found) == ["patch w11", "patch w4"]
    assert {problem.message for problem in found} == {"patch differs from its 14 repeats"}
    # So few repeats cannot tell.
    few = plain.take(np.arange(3, 7))
    assert check_repeats(few, wrong[3:7]) == []
