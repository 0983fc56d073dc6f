"""Layout documents with any field exchanged for anything: read or refused in one clear error."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.layout.lay import press_grids
from strikeoff.layout.mark_records import MarkOptions
from strikeoff.layout.marks import place_marks
from strikeoff.layout.marks_drawing import marks_svg
from strikeoff.layout.marks_file import write_positions
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.placement_file import layout_record, read_layout, write_layout

SOUND = {
    "schema": "strikeoff/layout/1", "width_mm": 500, "margin_mm": 10, "warp_percent": -5.5, "weft_percent": 3,
    "placements": [
        {"code": "cloth", "x_mm": 0, "y_mm": 0, "width_mm": 400, "height_mm": 900, "artwork": "fern",
         "turn_degrees": 90, "mirror": False, "bleed_mm": 2, "group": "g", "sequence": 1,
         "repeat": {"size_mm": [120, 80], "kind": "brick", "offset": "2/3", "turned": True,
                    "origin_mm": [-3, 40.5]}},
        {"code": "B", "x_mm": 0, "y_mm": 910, "width_mm": 200, "height_mm": 100, "artwork": "moss",
         "turn_degrees": 270, "mirror": True, "bleed_mm": [1, 2, 0, 3], "mirrored_mm": 3,
         "crop_mm": [-4, 0, 100, 200],
         "artwork_mm": [300, 400]},
        {"code": "C", "x_mm": 410, "y_mm": 0, "width_mm": 30, "height_mm": 900, "repeat":
         {"size_mm": [30, 40], "mirror": "along", "only": "along"}},
    ],
}  # fmt: skip

NUMBERS = st.one_of(
    st.integers(-(10**400), 10**400), st.floats(), st.integers(-3, 400),
    st.sampled_from([1e-320, 1e308, -0.0, 199_999.9, 10**17]),
)  # fmt: skip
ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | NUMBERS
    | st.text(max_size=6)
    | st.sampled_from(["drop", "1/3", "across", ""]),
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=8,
)


def places(value, path=()):
    """Every place of a document."""
    yield path
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in inner:
        yield from places(part, (*path, key))


PLACES = [path for path in places(SOUND) if path]


def exchanged(changes):
    """The sound document with values exchanged, left out (None of a field) or added."""
    record = deepcopy(SOUND)
    for path, value in changes:
        inner = record
        try:
            for key in path[:-1]:
                inner = inner[key]
            inner[path[-1]] = value
        except (TypeError, KeyError, IndexError):
            continue
    return record


def read(path, text):
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    layout = read_layout(path)
    # What was read can be used: laid, marked, drawn, kept and read again.
    press_grids(layout, 100, 90)
    marks, _ = place_marks(layout, MarkOptions(("trim", "cutter", "code")))
    ElementTree.fromstring(marks_svg(layout, marks, "roll", 30, 30))
    write_positions(path.with_suffix(".csv"), layout, marks)
    path.write_text(json.dumps(layout_record(layout)))
    assert read_layout(path) == layout


def test_the_sound_document_is_read(tmp_path):
    read(tmp_path / "l.json", json.dumps(SOUND))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(PLACES), ANYTHING), min_size=1, max_size=3))
@example([(("placements", 0, "x_mm"), 10**400)])
@example([(("placements", 0, "sequence"), -(10**400))])
@example([(("placements", 0, "code"), "\ud800")])
@example([(("placements", 0, "artwork"), "a\0b")])
@example([(("placements", 0, "code"), "x\n\x07")])
@example([(("placements", 0, "repeat", "offset"), "\ud800/3")])
@example([(("placements", 0, "repeat", "size_mm"), [1, 1])])
@example([(("placements", 0, "repeat", "kind"), "\udfff")])
@example([(("schema",), {"\ud800": ["x"] * 5})])
@example([(("placements", 1, "\ud800"), 1)])
def test_anything_is_read_or_refused(tmp_path, changes):
    try:
        read(tmp_path / "l.json", json.dumps(exchanged(changes)))
        said = ""
    except InputError as error:
        said = str(error)
    assert len(said) < 600
    assert said.isprintable()


@pytest.mark.parametrize(
    "text", ["", "[", "[" * 100_000, "{}", "7", "null", '"\\ud800"', "1" * 5000, "\ufeff{}"]
)
def test_what_is_no_layout(tmp_path, text):
    with pytest.raises(InputError, match="layout"):
        read(tmp_path / "l.json", text)


def test_a_source_without_an_end():
    with pytest.raises(InputError, match="layout is not JSON"):
        read_layout("/dev/zero")


def test_no_layout_is_written_that_could_not_be_read(tmp_path):
    rows = tuple(Placement(f"A-{k}", 0.0, 1000.0 * k, 900.0, 990.0) for k in range(202))
    with pytest.raises(InputError, match=r"A-201: layout is too long for one roll \(found 201.0 m finished"):
        write_layout(tmp_path / "long.json", Layout(1000.0, 10.0, 0.0, 0.0, rows))
    assert not list(tmp_path.iterdir())
    write_layout(tmp_path / "roll.json", Layout(1000.0, 10.0, 0.0, 0.0, rows[:-1]))
    assert len(read_layout(tmp_path / "roll.json").placements) == 201


def test_the_example_of_the_contract_is_read(tmp_path):
    page = (Path(__file__).parents[2] / "docs" / "contracts.md").read_text(encoding="utf-8")
    text = page.split("### Layouts")[1].split("```json")[1].split("```")[0]
    (tmp_path / "l.json").write_text(text)
    layout = read_layout(tmp_path / "l.json")
    assert [p.code for p in layout.placements] == ["fabric", "panel", "beside"]
    assert layout.placements[0].repeat == layout.placements[2].repeat
