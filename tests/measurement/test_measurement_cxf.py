"""CxF3 in and out: what is written reads back, foreign documents are understood, hostile ones refused.

Element names and ranges: ISO 17972-1 (CxF3 core schema), as the CxF library carries them.
"""

import re
import time
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.measurement.chart_patches import read_chart
from strikeoff.measurement.cxf import parse_cxf
from strikeoff.measurement.cxf_write import format_cxf
from strikeoff.measurement.further_columns import further_columns
from strikeoff.measurement.line_widths import read_line_widths
from strikeoff.measurement.read import parse_readings, read_readings
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.measurement.write import write_readings
from strikeoff.workbench.readings_files import convert_readings, merge_readings

NAMESPACE = "http://colorexchangeformat.com/CxF3-core"


def document(objects, specifications, information=""):
    """A CxF3 document written by hand."""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<cc:CxF xmlns:cc="{NAMESPACE}">\n{information}'
        f"<cc:Resources><cc:ObjectCollection>\n{objects}\n</cc:ObjectCollection>"
        f"<cc:ColorSpecificationCollection>{specifications}</cc:ColorSpecificationCollection>"
        "</cc:Resources></cc:CxF>"
    ).encode()


def specification(name, *, mode="M1_Daylight", backing="black", light="", start=400, increment=20):
    return (
        f'<cc:ColorSpecification Id="{name}">{light}<cc:MeasurementSpec>'
        "<cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType><cc:GeometryChoice><cc:SingleAngle>"
        "<cc:SingleAngleConfiguration>Annular</cc:SingleAngleConfiguration>"
        "<cc:IlluminationAngle>45</cc:IlluminationAngle><cc:MeasurementAngle>0</cc:MeasurementAngle>"
        f'</cc:SingleAngle></cc:GeometryChoice><cc:WavelengthRange StartWL="{start}" '
        f'Increment="{increment}"/>'
        f"<cc:Aperture>4.5 mm</cc:Aperture><cc:Backing>{backing}</cc:Backing><cc:Device>"
        "<cc:Model>S9</cc:Model>"
        f"<cc:DeviceIllumination>{mode}</cc:DeviceIllumination></cc:Device>"
        "</cc:MeasurementSpec></cc:ColorSpecification>"
    )


D65_10 = (
    "<cc:TristimulusSpec><cc:Illuminant>D65</cc:Illuminant><cc:Observer>10_Degree</cc:Observer>"
    "<cc:Method>E308_Table5</cc:Method></cc:TristimulusSpec>"
)


def patch(name, colour, device=""):
    return (
        f'<cc:Object ObjectType="Target" Name="{name}" Id="{name}">'
        f"<cc:CreationDate>2026-05-01T10:00:00</cc:CreationDate><cc:ColorValues>{colour}</cc:ColorValues>"
        f"<cc:DeviceColorValues>{device}</cc:DeviceColorValues></cc:Object>\n"
    )


def spectrum(text, spec="s"):
    return f'<cc:ReflectanceSpectrum ColorSpecification="{spec}">{text}</cc:ReflectanceSpectrum>'


def cmyk(*values, tag="ColorCMYK", more=""):
    inner = "".join(
        f"<cc:{name}>{v}</cc:{name}>"
        for name, v in zip(("Cyan", "Magenta", "Yellow", "Black"), values, strict=True)
    )
    return f'<cc:{tag} ColorSpecification="s">{inner}{more}</cc:{tag}>'


SPOT = "<cc:SpotColor><cc:Name>{}</cc:Name><cc:Percentage>{}</cc:Percentage></cc:SpotColor>"


