"""Text that real files bend: ISO 28178 with its habits, bare tables, and what must be refused.

The habits (mixed line ends, both descriptor words, blanks or tabs, private keywords) were seen in files that
trade associations publish; the rest is common practice, no source.
"""

import numpy as np
import pytest

from strikeoff.base.errors import InputError, StorageError, UsageError
from strikeoff.measurement.read import parse_readings, read_readings, readings_lab

HEADER = 'ISO28178\nORIGINATOR "a house"\nDESCRIPTOR "chart, 3 patches # END_DATA"\n'
NAMES = "SAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K LAB_L LAB_A LAB_B"
FORMAT = f"NUMBER_OF_FIELDS 8\nBEGIN_DATA_FORMAT\n{NAMES}\nEND_DATA_FORMAT\n"
ROWS = "1 0 0 0 0 95 0.5 -2\n2 100 0 0 0 55 -36 -50\n3 0 50 12.5 0 70 30 4\n"
PLAIN = HEADER + FORMAT + "NUMBER_OF_SETS 3\nBEGIN_DATA\n" + ROWS + "END_DATA\n"


def read(text, **options):
    return parse_readings(text if isinstance(text, bytes) else text.encode(), **options)


def expect_plain(readings):
    assert readings.sample_ids == ("1", "2", "3")
    assert readings.ink_columns == ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")
    np.testing.assert_allclose(readings.coverages, [[0, 0, 0, 0], [1, 0, 0, 0], [0, 0.5, 0.125, 0]])
    np.testing.assert_allclose(readings.lab, [[95, 0.5, -2], [55, -36, -50], [70, 30, 4]])


def messages(problems, severity=None):
    return [str(p) for p in problems if severity in (None, p.severity)]


def test_a_plain_file_reads_without_a_word():
    readings, problems = read(PLAIN)
    expect_plain(readings)
    assert problems == []
    assert readings.lines == (10, 11, 12)
    assert readings.keywords["DESCRIPTOR"] == "chart, 3 patches # END_DATA"
    assert readings.digest.startswith("sha256:")


BENT = {
    "crlf": PLAIN.replace("\n", "\r\n"),
    "crlf header, cr rows": PLAIN.replace("\n", "\r\n", 10).replace("\n2", "\r2").replace("\n3", "\r3"),
    "tabs": PLAIN.replace(ROWS, ROWS.replace(" ", "\t")),
    "many blanks": PLAIN.replace(ROWS, ROWS.replace(" ", "   ")),
    "comments": PLAIN.replace("2 100", "# a comment 1 2 3\n2 100").replace("-2\n", "-2   # paper\n"),
    "decimal commas": PLAIN.replace(ROWS, ROWS.replace(".", ",")),
    "lower-case words": PLAIN.replace("BEGIN_DATA", "begin_data").replace("CMYK_C", "cmyk_c"),
    "quoted names": PLAIN.replace("\n1 0", '\n"1" 0'),
    "other identifier": PLAIN.replace("ISO28178", "CGATS.17").replace("DESCRIPTOR", "FILE_DESCRIPTOR"),
    "bom": "\ufeff" + PLAIN,
    "end of file marks": PLAIN + "\n\n\n\x00",
    "private keywords": PLAIN.replace("ORIG", 'KEYWORD "MY_KEY"\nMY_KEY "BEGIN_DATA"\nORIG'),
    "fields counted late": PLAIN.replace("NUMBER_OF_FIELDS 8\n", "").replace(
        "NUMBER_OF_SETS", "NUMBER_OF_FIELDS 8\nNUMBER_OF_SETS"
    ),
    "starred names": PLAIN.replace("LAB_L LAB_A LAB_B", "LAB_L* Lab_a* LAB_B*"),
    "names over several lines": PLAIN.replace("CMYK_Y CMYK_K", "CMYK_Y\nCMYK_K"),
    "commas between cells": PLAIN.replace(ROWS, ROWS.replace(" ", ",")),
    "another column": PLAIN.replace("LAB_B\n", "LAB_B D_RED\n")
    .replace("-2\n", "-2 x\n")
    .replace("-50\n", "-50 x\n")
    .replace("30 4\n", "30 4 x\n")
    .replace("FIELDS 8", "FIELDS 9"),
}


