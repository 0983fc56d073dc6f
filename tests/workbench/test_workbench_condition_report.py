"""The report of a condition says what is in it, on a page and on paper alike."""

import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.inks.goods import Cloth, Goods
from strikeoff.report.page import Section
from strikeoff.report.paper import write_pdf
from strikeoff.report.plots_errors import error_map
from strikeoff.report.tables import facts_html, paragraph, table_html
from strikeoff.workbench import report_condition, show_condition
from strikeoff.workbench.condition_errors import again_section
from strikeoff.workbench.condition_figures import (
    _coloured_darks,
    black_table,
    gamut_section,
    ink_colours,
    neutral_section,
    tone_section,
)
from strikeoff.workbench.condition_readings import held_out, original_readings, read_recipes
from strikeoff.workbench.condition_solids import heads_section, solids_section, special_section, tone_table
from strikeoff.workbench.condition_summary import open_points
from strikeoff.workbench.condition_tables import (
    cloth_section,
    limits_section,
    measured_section,
    validity_section,
)
from strikeoff.workbench.condition_uncertainty import (
    few_recipes_words,
    share_interval_wilson_1927,
    uncertainty_section,
)

WANTED = (
    "In short", "What was measured", "Inks and limits", "White point", "Tone curves", "Tone values", "Solids",
    "White, clear, metallic, fluorescent", "Neutral axis", "Black curve", "Recipes of greys", "Gamut",
    "trusted", "Where the errors are", "Uncertainty", "read again", "Validity", "Working safely",
)  # fmt: skip


@pytest.fixture(scope="module")
def report(small_readings, tmp_path_factory):
    folder = tmp_path_factory.mktemp("report")
    told = (Problem("warning", "line 3", "odd patch", advice="Again"), Problem("note", "file", "fine"))
    write_condition(folder / "a.cond", replace(small_readings.condition, problems=told))
    result = report_condition(folder / "a.cond", folder / "page.html", pdf=folder / "page.pdf")
    return folder, result


def test_the_page_has_every_part(report, small_readings):
    folder, _ = report
    html = (folder / "page.html").read_text()
    for part in WANTED:
        assert part in html, part
    _, digest = read_condition(folder / "a.cond")
    assert digest in html
    assert small_readings.condition.readings_digest in html
    assert "not yet shown on cloth" in html
    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", html)
    assert "nan" not in re.sub(r"<svg.*?</svg>", "", html, flags=re.S).lower().split()


def test_what_was_noticed_is_told_once_and_not_lost(report):
    """In full in the report and for programs; elsewhere one line counts it."""
    folder, written = report
    assert "odd patch. Again" in (folder / "page.html").read_text()
    shown = show_condition(folder / "a.cond")
    counted = "noticed while it was made: 1 warning, 1 note; in full in"
    for result, place in ((written, "'Validity and digests'"), (shown, "the report and --json")):
        assert result.problems == ()
        assert f"{counted} {place}" in result.lines
    assert [told["advice"] for told in shown.results["noticed"]] == ["Again", None]


def test_the_pdf_is_whole(report):
    folder, result = report
    data = (folder / "page.pdf").read_bytes()
    assert data.startswith(b"%PDF-")
    assert data.rstrip().endswith(b"%%EOF")
    assert len(re.findall(rb"/Type /Page\b(?!s)", data)) == result.results["pdf_pages"] >= 5


def test_tone_values_are_those_of_iso_20654(small_readings):
    """Every figure of the table against the formula; the gain is the value less the ink asked for."""
    condition = small_readings.condition
    html = tone_table(condition).html
    rows = [re.findall(r"<td[^>]*>([^<]*)</td>", row) for row in re.findall(r"<tr>(.*?)</tr>", html)][1:]
    assert [row[0] for row in rows] == [f"{step}\u00a0%" for step in range(0, 101, 10)]
    for k in range(3):
        ramp = np.zeros((11, 3))
        ramp[:, k] = np.linspace(0, 1, 11)
        lab = condition.native.lab(ramp)
        tone = 100 * tone_value_iso_20654(lab, lab[0], lab[-1])
        np.testing.assert_allclose([float(row[1 + 2 * k]) for row in rows], tone, atol=0.051)
        gain = tone - 10 * np.arange(11)
        np.testing.assert_allclose([float(row[2 + 2 * k]) for row in rows], gain, atol=0.051)


