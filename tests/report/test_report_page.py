"""The page: self-contained, escaped, labelled."""

import hashlib
import re
import tomllib
from html.parser import HTMLParser
from importlib import resources

import pytest

from strikeoff.base.errors import InputError, UsageError
from strikeoff.report.cautions import DEFERS, cautions, known_processes
from strikeoff.report.lineage import Node, lineage_graph
from strikeoff.report.page import FileRow, Section, render_page
from strikeoff.report.style import FAIL, GROUND, INK, LABELS, MUTED, PASS, UNDECIDED, badge
from strikeoff.report.tables import facts_html, ink_table_html, paragraph, verdict_html

ITEM = {
    "name": "Solids <C>",
    "value": 1.234,
    "uncertainty": 0.5,
    "noise_bias": 0.1,
    "limit": 2.0,
    "outcome": "undecided",
    "formula": "CMC(2:1)",
    "statistic": "max",
    "patches": ["a", "b", "c", "d"],
    "more_readings": 3,
    "advice": "Take 3 more readings of each patch",
}
RECORD = {
    "outcome": "undecided",
    "setup": "D65, 10° observer",
    "tolerances": "Strike-off",
    "origin": "common practice",
    "not_judged": ["Greys"],
    "items": [ITEM, {**ITEM, "value": None, "uncertainty": None, "patches": []}],
}


class Checker(HTMLParser):
    VOID = ("meta", "br", "img", "link", "input", "hr")

    def __init__(self):
        super().__init__()
        self.open, self.ids, self.links = [], [], []

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if "id" in values:
            self.ids.append(values["id"])
        self.links += [values[key] for key in ("href", "src") if key in values]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def page(**more):
    sections = [
        Section("verdict", "Verdict & co", verdict_html(RECORD), "simulated"),
        Section(
            "ink",
            "Ink",
            ink_table_html(["cyan", "<b>"], ["#0090d0", "#222222"], [2.0, 0.5], 40.0),
            "measured",
        ),
    ]
    return render_page(
        "Trial <1>",
        "Lead & more",
        sections,
        files=[FileRow("a b#.icc", "Profile", 1234567, "sha256:" + "ab" * 32, "condition")],
        lineage_svg=lineage_graph([Node("a", "A", "sha256:00", label="measured")]),
        cautions=cautions(["reactive"]),
        **more,
    )


def test_page_is_whole_and_fetches_nothing():
    html = page()
    checker = Checker()
    checker.feed(html)
    assert checker.open == []
    assert len(checker.ids) == len(set(checker.ids))
    for link in checker.links:
        assert link.startswith("#") or link == "a%20b%23.icc"
        if link.startswith("#"):
            assert link[1:] in checker.ids
    assert not re.search(r"https?://(?!www\.w3\.org)|@import|url\((?!#)", html)
    assert "<script" not in html
    assert page() == html


def test_text_is_escaped_and_sizes_are_readable():
    html = page()
    for text in (
        "Trial &lt;1&gt;",
        "Lead &amp; more",
        "Verdict &amp; co",
        "Solids &lt;C&gt;",
        "&lt;b&gt;",
        "1.2 MB",
    ):
        assert text in html
    assert "abababababababab<" in html


def test_every_label_says_what_it_must():
    assert "simulated: not yet shown on cloth" in page()
    assert {"measured", "smoothed data", "reference engine", "simulated"} == set(LABELS)
    with pytest.raises(UsageError):
        badge("guessed")
    with pytest.raises(UsageError):
        render_page("t", "l", [Section("a", "A", "", "guessed")])
    two = render_page("t", "l", [Section("a", "A", "", ("measured", "simulated"))])
    assert "badge-measured" in two
    assert "badge-simulated" in two


def test_anchors_must_be_unique():
    with pytest.raises(InputError):
        render_page("t", "l", [Section("a", "A", ""), Section("a", "B", "")])
    with pytest.raises(InputError):
        render_page("t", "l", [Section("files", "A", "")], files=[FileRow("x", "y", 1, "")])
    with pytest.raises(InputError, match="twin"):
        render_page(
            "t", "l", [Section("a", "A", '<p id="twin"></p>'), Section("b", "B", '<p id="twin"></p>')]
        )


def test_verdict_shows_value_uncertainty_limit_formula_and_advice():
    html = verdict_html(RECORD)
    for text in (
        ">UNDECIDED<", "1.23 ± 0.50", ">2.00<", "CMC(2:1), worst", "a, b, c of 4",
        "Take 3 more readings of each patch", "D65, 10° observer", "2 of 2 undecided", ">–<", "Greys",
    ):  # fmt: skip
        assert text in html, text


def test_ink_table_adds_up():
    html = ink_table_html(["c", "k"], ["#0090d0", "#222222"], [2.0, 0.5], 40.0)
    # 2 ml/m2 over 40 m2 are 0.08 l.
    for text in (">0.080<", ">0.020<", ">0.100<", ">2.50<", ">80 %<", "40.00 m²"):
        assert text in html
    with pytest.raises(InputError):
        ink_table_html(["c"], ["red;x"], [1.0], 1.0)
    with pytest.raises(InputError):
        ink_table_html(["c"], ["#000000"], [float("nan")], 1.0)
    with pytest.raises(InputError):
        ink_table_html(["c"], ["#000000"], [1.0, 2.0], 1.0)


def test_small_pieces_are_escaped():
    assert "a &lt; b" in paragraph("a < b")
    assert "<dd>1 &amp; 2</dd>" in facts_html([("Size", "1 & 2")])


def luminance(colour):
    # WCAG 2.1, relative luminance.
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.parametrize("colour", [INK, MUTED, PASS, FAIL, UNDECIDED])
def test_contrast_is_enough_on_a_shop_floor(colour):
    for ground in ("#ffffff", GROUND):
        assert (luminance(ground) + 0.05) / (luminance(colour) + 0.05) >= 4.5


def test_cautions_by_process():
    reactive = " ".join(cautions(["reactive"]))
    for word in ("lungs", "gloves", "Steamer", "heavy", "licensed"):
        assert word in reactive
    assert "UV" not in reactive
    assert "ozone" in " ".join(cautions(["uv"]))
    assert cautions(["uv", "uv", "calender"])[-1] == DEFERS
    rows = resources.files("strikeoff.report").joinpath("data/cautions.toml").read_text().count("[[caution]]")
    assert len(set(cautions(known_processes()))) == len(cautions(known_processes())) == rows + 1
    with pytest.raises(UsageError, match="reactive"):
        cautions(["magic"])


def test_tables_are_listed_with_their_digest():
    folder = resources.files("strikeoff.report") / "data"
    (row,) = tomllib.loads((folder / "SOURCES.toml").read_text(encoding="utf-8"))["source"]
    data = (folder / row["file"]).read_bytes()
    assert hashlib.sha256(data).hexdigest() == row["sha256"]
    assert len(tomllib.loads(data.decode())["caution"]) == row["rows"]