@pytest.mark.parametrize("name", BENT)
def test_bent_files_give_the_same_readings(name):
    readings, problems = read(BENT[name])
    if "FILE_DESCRIPTOR" not in readings.keywords:
        assert readings.keywords["DESCRIPTOR"].startswith("chart")
    expect_plain(readings)
    assert messages(problems, "error") == []
    assert messages(problems, "warning") == []


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "latin-1", "utf-8-sig"])
def test_encodings(encoding):
    readings, _ = read(PLAIN.replace("a house", "Färberei").encode(encoding))
    expect_plain(readings)
    assert readings.keywords["ORIGINATOR"] == "Färberei"


def test_counts_that_lie_are_reported_with_their_lines():
    readings, problems = read(PLAIN.replace("FIELDS 8", "FIELDS 9").replace("SETS 3", "SETS 40"))
    expect_plain(readings)
    assert [p.where for p in problems if p.severity == "warning"] == ["line 4", "line 8"]
    assert "NUMBER_OF_SETS" in problems[1].message
    assert (problems[1].found, problems[1].expected) == ("40", "3")


def test_missing_counts_are_a_note_only():
    readings, problems = read(PLAIN.replace("NUMBER_OF_SETS 3\n", "").replace("NUMBER_OF_FIELDS 8\n", ""))
    expect_plain(readings)
    assert {p.severity for p in problems} == {"note"}


def test_a_file_that_is_cut_short_is_an_error():
    _, problems = read(PLAIN[: PLAIN.index("3 0 50")])
    (only,) = messages(problems, "error")
    assert "cut short" in only
    assert "2 rows" in only
    with pytest.raises(InputError, match="field names"):
        read(PLAIN[: PLAIN.index("CMYK_K")])


@pytest.mark.parametrize(
    "text",
    [
        "SAMPLE_ID,CMYK_C,CMYK_M,CMYK_Y,CMYK_K,LAB_L,LAB_A,LAB_B\n" + ROWS.replace(" ", ","),
        "SampleID;cmyk c;CMYK_M;CMYK_Y;CMYK_K;L*;a*;b*;;\n"
        + ROWS.replace(" ", ";").replace(".", ",")
        + ";;;\n",
        "SAMPLE_ID\tC\tM\tY\tK\tLAB_L\tLAB_A\tLAB_B\n" + ROWS.replace(" ", "\t"),
        "SAMPLE_NAME CMYK_C CMYK_M CMYK_Y CMYK_K LAB_L LAB_A LAB_B\n" + ROWS,
        "ILLUMINATION_NAME;D50\n\nSAMPLE_ID;CMYK_C;CMYK_M;CMYK_Y;CMYK_K;LAB_L;LAB_A;LAB_B\n"
        + ROWS.replace(" ", ";"),
    ],
)
def test_bare_tables(text):
    readings, problems = read(text)
    np.testing.assert_allclose(readings.coverages[2], [0, 0.5, 0.125, 0])
    np.testing.assert_allclose(readings.lab[1], [55, -36, -50])
    assert {p.severity for p in problems} <= {"note"}


def test_ink_columns_come_in_ink_order_whatever_the_file_does():
    text = "CMYK_K,LAB_L,CMYK_Y,LAB_A,CMYK_C,LAB_B,CMYK_M\n4,50,3,1,1,2,2\n5,60,3,1,1,2,2\n"
    readings, _ = read(text)
    assert readings.inks == ("C", "M", "Y", "K")
    np.testing.assert_allclose(readings.coverages[0], [0.01, 0.02, 0.03, 0.04])


@pytest.mark.parametrize(
    ("names", "inks"),
    [
        ([f"5CLR_{i}" for i in (3, 1, 2, 5, 4)], ["1", "2", "3", "4", "5"]),
        ([f"PC7_{i}" for i in range(1, 8)], [str(i) for i in range(1, 8)]),
        ([f"10CLR_{i}" for i in range(10, 0, -1)], [str(i) for i in range(1, 11)]),
        (["RGB_B", "RGB_R", "RGB_G"], ["R", "G", "B"]),
        (
            ["CMYKOG_C", "CMYKOG_M", "CMYKOG_Y", "CMYKOG_K", "CMYKOG_O", "CMYKOG_G"],
            ["C", "M", "Y", "K", "G", "O"],
        ),
    ],
)
def test_other_ink_sets(names, inks):
    text = ",".join([*names, "LAB_L", "LAB_A", "LAB_B"]) + "\n"
    text += ",".join(["7"] * len(names) + ["50", "1", "2"]) + "\n"
    assert list(read(text)[0].inks) == inks