def test_held_out_errors_belong_to_their_recipes(small_readings):
    """A condition whose errors are the recipe numbers tells them back."""
    from strikeoff.model.validation import held_out_rows

    condition = small_readings.condition
    rows = held_out_rows(len(condition.forward.recipes))
    numbered = replace(condition, validation=replace(condition.validation, errors=rows.astype(float)))
    found, errors = held_out(numbered)
    np.testing.assert_allclose(errors, found)
    assert held_out(replace(condition, validation=None)) is None


def test_problems_are_shown_as_text(small_readings):
    condition = replace(small_readings.condition, problems=(Problem("warning", "line 3", "odd <patch>"),))
    assert "odd &lt;patch&gt;" in validity_section(condition, "sha256:0").html


def test_paper_keeps_all_text(tmp_path):
    """Long tables go over pages with their heading; nothing is dropped."""
    rows = [[f"row {i}", "$x_{1}$ & <b>", "word " * 30] for i in range(40)]
    body = paragraph("A start.") + facts_html([("name", "value")]) + table_html(["A", "B", "C"], rows)
    drawing = error_map([[50, 0, 0], [50, 60, 0]], [0.5, 2.0])
    sections = [Section("a", "First", body), Section("b", "Second", drawing, "measured", (drawing,))]
    pages = write_pdf(tmp_path / "a.pdf", "Title", "Lead", sections, cautions=["Mind."])
    assert pages >= 3
    write_pdf(tmp_path / "b.pdf", "Title", "Lead", sections, cautions=["Mind."])
    assert (tmp_path / "b.pdf").read_bytes() == (tmp_path / "a.pdf").read_bytes()


def test_bad_tables_and_maps_are_refused():
    with pytest.raises(InputError, match="header"):
        table_html(["A", "B"], [["1"]])
    with pytest.raises(InputError, match="colours"):
        table_html(["A"], [["1"], ["2"]], colours=["#000000"])
    with pytest.raises(InputError, match="fit"):
        error_map(np.zeros((0, 3)), [])


def test_inks_go_by_the_names_of_the_press(small_readings):
    """Columns of readings may be numbers only; a white and a fluorescent ink are found by their place."""
    condition = small_readings.condition
    names, roles = ("Cyan", "White", "Glow"), ("process", "white", "fluorescent")
    inks = tuple(
        replace(ink, name=name, role=role)
        for ink, name, role in zip(condition.spaces.inks, names, roles, strict=True)
    )
    spaces = replace(condition.spaces, channels=names, inks=inks)
    named = replace(condition, spaces=spaces, ink_columns=("3CLR_1", "3CLR_2", "3CLR_3"))
    rows = re.findall(r"<tr>(.*?)</tr>", special_section(named, read_recipes(named, None)).html, flags=re.S)[
        1:
    ]
    cells = [re.findall(r"<td[^>]*>([^<]*)</td>", row) for row in rows]
    assert [row[0] for row in cells] == ["White", "Glow"]
    assert {row[2] for row in cells} == {"by name only"}
    lab = named.native.lab(np.eye(3))
    np.testing.assert_allclose(np.array([row[3:6] for row in cells], float), lab[1:], atol=0.006)
    spectra = named.forward.reflectance(np.eye(3)[1:])
    np.testing.assert_allclose([float(row[8]) for row in cells], spectra.max(axis=1), atol=6e-4)
    peaks = named.wavelengths_nm[spectra.argmax(axis=1)]
    assert [float(row[9]) for row in cells] == peaks.tolist()
    assert "Cyan+White" in solids_section(named, read_recipes(named, None)).html
    assert "Glow" in tone_table(named).html
    assert "Valid until" in validity_section(named, "sha256:0").html