def test_a_foreign_document():
    data = document(
        patch("A1", spectrum("0.1 0.2 0.3"), cmyk(0, 0, 0, 0))
        + patch("A2", spectrum("0.4 0.5 0.6"), cmyk(10, 20, 30, 40)),
        specification("s"),
        '<cc:FileInformation><cc:Creator>Bench 4</cc:Creator><cc:Tag Name="Lot" Value="7 b"/>'
        "</cc:FileInformation>",
    )
    readings, problems = parse_readings(data)
    assert readings.sample_ids == ("A1", "A2")
    assert readings.ink_columns == ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")
    np.testing.assert_allclose(readings.coverages, [[0, 0, 0, 0], [0.1, 0.2, 0.3, 0.4]])
    np.testing.assert_allclose(readings.spectra, [[0.1, 0.2, 0.3], [0.4, 0.5, 0.6]])
    assert readings.wavelengths_nm.tolist() == [400, 420, 440]
    assert readings.lines == (4, 5)
    setup = Setup(mode="M1", geometry="45/0", backing="black", instrument="S9", aperture_mm=4.5)
    assert readings.setup == setup
    assert (readings.keywords["ORIGINATOR"], readings.keywords["LOT"]) == ("Bench 4", "7 b")
    assert problems == []


def test_more_inks_than_four_and_lab_under_its_own_light():
    lab = (
        '<cc:ColorCIELab ColorSpecification="t"><cc:L>50</cc:L><cc:A>-3</cc:A><cc:B>4</cc:B></cc:ColorCIELab>'
    )
    specs = specification("s") + specification("t", light=D65_10)
    more = SPOT.format("Leaf green", 50) + SPOT.format("White", 9)
    green = cmyk(1, 2, 3, 4, tag="ColorCMYKPlusN", more=more)
    readings, _ = parse_readings(document(patch("1", lab, green), specs))
    assert readings.ink_columns == tuple(f"6CLR_{i}" for i in range(1, 7))
    np.testing.assert_allclose(readings.coverages, [[0.01, 0.02, 0.03, 0.04, 0.5, 0.09]])
    assert (readings.setup.illuminant, readings.setup.observer) == ("D65", "10")
    assert readings.keywords["INK_NAMES"] == "C M Y K Leaf_green White"
    orange = cmyk(1, 2, 3, 4, tag="ColorCMYKPlusN", more=SPOT.format("O", 50))
    readings, _ = parse_readings(document(patch("1", lab, orange), specs))
    assert readings.ink_columns == ("CMYKO_C", "CMYKO_M", "CMYKO_Y", "CMYKO_K", "CMYKO_O")


def test_a_spot_ink_is_a_ramp_on_its_substrate():
    """ISO 17972-4 (structure from memory): the same tints on the substrate and over black."""
    spot = '<cc:ColorCustom ColorSpecification="s">' + SPOT + "</cc:ColorCustom>"
    tints = [(0, "0.8 0.8 0.8"), (50, "0.6 0.4 0.3"), (100, "0.5 0.2 0.1")]
    pale = "".join(patch(f"w{t}", spectrum(text), spot.format("Coral 12", t)) for t, text in tints)
    dark = "".join(patch(f"k{t}", spectrum("0.04 0.03 0.02"), spot.format("Coral 12", t)) for t, _ in tints)
    listed = "".join(
        f'<sic:MeasurementSet Background="{name}">'
        + "".join(f'<sic:Measurement TintLevel="{t}" ObjectRef="{letter}{t}"/>' for t, _ in tints)
        + "</sic:MeasurementSet>"
        for name, letter in (("Substrate", "w"), ("Black", "k"))
    )
    own = (
        '<cc:CustomResources xmlns:sic="http://colorexchangeformat.com/CxF3-SpotInkCharacterisation">'
        f'<sic:SpotInkCharacterisation SpotInkName="Coral 12">{listed}</sic:SpotInkCharacterisation>'
        "</cc:CustomResources></cc:CxF>"
    )
    data = document(pale + dark, specification("s")).replace(b"</cc:CxF>", own.encode())
    readings, problems = parse_readings(data, need_inks=True)
    assert readings.sample_ids == ("w0", "w50", "w100")
    assert readings.coverages.ravel().tolist() == [0.0, 0.5, 1.0]
    assert readings.keywords["INK_NAMES"] == "Coral_12"
    assert [p.message for p in problems if "left out" in p.message] == [
        "3 tints printed over Black left out: only those on the substrate make a ramp"
    ]
    bare = b'<sic:MeasurementSet Background="Substrate">'
    with pytest.raises(InputError, match="nothing in the file is printed on the substrate") as told:
        parse_readings(data.replace(bare, bare.replace(b"Substrate", b"White")))
    assert told.value.found == "6 tints over Black, White"