def spectral(names, factor, form="{:g}"):
    grid = np.arange(380, 731, 10)
    curve = np.linspace(0.05, 0.9, 36)
    rows = np.stack([curve, curve[::-1], np.full(36, 0.95)]) * factor
    text = "SAMPLE_ID\t" + "\t".join(names(nm) for nm in grid) + "\n"
    for number, row in enumerate(rows, 1):
        text += f"{number}\t" + "\t".join(form.format(v) for v in row) + "\n"
    return text, rows / factor


@pytest.mark.parametrize("factor", [1, 100])
@pytest.mark.parametrize(
    "pattern",
    [
        "nm{}",
        "SPECTRAL_NM{}",
        "SPECTRAL_NM_{}",
        "SPEC_{}",
        "NM_{}",
        "SPECTRAL_{}",
        "R_{}",
        "{}",
        "{}nm",
        "R{}",
    ],
)
def test_spectral_names_and_scales(pattern, factor):
    text, truth = spectral(pattern.format, factor)
    readings, problems = read(text, need_inks=False)
    assert readings.wavelengths_nm.tolist() == list(range(380, 731, 10))
    np.testing.assert_allclose(readings.spectra, truth, atol=1e-6)
    assert any("percent" in m for m in messages(problems, "note")) == (factor == 100)


@pytest.mark.parametrize(("word", "factor"), [("DEC", 1), ("PCT", 100)])
def test_wavelengths_in_the_cells(word, factor):
    head = " ".join(f"SPECTRAL_NM SPECTRAL_{word}" for _ in range(36))
    text = f"BEGIN_DATA_FORMAT\nSAMPLE_ID {head}\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    curve = np.linspace(0.005, 0.015, 36)  # so dark that only the name tells the scale
    for number in (1, 2):
        pairs = [f"{nm} {v * factor:.6g}" for nm, v in zip(range(380, 731, 10), curve, strict=True)]
        text += f"{number} " + " ".join(pairs[::-1]) + "\n"
    readings, _ = read(text + "END_DATA\n", need_inks=False)
    assert readings.wavelengths_nm.tolist() == list(range(380, 731, 10))
    np.testing.assert_allclose(readings.spectra, [curve, curve], atol=1e-7)


def test_one_spectrum_in_percent_among_unit_ones_is_an_error():
    text, _ = spectral("nm{}".format, 1)
    bad = "9\t" + "\t".join(["45.0"] * 36) + "\n"
    body = "".join(text.split("\n", 1)[1] for _ in range(20))
    _, problems = read(text + body + bad, need_inks=False)
    (only,) = messages(problems, "error")
    assert "line 65" in only
    assert "reflectance" in only


def test_two_tables_are_joined_by_name_not_by_order():
    text = (
        "BEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K\nEND_DATA_FORMAT\nBEGIN_DATA\n"
        "a 1 2 3 4\nb 5 6 7 8\nc 9 9 9 9\nEND_DATA\n"
        "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
        "b 60 1 2\na 50 3 4\nEND_DATA\n"
    )
    readings, problems = read(text)
    assert readings.sample_ids == ("a", "b")
    np.testing.assert_allclose(readings.coverages[1], [0.05, 0.06, 0.07, 0.08])
    np.testing.assert_allclose(readings.lab[1], [60, 1, 2])
    assert any("1 row without partner" in m for m in messages(problems, "warning"))


def test_what_is_not_needed_may_be_broken():
    ragged = PLAIN.replace("12.5", "x").replace("2 100 0", "2 255 0")
    colours, problems = read(ragged, need_inks=False)
    assert (len(colours), colours.ink_columns, messages(problems, "error")) == (3, (), [])
    colours, problems = read(PLAIN.replace("2 100 0", "2 255 0"), need_inks=False)
    assert (len(colours), colours.ink_columns, messages(problems, "error")) == (3, (), [])
    colours, problems = read(PLAIN.replace("CMYK_K", "OTHER"), need_inks=False)
    assert (len(colours), colours.ink_columns, messages(problems, "error")) == (3, (), [])
    inks, problems = read(PLAIN.replace("-36", "n/a"), need_colour=False)
    assert (len(inks), inks.lab, messages(problems, "error")) == (3, None, [])
    expect_plain(read(PLAIN, need_inks=False)[0])
    expect_plain(read(PLAIN, need_colour=False)[0])


def test_of_two_tables_the_one_with_spectra_wins():
    grid = range(400, 701, 10)
    second = "BEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K " + " ".join(f"nm{nm}" for nm in grid)
    second += "\nEND_DATA_FORMAT\nBEGIN_DATA\n9 1 2 3 4 " + " ".join("0.5" for _ in grid) + "\nEND_DATA\n"
    readings, _ = read(PLAIN + second)
    assert readings.sample_ids == ("9",)