def test_tables_of_many_inks_stay_narrow(small_readings):
    """Tone values of nine inks stand in tables of at most nine columns, so that a page holds them."""
    from types import SimpleNamespace

    condition = small_readings.condition
    names = tuple(f"Ink {k}" for k in range(9))
    many = SimpleNamespace(
        spaces=SimpleNamespace(channels=names),
        n_inks=9,
        native=SimpleNamespace(
            lab=lambda inks: condition.native.lab(inks[:, :3] + inks[:, 3:6] + inks[:, 6:])
        ),
        label=condition.label,
    )
    html = tone_table(many).html
    heads = [re.findall(r"<th[^>]*>([^<]*)</th>", head) for head in re.findall(r"<thead>(.*?)</thead>", html)]
    assert max(len(head) for head in heads) <= 9
    assert [name for head in heads for name in head if name.startswith("Ink ") and name in names] == [*names]


def test_a_share_of_few_cases_has_a_wide_interval():
    """Wilson's interval by hand: 9 of 10 is 0.596 to 0.982 (E. B. Wilson 1927, as textbooks work it)."""
    np.testing.assert_allclose(share_interval_wilson_1927(0.9, 10), [0.5958, 0.9821], atol=5e-5)
    low, high = share_interval_wilson_1927(0.9, 1e6)
    assert high - low < 0.0013


def test_few_recipes_make_error_bars_uncertain(small_readings, monkeypatch):
    """Below 100 recipes the report and the lines say so in plain words; above they do not."""
    words = few_recipes_words(60)
    assert "80 to 95 % of so few errors" in words
    assert few_recipes_words(150) is None
    condition = small_readings.condition
    plain = uncertainty_section(condition, None).html
    assert "radii themselves are uncertain" not in plain
    rows = re.findall(r"<tr><td>([^<]*)</td>", plain)
    assert rows[:4] == ["all", "smallest radii", "middle radii", "largest radii"]
    few = replace(condition.forward, recipes=condition.forward.recipes[:60])
    monkeypatch.setattr("strikeoff.workbench.condition_uncertainty.covered_radius", lambda *_: np.ones(60))
    small = replace(condition, forward=few)
    assert words in uncertainty_section(small, None).html


def test_paper_is_not_asked_for_as_a_page(tmp_path):
    with pytest.raises(UsageError, match="--pdf"):
        report_condition(tmp_path / "a.cond", tmp_path / "a.pdf")


def test_a_condition_without_readings_promises_nothing(small_readings):
    """Colours out of a profile have no scatter, no radius, and no control strip that could pass."""
    condition = replace(small_readings.condition, validation=None)
    read = read_recipes(condition, None)
    assert "nothing was measured" in measured_section(condition, None, read).html
    assert "No radius" in solids_section(condition, read).html
    told = measured_section(condition, small_readings.readings, read).html
    assert "150, computed" in told
    assert "each one reading" not in told
    assert "read more than once" not in told
    assert "L* source" in solids_section(condition, read).html
    assert "one ink as read" not in tone_section(condition).html
    assert "one ink as read" in tone_section(small_readings.condition).html
    assert "Read:" not in cloth_section(condition, read).html
    assert "Read:" in cloth_section(small_readings.condition, read).html
    doubt = uncertainty_section(condition, small_readings.readings).html
    assert "computed, not read" in doubt
    assert "scatter of one reading" not in doubt
    held = validity_section(condition, "sha256:0").html
    assert "promises nothing" in held
    assert "control strip passes" not in held
    assert "control strip passes" in validity_section(small_readings.condition, "sha256:0").html


@pytest.mark.parametrize("grey", ["cloth", "absolute", "fading"])
def test_the_neutral_axis_is_shown_against_the_chosen_grey(small_readings, grey):
    """On a cloth of b* 4 greys of a* = b* = 0 are no cast where they are what was asked for."""
    condition = small_readings.condition
    assert np.abs(condition.cloth_lab[1:]).max() > 2.5
    chosen = replace(condition, policy=replace(condition.policy, grey=grey))
    html = neutral_section(chosen).html
    worst = float(re.search(r"from dark to light; at most ([0-9.]+)\.", html)[1])
    assert worst < 0.8
    assert {"absolute": "a* = b* = 0", "cloth": "scaled", "fading": "gone at black"}[grey] in html


