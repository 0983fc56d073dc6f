"""Files as they come from the floor: each fault is named with its place, what was expected and what to do.

The chart is measured readings of ramps and overprints, written by the package itself and then spoilt. Limits
are common practice, no source.
"""

import re
from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.measurement.csv_text import format_csv
from strikeoff.measurement.examine import examine
from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.line_widths import read_line_widths
from strikeoff.measurement.read import parse_readings, readings_lab
from strikeoff.measurement.records import Setup
from strikeoff.measurement.write import write_readings

INKS = slice(1, 5)
BANDS = slice(5, 41)


@pytest.fixture(scope="module")
def chart(measured_set):
    """Bare cloth, what there is of single inks, and 40 overprints."""
    alone = np.flatnonzero((measured_set.coverages > 0).sum(axis=1) <= 1)
    overprints = np.flatnonzero((measured_set.coverages > 0.1).sum(axis=1) == 3)[:40]
    rows = np.concatenate([alone, overprints])
    setup = Setup(mode="M1", backing="black")
    return replace(measured_set.take(rows), xyz=None, lines=(), keywords={}, setup=setup)


def edited(text, change, rows=None):
    """Change the cells of the names (row -1) and of the rows of a CSV."""
    lines = text.splitlines()
    names = next(i for i, line in enumerate(lines) if line.startswith("SAMPLE_ID"))
    for i in range(names, len(lines)):
        row = i - names - 1
        if rows is None or row in rows:
            lines[i] = ",".join(change(lines[i].split(","), row))
    return "\n".join(lines) + "\n"


def numbers(function, columns):
    """Return a change of the values in some columns."""

    def change(cells, row):
        if row >= 0:
            cells[columns] = [repr(function(float(cell))) for cell in cells[columns]]
        return cells

    return change


def told(text):
    """Return all problems of a text but notes."""
    readings, problems = parse_readings(text.encode(), source="a.csv")
    return [p for p in [*problems, *examine(readings).problems] if p.severity != "note"]


def causes(text):
    return [p for p in told(text) if p.cause is None]


def refused(data, **options):
    with pytest.raises(InputError) as caught:
        parse_readings(data if isinstance(data, bytes) else data.encode(), source="a", **options)
    error = caught.value
    assert error.expected
    assert error.advice
    return error


def test_the_chart_itself_is_clean(chart):
    assert told(format_csv(chart)) == []


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b" \r\n\n", "empty"),
        (b"\x1f\x8b\x08\x00" + bytes(range(60)) * 5, "no text"),
        (b"SAMPLE_ID,CMYK_C,CMYK_M,CMYK_Y,CMYK_K,LAB_L,LAB_A,LAB_B\n", "no rows"),
        (b"BEGIN_DATA\n1 2 3\nEND_DATA\n", "without field names"),
        (b"BEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C\n", "inside the field names"),
        (b"SAMPLE_ID,CMYK_C,CMYK_M,CMYK_Y,CMYK_K,LAB_L,LAB_A\na,0,0,0,0,90,0\n", "not complete"),
        (b"Dear Sir,\nthe chart is attached\n", "field names"),
    ],
)
def test_what_is_no_table_is_refused_with_advice(data, says):
    assert says in refused(data).message