def test_of_two_whole_tables_the_first_is_read_and_the_file_says_so():
    second = PLAIN[PLAIN.index("NUMBER_OF_FIELDS") :].replace("95", "11")
    readings, problems = read(PLAIN + second)
    expect_plain(readings)
    assert any("2 tables" in m for m in messages(problems, "warning"))


@pytest.mark.parametrize(
    ("bad", "found"),
    [("nan", "nan"), ("abc", "abc"), ('""', ""), ("1.2.3", "1.2.3"), ("inf", "inf"), ("1_0", "1_0")],
)
def test_a_cell_without_a_number_is_named_by_line_and_column(bad, found):
    readings, problems = read(PLAIN.replace("12.5", bad))
    (only,) = [p for p in problems if p.severity == "error"]
    assert only.where == "line 12, column CMYK_Y"
    assert only.found == (repr(found) if found else "nothing")
    assert readings.sample_ids == ("1", "2")


def test_an_empty_cell_between_tabs_is_found():
    _, problems = read(PLAIN.replace(ROWS, ROWS.replace(" ", "\t").replace("12.5", "")))
    assert [p.where for p in problems if p.severity == "error"] == ["line 12, column CMYK_Y"]


@pytest.mark.parametrize(
    ("row", "word"), [("3 0 50 12.5 0 70 30", "few"), ("3 0 50 12.5 0 70 30 4 5", "many")]
)
def test_rows_that_do_not_fit(row, word):
    readings, problems = read(PLAIN.replace("3 0 50 12.5 0 70 30 4", row))
    (only,) = [p for p in problems if p.severity == "error"]
    assert only.where == "line 12"
    assert word in only.message
    assert len(readings) == 2


def test_ink_scales():
    text = PLAIN.replace("2 100 0", "2 255 0").replace("50 12.5", "127.5 31.875")
    _, problems = read(text)
    error = next(p for p in problems if p.severity == "error")
    assert error.where == "line 11, column CMYK_C"
    assert "--ink-scale" in error.advice
    expect_plain(read(text, ink_scale="byte")[0])
    unit = PLAIN.replace("2 100 0", "2 1 0").replace("50 12.5", "0.5 0.125")
    _, problems = read(unit)
    assert any("--ink-scale unit" in m for m in messages(problems, "error"))
    expect_plain(read(unit, ink_scale="unit")[0])
    with pytest.raises(UsageError, match="percent, unit, byte"):
        read(PLAIN, ink_scale="half")


@pytest.mark.parametrize(
    ("value", "ok"), [("100.4", True), ("-0.4", True), ("100.6", False), ("-0.6", False)]
)
def test_ink_limits_have_half_a_percent_of_slack(value, ok):
    readings, problems = read(PLAIN.replace("2 100 0", f"2 {value} 0"))
    assert (not messages(problems, "error")) == ok
    assert len(messages(problems, "warning")) == ok
    assert readings.coverages.min() >= 0
    assert readings.coverages.max() <= 1


def test_what_is_missing_or_double_is_named_with_what_was_found():
    with pytest.raises(InputError, match="CMYK_C, CMYK_M, CMYK_Y"):
        read(PLAIN.replace("CMYK_K", "OTHER"))
    with pytest.raises(InputError, match="no ink columns") as caught:
        read("SAMPLE_ID,LAB_L,LAB_A,LAB_B\n1,2,3,4\n")
    assert "LAB_L" in caught.value.found
    with pytest.raises(InputError, match="no colour columns"):
        read("SAMPLE_ID,CMYK_C,CMYK_M,CMYK_Y,CMYK_K\n1,2,3,4,5\n")
    with pytest.raises(InputError, match=r"LAB columns are not complete.*LAB_B"):
        read(PLAIN.replace("LAB_B", "OTHER"))
    with pytest.raises(InputError, match=r"more than once.*CMYK_M"):
        read(PLAIN.replace("CMYK_K", "CMYK_M"))
    with pytest.raises(InputError, match="more than once"):
        read(PLAIN.replace("LAB_L", "LAB_A"))


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "empty"),
        (b" \r\n\t\n", "empty"),
        (b"II*\x00\x08\x00\x00\x00" + bytes(range(256)), "no text"),
        (b"hello world, this is a letter\nwith two lines\n", "no field names"),
        (b"1 2 3 4\n5 6 7 8\n", "no field names"),
        (b"BEGIN_DATA\n1 2\nEND_DATA\n", "without field names"),
        (b"SAMPLE_ID LAB_L LAB_A LAB_B\n", "no rows"),
        (b"x" * 300_000, "too long"),
        (b"\n" * 3_000_000 + b"x", "too many lines"),
        ((",".join(f"c{i}" for i in range(5000)) + "\n").encode(), "no field names"),
    ],
)
def test_what_is_no_table_is_refused_in_one_line(data, message):
    with pytest.raises(InputError, match=message) as caught:
        read(data, need_inks=False)
    assert "\n" not in str(caught.value)