def test_cloth_that_fluoresces_is_undecided_under_other_lights(small_readings):
    """Reflectance above 1 holds light of other wavelengths, which another lamp excites otherwise."""
    condition = small_readings.condition
    assert "undecided" not in cloth_section(condition, read_recipes(condition, None)).html
    forward = replace(condition.forward, bands=condition.forward.bands * 1.3)
    bright = replace(condition, forward=forward)
    html = cloth_section(bright, read_recipes(bright, None)).html
    assert html.count("degree observer, undecided") == 3


def test_hue_and_lightness_of_neutrals_say_what_they_are(report):
    html = (report[0] / "page.html").read_text()
    assert "h [°]" in html
    assert "relative to the cloth" in html


def rows_of(html):
    return [
        re.findall(r"<td[^>]*>(?:<span[^>]*></span>)?([^<]*)</td>", row)
        for row in re.findall(r"<tr>(.*?)</tr>", html)
    ]


def test_what_was_measured_counts_rows_and_names_wavelengths(small_readings):
    """150 recipes, one of them read three times; a file that states mode and backing says so, and no more."""
    condition = small_readings.condition
    many = small_readings.readings.take(np.array([*range(150), 7, 7]))
    setup = replace(condition.setup, mode="M1", backing="white")
    html = measured_section(replace(condition, setup=setup), many, read_recipes(condition, many)).html
    facts = dict(re.findall(r"<dt>([^<]*)</dt><dd>([^<]*)</dd>", html))
    assert facts["rows"] == "152, each one reading"
    assert facts["distinct recipes"] == "150"
    assert facts["recipes read more than once"] == "1"
    assert facts["colour"] == "spectra, 380 to 730 nm in steps of 10 nm (36 bands)"
    assert (facts["measuring mode (ISO 13655)"], facts["backing"]) == ("M1", "white")
    assert "Not stated in the readings: geometry, side, instrument, aperture." in html
    assert "geometry" not in facts


def test_solids_stand_beside_what_was_read(small_readings):
    """The file's own spectra, weighed here, in the right-hand columns; overprints never read have none."""
    condition, readings = small_readings.condition, small_readings.readings
    rows = {
        row[0]: row
        for row in rows_of(solids_section(condition, read_recipes(condition, readings)).html)
        if row
    }
    for name, recipe in (("1", [1, 0, 0]), ("3", [0, 0, 1]), ("cloth", [0, 0, 0])):
        (place,) = np.flatnonzero((readings.coverages == recipe).all(axis=1))
        seen = spectra_to_lab(readings.spectra[place], readings.wavelengths_nm, "D50", "2")
        np.testing.assert_allclose(np.array(rows[name][7:10], float), seen, atol=0.02)
        model = condition.native.lab(np.array([recipe], float))[0]
        np.testing.assert_allclose(np.array(rows[name][1:4], float), model, atol=0.006)
        assert float(rows[name][11]) == pytest.approx(delta_e_2000(model, seen), abs=0.02)
        assert rows[name][10] == "1"
    assert rows["1+3"][7:] == ["-"] * 5


def test_patches_to_read_again_have_a_column_for_each_ink(small_readings):
    condition = small_readings.condition
    html = again_section(condition, read_recipes(condition, small_readings.readings)).html
    heads = re.findall(r"<th[^>]*>([^<]*)</th>", html)
    assert heads == ["Patch", "1 %", "2 %", "3 %", "L*", "a*", "b*", "readings", "held-out error"]
    for row in rows_of(html)[1:]:
        inks = small_readings.readings.coverages[int(row[0][1:])]
        np.testing.assert_allclose(np.array(row[1:4], float), 100 * inks, atol=0.51)
        assert row[7] == "1"


def test_names_of_patches_are_found_whatever_full_ink_was(small_readings):
    """A file of amounts up to 1 or to 255 gives the same recipes, so its patches keep their names."""
    from strikeoff.measurement.iso28178 import format_iso28178

    condition = small_readings.condition
    wanted = read_recipes(condition, small_readings.readings).names
    assert wanted[0].startswith("P")
    for full in (1.0, 255.0):
        scaled = replace(small_readings.readings, coverages=small_readings.readings.coverages * full / 100)
        other = replace(condition, readings=format_iso28178(scaled).encode())
        assert read_recipes(other, original_readings(other)).names == wanted
    assert original_readings(replace(condition, readings=b"nothing")) is None


