"""What is written reads back, however the text is bent on the way; and no bytes break the reader."""

import random
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, StorageError, StrikeoffError
from strikeoff.measurement.csv_text import format_csv, write_csv
from strikeoff.measurement.iso28178 import format_iso28178, write_iso28178
from strikeoff.measurement.read import parse_readings, read_readings
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.measurement.write import write_readings

NAMES = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp", "Zs"))
    | st.sampled_from(' ,;#"\t'),
    min_size=1,
    max_size=8,
).map(lambda s: " ".join(s.split()) or "x")


@st.composite
def reading_sets(draw):
    n = draw(st.integers(1, 6))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    columns = draw(
        st.sampled_from(
            [("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"), tuple(f"7CLR_{i}" for i in range(1, 8)), ("1CLR_1",)]
        )
    )
    coverages = rng.uniform(0, 1, (n, len(columns)))
    coverages[rng.random(coverages.shape) < 0.3] = 0.0
    coverages[0] = 1.0  # some ink above one percent, so that no hint about the scale is due
    grid = np.arange(400.0, 701.0, draw(st.sampled_from([10.0, 20.0, 12.5])))
    kind = draw(st.sampled_from(["lab", "xyz", "spectra", "all"]))
    return ReadingSet(
        sample_ids=tuple(draw(NAMES) for _ in range(n)),
        ink_columns=columns,
        coverages=coverages,
        spectra=rng.uniform(0, 1.1, (n, grid.size)) if kind in ("spectra", "all") else None,
        wavelengths_nm=grid if kind in ("spectra", "all") else None,
        xyz=rng.uniform(5, 100, (n, 3)) if kind in ("xyz", "all") else None,
        lab=rng.uniform(-90, 90, (n, 3)) if kind in ("lab", "all") else None,
        setup=Setup("D65", "10", mode="M1", backing="white, 2 layers", aperture_mm=6.0),
    )


def expect_equal(found, wanted, *, names=True):
    if names:
        assert found.sample_ids == wanted.sample_ids
    assert found.ink_columns == wanted.ink_columns
    for part in ("coverages", "spectra", "wavelengths_nm", "xyz", "lab"):
        ours, theirs = getattr(found, part), getattr(wanted, part)
        assert (ours is None) == (theirs is None)
        if ours is not None:
            np.testing.assert_allclose(ours, theirs, rtol=1e-9, atol=1e-9)


@settings(max_examples=50)
@given(reading_sets())
def test_iso_text_reads_back(readings):
    found, problems = parse_readings(format_iso28178(readings).encode())
    expect_equal(found, readings)
    assert found.setup == readings.setup
    assert [p for p in problems if p.severity != "note"] == []


@settings(max_examples=50)
@given(reading_sets(), st.sampled_from([",", ";", "\t"]))
def test_delimited_text_reads_back(readings, delimiter):
    found, problems = parse_readings(format_csv(readings, delimiter=delimiter).encode())
    expect_equal(found, readings)
    assert (found.setup.illuminant, found.setup.observer) == ("D65", "10")
    assert [p for p in problems if p.severity != "note"] == []


@given(
    reading_sets(),
    st.integers(0, 2**32 - 1),
    st.sampled_from(["\t", " ", "    ", " \t ", ";", ","]),
    st.booleans(),
    st.booleans(),
)
def test_bent_iso_text_reads_back(readings, seed, separator, decimal_comma, header):
    chance = random.Random(seed)
    plain = [f"p{i}" for i in range(len(readings))]
    readings = ReadingSet(
        tuple(plain),
        readings.ink_columns,
        readings.coverages,
        readings.spectra,
        readings.wavelengths_nm,
        readings.xyz,
        readings.lab,
    )
    lines = format_iso28178(readings).split("\n")
    start = lines.index("BEGIN_DATA_FORMAT") + 1
    order = list(range(len(lines[start].split("\t"))))
    chance.shuffle(order)
    comma = decimal_comma and separator != ","
    bent = []
    for line in lines:
        cells = line.split("\t")
        if len(cells) == len(order) and len(order) > 1:
            cells = [cells[i] for i in order]
            line = separator.join(
                cell.replace(".", ",") if comma and cell[0] != "S" else cell for cell in cells
            )
        bent.append(line)
    if not header:
        bent = [bent[start], *bent[bent.index("BEGIN_DATA") + 1 : -2]]
        if separator == " \t ":
            bent = [line.replace(" \t ", " ") for line in bent]
    text = "".join(line + chance.choice(["\n", "\r\n", "\r"]) for line in bent)
    found, problems = parse_readings(text.encode())
    assert [p for p in problems if p.severity == "error"] == []
    expect_equal(found, readings)


def test_extra_columns_and_header_are_written(tmp_path):
    readings = ReadingSet(
        ("a", "b"), ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"), np.eye(4)[:2], lab=np.ones((2, 3))
    )
    path = tmp_path / "out" / "match.txt"
    extra = {"DE00": [0.25, 1.0], "IN_GAMUT": np.array([True, False]), "NOTE": ["far out", "x"]}
    write_iso28178(path, readings, extra, {"SOURCE_DIGEST": 'sha256:0 "x"', "illumination_name": "D65"})
    text = path.read_text()
    assert "DE00\tIN_GAMUT\tNOTE" in text
    assert '\t0.25\t1\t"far out"\n' in text
    assert 'ILLUMINATION_NAME "D65"' in text
    found, problems = read_readings(path)
    expect_equal(found, readings)
    assert found.keywords["SOURCE_DIGEST"] == 'sha256:0 "x"'
    assert problems == []
    with pytest.raises(InputError, match="DE00"):
        write_iso28178(path, readings, {"DE00": [1.0]})