def test_a_word_that_cxf_does_not_know_is_told_with_those_that_it_does():
    """Words of DeviceIllumination, CxF3 schema, from memory: M0_Incandescent, M1_Daylight and so on."""
    data = document(patch("1", spectrum("0.1 0.2"), cmyk(0, 0, 0, 0)), specification("s", mode="M2_NoUV"))
    with pytest.raises(InputError, match="not of its kind") as told:
        parse_readings(data)
    assert "'M2_NoUV'" in told.value.found
    assert told.value.expected.startswith("one of M0_Incandescent, M1_Daylight, ")


@pytest.mark.parametrize("part", ["mode", "backing"])
def test_several_set_ups_in_one_file_are_refused(part):
    other = {"mode": {"mode": "M0_Incandescent"}, "backing": {"backing": "white"}}[part]
    specs = specification("s") + specification("t", **other)
    data = document(
        patch("1", spectrum("0.1 0.2"), cmyk(0, 0, 0, 0))
        + patch("2", spectrum("0.1 0.2", "t"), cmyk(9, 0, 0, 0)),
        specs,
    )
    with pytest.raises(InputError, match="several set-ups") as caught:
        parse_readings(data)
    assert caught.value.where.startswith("line 5")


def bad_documents():
    good = patch("1", spectrum("0.1 0.2"), cmyk(0, 0, 0, 0))
    five_inks = cmyk(1, 1, 1, 1, tag="ColorCMYKPlusN", more=SPOT.format("O", 5))
    whole = document(good, specification("s"))
    entities = b'<!DOCTYPE a [<!ENTITY x "aaaa"><!ENTITY y "&x;&x;&x;&x;">]>'
    return {
        "entities": (whole.replace(b"?>\n", b"?>\n" + entities, 1), "document type"),
        "a file from elsewhere": (
            whole.replace(b"?>\n", b'?>\n<!DOCTYPE a SYSTEM "file:///etc/passwd">', 1),
            "document type",
        ),
        "cut short": (whole[:-30], "damaged"),
        "another language": (b"<html><body>hello</body></html>", "not CxF3"),
        "an older version": (whole.replace(b"CxF3-core", b"CxF2"), "not CxF3"),
        "deep": (whole.replace(b"<cc:ColorValues>", b"<cc:ColorValues>" + b"<x>" * 5000), "deep"),
        "a word for a number": (whole.replace(b"0.2", b"two"), "not of its kind"),
        "no increment": (whole.replace(b' Increment="20"', b""), "increment"),
        "no set-up": (document(good, ""), "increment"),
        "impossible grid": (whole.replace(b'"20"', b'"900"'), "impossible"),
        "negative grid": (whole.replace(b'"20"', b'"-20"'), "impossible"),
        "no objects": (document("", specification("s")), "no objects"),
        "no inks": (document(patch("1", spectrum("0.1 0.2")), specification("s")), "ink columns"),
        "no colour": (document(patch("1", "", cmyk(0, 0, 0, 0)), specification("s")), "colour columns"),
        "ragged": (
            document(good + patch("2", spectrum("0.1 0.2 0.3"), cmyk(9, 0, 0, 0)), specification("s")),
            "differ in their wavelengths",
        ),
        "other inks": (
            document(good + patch("2", spectrum("0.1 0.2"), five_inks), specification("s")),
            "different ink sets",
        ),
        "ink above full": (
            document(patch("1", spectrum("0.1 0.2"), cmyk(0, 130, 0, 0)), specification("s")),
            "out of range",
        ),
    }


@pytest.mark.parametrize("name", bad_documents())
def test_bad_documents(name):
    data, says = bad_documents()[name]
    with pytest.raises(InputError, match=says):
        parse_readings(data)


def test_many_elements_are_refused_before_they_fill_memory(monkeypatch):
    monkeypatch.setattr("strikeoff.measurement.cxf_scan._MAX_ELEMENTS", 1000)
    data = document(patch("1", spectrum("0.1 0.2"), "<cc:x/>" * 2000), specification("s"))
    start = time.process_time()
    with pytest.raises(InputError, match="too many elements"):
        parse_readings(data)
    assert time.process_time() - start < 2