def test_curves_to_the_heads_are_shown_where_there_are_any(small_readings):
    """A curve that squares the ink asked for: 50 % becomes 25 %."""
    condition = small_readings.condition
    assert heads_section(condition) is None
    node = np.linspace(0, 1, condition.spaces.tone.shape[1])
    tone = condition.spaces.tone.copy()
    tone[1] = np.round(65535 * node**2)
    section = heads_section(replace(condition, spaces=replace(condition.spaces, tone=tone)))
    rows = rows_of(section.html)[1:]
    asked = np.arange(0, 101, 10)
    np.testing.assert_allclose([float(row[2]) for row in rows], asked**2 / 100, atol=0.06)
    np.testing.assert_allclose([float(row[1]) for row in rows], asked, atol=0.06)


def test_recipes_of_greys_add_up(small_readings):
    condition = small_readings.condition
    rows = np.array([row for row in rows_of(black_table(condition).html) if row], float)
    assert rows[0, 0] == 100
    assert np.all(np.diff(rows[:, 0]) < 0)
    np.testing.assert_allclose(rows[:, 1:4].sum(axis=1), rows[:, 4], atol=0.7)
    assert rows[:, 4].max() <= 100 * condition.limits.total + 0.5
    predicted = condition.native.lab(rows[:, 1:4] / 100)
    np.testing.assert_allclose(rows[:, 5:8], predicted, atol=0.15)


def test_open_points_are_told_first(small_readings):
    """Simulated figures, an unknown set-up, stale curves and warnings; none where nothing is open."""
    condition = small_readings.condition
    told = " ".join(open_points(condition))
    assert "no measurements of this cloth" in told
    assert "measuring mode, geometry" in told
    warned = replace(
        condition, problems=(Problem("warning", "line 3", "odd"), Problem("note", "file", "fine"))
    )
    assert "1 warning while" in " ".join(open_points(warned))
    stale = replace(condition, spaces=replace(condition.spaces, stale=("screen changed",)))
    assert "screen changed" in " ".join(open_points(stale))
    assert "error figures" in " ".join(open_points(replace(condition, validation=None)))


def test_problems_come_with_advice_and_the_worst_first(small_readings):
    problems = (
        Problem("note", "file", "harmless"),
        Problem("warning", "line 3", "odd patch", found="9", expected="1", advice="Read it again"),
    )
    html = validity_section(replace(small_readings.condition, problems=problems), "sha256:0").html
    assert "odd patch (found 9; expected 1). Read it again" in html
    assert html.index("odd patch") < html.index("harmless")


def test_pairs_that_recipes_keep_apart_are_named(small_readings):
    condition = small_readings.condition
    colours = ("#000000",) * 3
    assert "do not mix" not in limits_section(condition, colours).html
    apart = replace(condition, limits=replace(condition.limits, apart=((0, 2),)))
    assert "do not mix 1+3" in limits_section(apart, colours).html


@pytest.mark.parametrize(
    ("known", "words", "undecided"),
    [
        ("yes", "An optical brightener is in the cloth", True),
        ("no", "ultraviolet does not matter to it.", False),
        ("unknown", "not known whether ultraviolet took part", False),
    ],
)
def test_what_is_recorded_of_the_cloth_stands_beside_its_white(small_readings, known, words, undecided):
    condition = small_readings.condition
    goods = Goods(cloth=Cloth(optical_brightener=known))
    record = replace(condition, goods=goods, setup=replace(condition.setup, mode=None))
    text = cloth_section(record, read_recipes(record, None)).html
    assert words in text
    assert ("undecided" in text) == undecided