@pytest.mark.parametrize(("name", "mark"), [("a.csv", ","), ("a.TSV", "\t"), ("a.txt", "BEGIN_DATA")])
def test_the_ending_chooses_the_format(tmp_path, name, mark):
    readings = ReadingSet(("a",), ("1CLR_1",), np.array([[0.5]]), lab=np.ones((1, 3)))
    write_readings(tmp_path / name, readings)
    assert mark in (tmp_path / name).read_text()
    expect_equal(read_readings(tmp_path / name)[0], readings)


def test_inks_only_and_colours_only(tmp_path):
    inks = ReadingSet(("a",), ("1CLR_1",), np.array([[0.5]]))
    write_csv(tmp_path / "i.csv", inks)
    expect_equal(read_readings(tmp_path / "i.csv", need_colour=False)[0], inks)
    colours = ReadingSet(("a",), (), np.zeros((1, 0)), lab=np.array([[50.0, 1, 2]]))
    write_csv(tmp_path / "c.csv", colours)
    expect_equal(read_readings(tmp_path / "c.csv", need_inks=False)[0], colours)


def test_writing_where_one_may_not(tmp_path):
    readings = ReadingSet(("a",), ("1CLR_1",), np.array([[0.5]]))
    (tmp_path / "file").write_text("x")
    with pytest.raises(StorageError):
        write_readings(tmp_path / "file" / "a.txt", readings)


def test_real_sets_survive_writing(measured_set, smoothed_set):
    for readings in (measured_set, smoothed_set):
        expect_equal(parse_readings(format_iso28178(readings).encode())[0], readings)


def survives(data):
    try:
        readings, problems = parse_readings(data, need_inks=False)
    except StrikeoffError:
        return
    assert len(readings) > 0
    for part in (readings.coverages, readings.spectra, readings.xyz, readings.lab):
        assert part is None or np.all(np.isfinite(part))
    assert len(problems) < 1000


@given(st.binary(max_size=400))
def test_random_bytes_never_break_the_reader(data):
    survives(data)


WORDS = st.sampled_from(
    [
        *[
            "BEGIN_DATA",
            "END_DATA",
            "BEGIN_DATA_FORMAT",
            "END_DATA_FORMAT",
            "NUMBER_OF_SETS",
            "NUMBER_OF_FIELDS",
        ],
        *[
            "KEYWORD",
            "SAMPLE_ID",
            "CMYK_C",
            "CMYK_M",
            "CMYK_Y",
            "CMYK_K",
            "2CLR_1",
            "2CLR_2",
            "LAB_L",
            "LAB_A",
        ],
        *[
            "LAB_B",
            "XYZ_X",
            "nm380",
            "nm390",
            "nm400",
            "SPECTRAL_NM",
            "SPECTRAL_PCT",
            "L",
            "A",
            "B",
            "0",
            "1",
        ],
        *["50", "1e999", "-1e-400", "nan", "1,5", '"', '""', "#", ",", ";", "9" * 20, "\ufeff", "\x85", "²"],
    ]
)


@settings(max_examples=300)
@given(st.lists(st.tuples(WORDS, st.sampled_from([" ", "\n", "\t", ",", ";", "\r", '"'])), max_size=60))
def test_random_words_never_break_the_reader(parts):
    survives("".join(a + b for a, b in parts).encode())


@settings(max_examples=100)
@given(reading_sets(), st.data())
def test_damaged_files_never_break_the_reader(readings, data):
    blob = bytearray(format_iso28178(readings).encode())
    for _ in range(data.draw(st.integers(1, 6))):
        place = data.draw(st.integers(0, len(blob) - 1))
        kind = data.draw(st.sampled_from(["flip", "cut", "drop", "twice"]))
        if kind == "flip":
            blob[place] = data.draw(st.integers(0, 255))
        elif kind == "cut" and place > 0:
            del blob[place:]
        elif kind == "drop" and len(blob) > 40:
            del blob[place : place + 20]
        else:
            blob[place:place] = blob[place : place + 60]
    survives(bytes(blob))


@pytest.mark.parametrize(
    "data",
    [
        b"SAMPLE_ID LAB_L LAB_A LAB_B\n" + b"1 2 3 4\n" * 50_000,
        b"BEGIN_DATA_FORMAT\n" + b"a b c d e f g h\n" * 100_000,
        b"K v\n" * 100_000 + b"BEGIN_DATA\n",
        (b'"' * 200_000 + b"\n") * 20,
        b"SAMPLE_ID,LAB_L,LAB_A,LAB_B\n" + (b'"' * 200_000 + b"\n") * 20,
        b"SAMPLE_ID;LAB_L;LAB_A;LAB_B" + b";" * 60_000 + b"\n" + (b"1;2;3;4" + b";" * 250_000 + b"\n") * 40,
        (b"1 " * 100_000 + b"\n") * 40,
        b"BEGIN_DATA_FORMAT\nLAB_L" + b" x" * 1_900 + b"\nEND_DATA_FORMAT\n" + b"BEGIN_DATA\n1\n" * 100_000,
        b"SAMPLE_ID LAB_L LAB_A LAB_B\n1 " + b"1" * 250_000 + b"x 2 3\n",
        b'K x\nMEASUREMENT_SOURCE "' + b"illum" * 50_000 + b'"\n',
        b"DESCRIPTOR x\n" * 100_000 + b"BEGIN_DATA\n",
    ],
)
def test_large_nonsense_takes_little_time(data):
    start = time.monotonic()
    survives(data)
    assert time.monotonic() - start < 10