@given(st.integers(0, 2500), st.binary(min_size=1, max_size=6), st.booleans())
def test_no_bytes_break_the_reader(place, noise, cut):
    data = bytearray(document(patch("1", spectrum("0.1 0.2"), cmyk(0, 0, 0, 0)), specification("s")))
    data[place : place + len(noise)] = noise
    with suppress(InputError):
        parse_readings(bytes(data[:place] if cut else data))


COLUMNS = {
    3: ("3CLR_1", "3CLR_2", "3CLR_3"),
    4: ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"),
    6: tuple(f"CMYKGO_{ink}" for ink in "CMYKGO"),
    7: tuple(f"7CLR_{i}" for i in range(1, 8)),
}


@st.composite
def reading_sets(draw):
    n, columns = draw(st.integers(1, 4)), COLUMNS[draw(st.sampled_from(sorted(COLUMNS)))]
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    bands = draw(st.sampled_from([0, 16, 31, 36]))
    has_lab = draw(st.booleans()) or not bands
    texts = st.text("abc/45 ", min_size=1, max_size=8).map(lambda text: " ".join(text.split()) or "b")
    names = st.text("aB1-_ é<&\"'", min_size=1).map(lambda text: " ".join(text.split()) or "x")
    lights = ["D50", "D65", "A", "FL2", "FL11", "LED-B3"]
    return ReadingSet(
        tuple(draw(st.lists(names, min_size=n, max_size=n))),
        columns,
        np.round(rng.uniform(0, 1, (n, len(columns))), 4),
        spectra=np.round(rng.uniform(0, 1.2, (n, bands)), 5) if bands else None,
        wavelengths_nm=400.0 + draw(st.sampled_from([5, 10])) * np.arange(bands) if bands else None,
        xyz=np.round(rng.uniform(2, 90, (n, 3)), 4) if draw(st.booleans()) else None,
        lab=np.round(rng.uniform(-60, 90, (n, 3)), 4) if has_lab else None,
        setup=Setup(
            illuminant=draw(st.sampled_from(lights)),
            observer=draw(st.sampled_from(["2", "10"])),
            mode=draw(st.sampled_from([None, "M0", "M1", "M2", "M3"])),
            geometry=draw(st.none() | texts),
            backing=draw(st.none() | texts),
            side=draw(st.sampled_from([None, "face", "back", "backlit"])),
            instrument=draw(st.none() | texts),
            aperture_mm=draw(st.sampled_from([None, 4.5, 8.0])),
        ),
    )


@settings(max_examples=40)
@given(reading_sets())
def test_what_is_written_reads_back(readings):
    back, _ = parse_readings(format_cxf(readings))
    assert back.sample_ids == readings.sample_ids
    assert back.ink_columns == readings.ink_columns
    for name in ("coverages", "spectra", "wavelengths_nm", "xyz", "lab"):
        ours, theirs = getattr(readings, name), getattr(back, name)
        assert (ours is None) == (theirs is None), name
        if ours is not None and not (name == "xyz" and ours.max() <= 1.6):
            np.testing.assert_allclose(theirs, ours, rtol=1e-9, atol=1e-12, err_msg=name)
    assert back.setup == readings.setup


def test_files_by_ending_and_equal_bytes(tmp_path, measured_set):
    part = measured_set.take(np.arange(12))
    for name in ("a.cxf", "b.xml"):
        write_readings(tmp_path / name, part, {"DE00": np.arange(12.0)}, {"Descriptor": "test"})
    assert (tmp_path / "a.cxf").read_bytes() == (tmp_path / "b.xml").read_bytes()
    back, problems = read_readings(tmp_path / "a.cxf")
    np.testing.assert_allclose(back.spectra, part.spectra, rtol=1e-9)
    assert (back.keywords["DESCRIPTOR"], problems) == ("test", [])
    with pytest.raises(InputError, match="evenly spaced"):
        format_cxf(replace(part, wavelengths_nm=part.wavelengths_nm + 0.5))