def test_overprints_beyond_the_total_are_shown_as_full_as_it_lets_them(small_readings):
    """At 150 % two inks of 100 % become two of 75 %; no overprint is missing from the page."""
    condition = small_readings.condition
    tight = replace(condition, limits=replace(condition.limits, total=1.5))
    html = solids_section(tight, read_recipes(tight, small_readings.readings)).html
    rows = {row[0]: row for row in rows_of(html) if row}
    assert {"1+2 at 75\u00a0%", "1+3 at 75\u00a0%", "2+3 at 75\u00a0%"} <= set(rows)
    assert "would exceed the total ink limit" in html
    model = condition.native.lab(np.array([[0.75, 0.75, 0.0]]))[0]
    np.testing.assert_allclose(np.array(rows["1+2 at 75\u00a0%"][1:4], float), model, atol=0.006)


def test_inks_that_count_by_curves_are_not_given_weights(small_readings):
    """Curves that square the ink: half counts a quarter, and nobody adds calibrated ink up by weights."""
    condition = small_readings.condition
    squares = np.tile(np.linspace(0, 1, 65) ** 2, (3, 1))
    curved = replace(condition, limits=replace(condition.limits, curves=squares, total=2.0))
    html = limits_section(curved, ("#000000",) * 3).html
    assert "weight in" not in html
    assert "total ink, as inks count" in html
    assert "total ink, calibrated" not in html
    heads = re.findall(r"<th[^>]*>([^<]*)</th>", html)
    (row,) = [row for row in rows_of(html) if row and row[0] == "2"]
    cells = dict(zip(heads, row, strict=True))
    assert cells["counts at 50 %"] == "25.0 %"
    assert cells["counts at 80 %"] == "64.0 %"
    assert cells["counts at 100 %"] == "100.0 %"
    assert "weight in calibrated total" in limits_section(condition, ("#000000",) * 3).html
    assert "sum, as inks count, %" in black_table(curved).html


def test_the_dark_ink_starts_where_the_split_said_before_the_tone_curve(small_readings):
    """A split that starts at 25 % under a curve that squares: at 50 % of the ink asked for."""
    from strikeoff.inks.records import Ink

    condition = small_readings.condition
    spaces, node = condition.spaces, np.linspace(0, 1, condition.spaces.tone.shape[1])
    dark, light = np.maximum(node - 0.25, 0) / 0.75, np.minimum(node, 1 - node)
    split = np.vstack([spaces.split, light * 65535])
    split[0] = dark * 65535
    tone = spaces.tone.copy()
    tone[0] = np.round(65535 * node**2)
    drops = np.concatenate([spaces.drops, spaces.drops[:1]])
    inks = (*spaces.inks, Ink("pale", "light", light_of=spaces.inks[0].name))
    both = replace(spaces, inks=inks, tone=tone, split=np.round(split).astype(np.uint16), drops=drops)
    named = replace(condition, spaces=both)
    html = special_section(named, read_recipes(named, None)).html
    assert "the dark ink from 50 % of the ink asked for, 25 % before the tone curve" in html


def test_on_dark_cloth_greys_and_gamut_are_told_from_white(small_readings):
    """Where ink 2 is what counts as white, no line says that greys are scaled from the cloth."""
    condition = small_readings.condition
    white = replace(condition, white_recipe=np.array([0.0, 0.5, 0.0]))
    html = unescape(limits_section(white, ("#000000",) * 3).html)
    assert "white's colour, scaled" in html
    assert "the cloth's colour, scaled" not in html
    assert "the cloth's colour, scaled" in unescape(limits_section(condition, ("#000000",) * 3).html)
    drawn = gamut_section(white, 1000.0).html
    assert "Marked: 2, 1+2, 3+2, cloth" in drawn
    assert "from the darkest neutral to white (" in drawn
    assert "from the darkest neutral to cloth" in gamut_section(condition, 1000.0).html
    assert len(set(ink_colours(white))) == 3


def test_a_gamut_that_is_drawn_below_its_darkest_neutral_says_so(small_readings):
    condition = small_readings.condition
    neutral = condition.connection.from_relative(condition.black_lab[None])[0, 0]
    assert _coloured_darks(condition, neutral - 0.4) == ""
    words = _coloured_darks(condition, neutral - 3.0)
    assert f"below that neutral of L* {neutral:.1f}, down to {neutral - 3.0:.1f}; the volume" in words