def test_colours_rank_spectra_xyz_lab():
    text, _ = spectral("nm{}".format, 100)
    head, *rows = text.strip().split("\n")
    text = "\n".join([head + "\tLAB_L\tLAB_A\tLAB_B", *(row + "\t1\t2\t3" for row in rows)])
    readings, _ = read(text, need_inks=False)
    np.testing.assert_allclose(readings.lab, [[1, 2, 3]] * 3)
    assert abs(readings_lab(readings)[2, 0] - 98.0) < 0.1  # L* of 95 percent
    assert not np.allclose(readings_lab(readings, "A", "10"), readings_lab(readings))
    lab_only, _ = read(PLAIN)
    np.testing.assert_array_equal(readings_lab(lab_only, "d50", "2"), lab_only.lab)
    with pytest.raises(UsageError, match="one light"):
        readings_lab(lab_only, "D65")


def test_a_gap_in_a_lesser_colour_costs_that_colour_only():
    text, _ = spectral("nm{}".format, 100)
    head, *rows = text.strip().split("\n")
    text = "\n".join([head + "\tLAB_L\tLAB_A\tLAB_B", *(row + "\t1\tx\t3" for row in rows)])
    readings, problems = read(text, need_inks=False)
    assert len(readings) == 3
    assert readings.lab is None
    assert messages(problems, "error") == []
    assert any("LAB columns have gaps" in m for m in messages(problems, "warning"))


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (
            'WEIGHTING_FUNCTION "ILLUMINANT, D65"\nWEIGHTING_FUNCTION "OBSERVER, 10 degree"',
            ("D65", "10", None),
        ),
        ('MEASUREMENT_SOURCE "MeasurementCondition=M1 Filter=None"', ("D50", "2", "M1")),
        ('MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 Degree WhiteBase=Abs"', ("D50", "2", None)),
        ('ILLUMINATION_NAME "F11"\nOBSERVER_ANGLE "10"\nFILTER "M2"', ("FL11", "10", "M2")),
    ],
)
def test_set_up_from_the_header(lines, expected):
    setup = read(PLAIN.replace("ORIG", lines + "\nORIG"))[0].setup
    assert (setup.illuminant, setup.observer, setup.mode) == expected


def test_a_light_nobody_knows_is_reported():
    readings, problems = read(PLAIN.replace("ORIG", 'ILLUMINATION_NAME "MOON"\nORIG'))
    assert readings.setup.illuminant == "D50"
    assert any("MOON" in m for m in messages(problems, "warning"))


def test_the_rest_of_the_set_up():
    lines = 'MEASUREMENT_GEOMETRY "45/0"\nSAMPLE_BACKING "white"\nINSTRUMENTATION "reader 7"\n'
    lines += 'MEASUREMENT_APERTURE "4,5 mm"\n'
    setup = read(PLAIN.replace("ORIG", lines + "ORIG"))[0].setup
    assert (setup.geometry, setup.backing, setup.instrument, setup.aperture_mm) == (
        "45/0",
        "white",
        "reader 7",
        4.5,
    )


def test_files_that_cannot_be_opened(tmp_path):
    with pytest.raises(StorageError):
        read_readings(tmp_path / "absent.txt")
    with pytest.raises(StorageError):
        read_readings(tmp_path)
    bad = tmp_path / "bad.txt"
    bad.write_text("nothing")
    with pytest.raises(InputError) as caught:
        read_readings(bad)
    assert caught.value.path == str(bad)


def test_faults_without_end_are_counted_not_listed():
    text = PLAIN.replace(ROWS, "".join(f"{i} x x x x 1 2 3\n" for i in range(2000)) + ROWS)
    readings, problems = read(text)
    assert len(problems) < 120
    assert any("1950 further" in m for m in messages(problems))
    assert len(readings) == 3