@pytest.mark.parametrize(
    ("stated", "date"),
    [
        (None, None),
        ("May 2026", None),
        ("2026-05-01T10:00:00", "2026-05-01T10:00:00"),
        ("2026-05-01", "2026-05-01T00:00:00"),
    ],
)
def test_a_document_has_the_date_of_its_readings_or_none(small_readings, tmp_path, stated, date):
    """ISO 17972-1: CreationDate may be left out of FileInformation, but not out of an Object."""
    header = {} if stated is None else {"CREATED": stated}
    made = format_cxf(small_readings.readings, header=header)
    head, objects = re.split(r"<(?:\w+:)?ObjectCollection", made.decode(), maxsplit=1)
    assert re.findall(r"CreationDate>([^<]+)<", head) == ([] if date is None else [date])
    dates = set(re.findall(r"CreationDate>([^<]+)<", objects))
    assert dates == {date or "1980-01-01T00:00:00"}
    back, _ = parse_readings(made, source="a.cxf")
    assert back.keywords.get("CREATED") == stated
    (tmp_path / "a.cxf").write_bytes(made)
    convert_readings(tmp_path / "a.cxf", tmp_path / "a.txt")
    assert "1980" not in (tmp_path / "a.txt").read_text().split("BEGIN_DATA")[0]


def test_documents_of_before_said_a_date_that_nobody_knew():
    information = (
        "<cc:FileInformation><cc:Creator>strikeoff</cc:Creator>"
        "<cc:CreationDate>{}</cc:CreationDate></cc:FileInformation>"
    )
    for date, known in (("1980-01-01T00:00:00", None), ("2026-05-01T10:00:00", "2026-05-01T10:00:00")):
        made = document(
            patch("A1", spectrum("0.1 0.2"), cmyk(0, 0, 0, 0)), specification("s"), information.format(date)
        )
        assert parse_readings(made, source="a.cxf")[0].keywords.get("CREATED") == known


def test_a_patch_without_its_spectrum_is_one_error_that_names_it():
    """ISO 17972-1: an object need not have a spectrum."""
    data = document(
        patch("bare", spectrum("0.8 0.8 0.8"), cmyk(0, 0, 0, 0)) + patch("lost", "", cmyk(100, 0, 0, 0)),
        specification("s"),
    )
    back, problems = parse_readings(data)
    assert back.sample_ids == ("bare",)
    (error,) = [p for p in problems if p.severity == "error"]
    assert error.where == "line 5, patch lost"
    assert error.message == "patch has no spectrum"
    assert error.found == "no number from SPECTRAL_NM400 to SPECTRAL_NM440"


def test_tags_of_others_are_no_columns():
    tags = (
        '<cc:TagCollection Name="{}"><cc:Tag Name="PAGE" Value="7"/><cc:Tag Name="LAB_L" Value="1"/>'
        "</cc:TagCollection></cc:Object>"
    )
    for owner, expected in (("strikeoff", [["7"]]), ("another", [])):
        objects = patch("A1", spectrum("0.1 0.2 0.3")).replace("</cc:Object>", tags.format(owner))
        words, (table,) = parse_cxf(document(objects, specification("s")).decode(), [])
        cells = table.cells(table.rows[0][1])
        assert [[cells[table.fields.index("PAGE")]] if "PAGE" in table.fields else []] == (expected or [[]])
        assert "LAB_L" not in table.fields
        assert "PAGE" not in words