def test_damaged_cxf_is_told_in_plain_words(chart, tmp_path):
    path = tmp_path / "a.cxf"
    write_readings(path, chart)
    text = path.read_text()
    cut = refused(text[: len(text) // 2])
    assert (cut.found, cut.where.split()[0]) == ("the file ends too early", "line")
    line = text.count("\n", 0, text.index("<ns0:Cyan>0.0")) + 1
    odd = refused(text.replace("<ns0:Cyan>0.0", "<ns0:Cyan>0,0", 1))
    assert (odd.where, odd.found) == (f"line {line}", "'0,0' in ColorCmyk.cyan")
    short = re.sub(r'(ReflectanceSpectrum ColorSpecification="setup">)([\d.]+ ){3}', r"\1", text, count=1)
    bands = refused(short)
    assert "33 values" in bands.found
    assert "36 values" in bands.expected
    assert bands.where == f"line {line}"


def test_cxf_has_no_line_widths(chart, tmp_path):
    write_readings(tmp_path / "a.cxf", chart)
    assert read_line_widths(tmp_path / "a.cxf") is None


def test_names_are_shown_without_their_series(chart):
    text = re.sub(r"SPECTRAL_NM(\d)", r"SPECTRAL_NM0.\1", format_csv(chart))
    error = refused(text)
    assert "SPECTRAL_NM0.380 to SPECTRAL_NM0.730 (36 columns)" in error.found
    assert "no colour columns" in error.message


def test_scales_of_ink(chart):
    unit = edited(format_csv(chart), numbers(lambda value: value / 100, INKS))
    (error,) = [p for p in causes(unit) if p.severity == "error"]
    assert "--ink-scale unit" in error.advice
    byte = told(edited(format_csv(chart), numbers(lambda value: value * 2.55, INKS)))
    lead = byte[0]
    assert (lead.severity, lead.where, lead.expected) == ("error", "file", "0 to 100")
    assert "--ink-scale" in lead.advice
    inside = [p for p in byte if p.cause == lead.title]
    assert len(inside) > 20


def test_scales_of_ink_where_inks_are_not_needed(chart):
    """Converted readings would hold a hundredth of the ink, or none."""
    for factor, says in ((0.01, "--ink-scale unit"), (2.55, "byte (255)")):
        text = edited(format_csv(chart), numbers(lambda value, by=factor: value * by, INKS))
        _, problems = parse_readings(text.encode(), need_inks=False)
        (warning,) = [p for p in problems if p.severity == "warning"]
        assert says in warning.advice
        assert warning.found
    patches = edited(format_csv(chart), lambda cells, row: cells[:5])
    unit = edited(patches, numbers(lambda value: value / 100, INKS))
    _, problems = parse_readings(unit.encode(), need_colour=False)
    assert [p.severity for p in problems if "--ink-scale" in (p.advice or "")] == ["warning"]


def test_percent_and_unit_in_one_file(chart):
    """The scale is that of most rows; the others are named, whichever it is."""
    percent = numbers(lambda value: 100 * value, BANDS)
    text = format_csv(chart)
    wrong = edited(text, percent, {5, 6})
    errors = [p for p in causes(wrong) if p.severity == "error"]
    assert [p.where.split("patch ")[1] for p in errors] == [chart.sample_ids[row] for row in (5, 6)]
    assert causes(edited(text, percent)) == []
    most = set(range(len(chart))) - {5, 6}
    (warning,) = [p for p in causes(edited(text, percent, most)) if "next to nothing" in p.message]
    assert warning.message.startswith("2 rows reflect")
    assert chart.sample_ids[5] in warning.where
    half = set(range(0, len(chart), 2))
    (error,) = [p for p in causes(edited(text, percent, half)) if "next to nothing" in p.message]
    assert (error.severity, warning.severity) == ("error", "warning")


def test_the_first_name_that_comes_twice_is_named(chart):
    text = edited(format_csv(chart), lambda cells, row: ["twin", *cells[1:]] if row in (3, 7, 9) else cells)
    (note,) = [p for p in parse_readings(text.encode())[1] if "SAMPLE_ID" in p.message]
    assert note.where.endswith("patch twin")
    assert note.message == "2 rows repeat a SAMPLE_ID, the first here"


def test_wavelengths_that_are_missing(chart):
    (warning,) = causes(edited(format_csv(chart), lambda cells, row: cells[:15] + cells[16:]))
    assert "470 to 490 nm" in warning.found
    narrow = edited(format_csv(chart), lambda cells, row: cells[:5] + cells[17:27])
    readings, _ = parse_readings(narrow.encode(), source="a.csv")
    with pytest.raises(InputError, match="visible range") as caught:
        readings_lab(readings)
    assert (caught.value.path, bool(caught.value.advice)) == ("a.csv", True)


def test_a_file_cut_inside_its_last_number(chart):
    text = format_csv(replace(chart, spectra=chart.spectra * 0.98765432))
    (warning,) = causes(text[: text.rindex("0.") + 4])
    assert "cut short" in warning.message
    assert causes(text[:-1]) == []
    rows = text.splitlines()
    (short,) = [p for p in told("\n".join(rows[:-1]) + "\n" + rows[-1][:200]) if p.severity == "error"]
    assert "too few columns" in short.message
    assert short.advice


@pytest.mark.parametrize("bad", ["", "nan", "1e999", "n/a"])
def test_cells_without_a_number_say_what_to_do(chart, bad):
    def change(cells, row):
        cells[9] = bad
        return cells

    (error,) = [p for p in told(edited(format_csv(chart), change, {3})) if p.severity == "error"]
    assert error.message == "cell holds no number"
    assert "SPECTRAL_NM420" in error.where
    assert error.found == (repr(bad) if bad else "nothing")
    assert error.advice


@pytest.mark.parametrize(
    ("column", "values"), [("OBSERVER", ("2", "10")), ("ILLUMINANT", ("D50", "A")), ("MODE", ("M0", "M1"))]
)
def test_rows_of_several_lights_or_modes_are_refused(chart, column, values):
    def change(cells, row):
        return [*cells, column if row < 0 else values[row >= 30]]

    error = refused(edited(format_csv(chart), change))
    assert all(value in error.found for value in values)
    assert error.where.startswith("line ")


def test_apertures_that_differ_are_told(chart):
    def change(cells, row):
        return [*cells, "APERTURE" if row < 0 else "48"[row >= 30] + " mm"]

    (warning,) = causes(edited(format_csv(chart), change))
    assert "aperture" in warning.message
    assert warning.found == "4 mm and 8 mm"


def test_a_mode_that_does_not_exist(chart):
    (warning,) = causes(format_csv(chart).replace("M1", "M7"))
    assert (warning.found, warning.where) == ("M7", "header")
    assert "M0 to M3" in warning.expected


def test_the_light_that_fits_is_named(chart):
    lab = spectra_to_lab(chart.spectra, chart.wavelengths_nm, "A", "10")
    (warning,) = causes(format_csv(replace(chart, lab=lab)))
    assert "under A/10 they agree" in warning.found
    lab = lab + np.linspace(0, 9, len(lab))[:, None]
    (warning,) = causes(format_csv(replace(chart, lab=lab)))
    assert "agree" not in warning.found


def without_spectra(chart, lab):
    return format_csv(replace(chart, spectra=None, wavelengths_nm=None, lab=lab))


def test_lab_of_another_scale_is_an_error(chart):
    lab = readings_lab(chart)
    (error,) = causes(without_spectra(chart, lab / 100))
    assert error.severity == "error"
    assert "nearly the same colour" in error.message
    assert "scale" in error.advice


def test_ramps(chart):
    """A shuffled ramp is an error and takes its steps along; one bad step is measured again."""
    lab = readings_lab(chart)
    black = np.flatnonzero((chart.coverages[:, :3].max(axis=1) == 0) & (chart.coverages[:, 3] > 0))
    black = black[np.argsort(chart.coverages[black, 3])]
    shuffled = lab.copy()
    shuffled[black] = lab[np.roll(black, len(black) // 3)]
    errors = [p for p in causes(without_spectra(chart, shuffled)) if p.severity == "error"]
    assert ["no ramp" in p.message for p in errors] == [True]
    once = lab.copy()
    middle = len(black) // 2
    once[black[middle]] = lab[black[middle // 2]]
    found = causes(without_spectra(chart, once))
    (step,) = [p for p in found if "one step of ink K" in p.message]
    assert step.severity == "warning"
    assert chart.sample_ids[black[middle]] in step.where
    assert "Measure this step again" in step.advice
    assert not [p for p in found if "neighbours" in p.message and chart.sample_ids[black[middle]] in p.where]


def test_two_repeats_that_disagree(chart):
    """Either is less than 3 from their mean, but more than 5 from the other."""
    row = len(chart) - 1
    twice = chart.take(np.append(np.arange(len(chart)), row))
    lab = readings_lab(twice).copy()
    lab[-1, 0] += 7
    assert delta_e_2000(lab[row], (lab[row] + lab[-1]) / 2) < 3
    (found,) = [p for p in told(without_spectra(twice, lab)) if "differs from its repeat" in p.message]
    assert chart.sample_ids[row] in found.where
    assert found.expected == "at most 5"
    lab[-1, 0] -= 4
    assert not [p for p in told(without_spectra(twice, lab)) if "repeats" in p.message]


def test_one_wrong_repeat_accuses_no_good_one(chart):
    """Two of three are right; the mean that the wrong one pulls away is more than 3 from each of them."""
    row = len(chart) - 1
    thrice = chart.take(np.append(np.arange(len(chart)), [row, row]))
    lab = readings_lab(thrice).copy()
    lab[-1, 0] += 20
    assert delta_e_2000(lab[row], lab[[row, -2, -1]].mean(axis=0)) > 3
    (found,) = [p for p in told(without_spectra(thrice, lab)) if "differs from its repeat" in p.message]
    numbers_found = [float(number) for number in re.findall(r"\d+\.\d", found.found)]
    assert numbers_found[0] > 5
    assert numbers_found[1] > 3


def test_what_is_not_printed_is_noted(chart):
    """A strip need not hold it, so that it is no warning; no condition can be built."""
    kept = chart.take((chart.coverages[:, 3] == 0) & (chart.coverages.max(axis=1) > 0))
    notes = [p for p in examine(kept).problems if p.severity == "note" and p.advice]
    assert {"no patch of bare cloth", "no patch with ink K"} <= {p.message for p in notes}


def test_wrong_numbers_of_rows(chart):
    text = format_iso28178(chart)
    n = len(chart)
    for wrong in (n + 4, 99999999999):
        _, problems = parse_readings(text.replace(f"SETS {n}", f"SETS {wrong}").encode())
        (warning,) = [p for p in problems if p.severity == "warning"]
        assert (warning.found, warning.expected) == (str(wrong), str(n))
        assert warning.advice


@pytest.mark.parametrize(
    ("words", "found"), [("MeasurementCondition=M9 Filter=no", "M9"), ("Measurement Mode: M8", "M8")]
)
def test_an_unknown_mode_among_other_statements_is_told(chart, words, found):
    """ISO 13655 knows M0 to M3."""
    text = format_iso28178(replace(chart, setup=Setup(backing="black")))
    lines = text.splitlines()
    lines.insert(1, f'MEASUREMENT_SOURCE "{words}"')
    (warning,) = [p for p in causes("\n".join(lines)) if "measuring mode is not known" in p.message]
    assert (warning.severity, warning.found) == ("warning", found)


def test_a_misnamed_column_of_a_spectrum_is_told(chart):
    named = format_csv(chart)
    last = next(line for line in named.splitlines() if line.startswith("SAMPLE_ID")).split(",")[-1]
    for wrong in ("nmX", "SPECTRAL_NM73O", "lambda_"):
        (found,) = [p for p in told(named.replace(last, wrong)) if "tell no wavelength" in p.message]
        assert (found.severity, found.found) == ("warning", wrong.upper())
    assert not [p for p in told(named) if "tell no wavelength" in p.message]