def test_charts_and_readings_say_the_same_as_in_iso_text(tmp_path):
    """Against the ISO 28178 text that `readings convert` reads."""
    chart = ReadingSet(("a", "b"), tuple(f"5CLR_{i}" for i in range(1, 6)), np.eye(5)[:2])
    placed = {"PAGE": [1, 1], "ROW": ["A", "B"], "COLUMN": [1, 2]}
    words = {"CHART_KIND": "next", "INK_SPACE": "calibrated", "CURVES_DIGEST": "identity", "TOTAL_INK": "306"}
    words |= {"SEED": "7", "INK_NAMES": "C M Y K Orange", "PATCH_SIZE_MM": "9", "READING_ORDER": "rows"}
    write_readings(tmp_path / "chart.txt", chart, placed, words)
    read = replace(chart, lab=np.ones((2, 3)), averaged=np.array([2, 3]))
    widths = {"LINE_MM": [0.5, 0.6], "GAP_MM": [0.4, 0.3], "DE_U95": [0.1, 0.2]}
    write_readings(tmp_path / "read.txt", read, widths, words)
    for name in ("chart", "read"):
        convert_readings(tmp_path / f"{name}.txt", tmp_path / f"{name}.cxf")
        convert_readings(tmp_path / f"{name}.cxf", tmp_path / f"{name}-2.txt")
    for way in ("chart.txt", "chart.cxf", "chart-2.txt"):
        found = read_chart(tmp_path / way)
        assert {key: found.readings.keywords[key] for key in words} == words
        assert (found.page.tolist(), found.row.tolist(), found.column.tolist()) == ([1, 1], [1, 2], [1, 2])
        np.testing.assert_array_equal(found.readings.coverages, chart.coverages)
    for way in ("read.txt", "read.cxf", "read-2.txt"):
        back, _ = read_readings(tmp_path / way)
        assert {key: back.keywords[key] for key in words} == words
        assert back.averaged.tolist() == [2, 3]
        assert read_line_widths(tmp_path / way).growth_mm.tolist() == pytest.approx([0.025, 0.075])
        assert further_columns(tmp_path / way, back)["DE_U95"] == ["0.1", "0.2"]


def test_what_files_say_alike_of_their_chart_survives_a_merge(tmp_path):
    read = ReadingSet(
        ("a", "b"),
        ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"),
        np.eye(4)[:2],
        lab=np.array([[50, -30, -40], [50, 60, 0]]),
    )
    for step, (name, kind) in enumerate((("one", "first"), ("two", "next"), ("again", "first"))):
        words = {"CHART_KIND": kind, "TOTAL_INK": "300"}
        write_readings(tmp_path / f"{name}.txt", replace(read, lab=read.lab + 0.1 * step), header=words)
    merge_readings([tmp_path / "one.txt", tmp_path / "again.txt"], tmp_path / "same.cxf")
    merge_readings([tmp_path / "one.txt", tmp_path / "two.txt"], tmp_path / "both.cxf")
    same, both = (read_readings(tmp_path / name)[0] for name in ("same.cxf", "both.cxf"))
    assert (same.keywords["CHART_KIND"], same.keywords["TOTAL_INK"]) == ("first", "300")
    assert ("CHART_KIND" in both.keywords, both.keywords["TOTAL_INK"]) == (False, "300")
    assert both.averaged.tolist() == [2, 2]


def test_places_of_a_document_in_one_line(tmp_path):
    """XML needs no line ends, so lines may tell no objects apart."""
    recipes = np.eye(4)[[0, 1, 2, 3, 0]]
    chart = ReadingSet(tuple("abcde"), ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"), recipes)
    placed = {"PAGE": [1, 1, 1, 2, 2], "ROW": list("AABAB"), "COLUMN": [1, 2, 1, 1, 1]}
    text = format_cxf(chart, extra_columns=placed).decode()
    (tmp_path / "flat.cxf").write_text(text.replace("\n", ""))
    found = read_chart(tmp_path / "flat.cxf")
    assert found.page.tolist() == placed["PAGE"]
    assert found.row.tolist() == [1, 1, 2, 1, 2]
    assert found.column.tolist() == placed["COLUMN"]
    # Of objects in one line nobody knows which was left out.
    read = replace(chart, lab=np.full((5, 3), 40.0))
    text = re.sub(
        r"(<(\w+:)?L>)[\d.]+", r"\g<1>nan", format_cxf(read, extra_columns=placed).decode(), count=1
    )
    (tmp_path / "lost.cxf").write_text(text.replace("\n", ""))
    back, _ = read_readings(tmp_path / "lost.cxf")
    assert len(back) == 4
    assert further_columns(tmp_path / "lost.cxf", back) == {}


def test_the_light_that_spectra_are_seen_under_survives(tmp_path):
    """ISO 28178 text says it in its header; CxF has a place for it at XYZ and Lab only."""
    read = ReadingSet(
        ("a",), ("1CLR_1",), np.ones((1, 1)), np.full((1, 16), 0.4), np.arange(400.0, 701.0, 20.0),
        setup=Setup("D65", "10"),
    )  # fmt: skip
    write_readings(tmp_path / "a.cxf", read)
    assert read_readings(tmp_path / "a.cxf")[0].setup == read.setup
