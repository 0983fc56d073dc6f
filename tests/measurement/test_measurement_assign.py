"""Plain readings on the patches of a chart: every way of naming and walking must find the right ones.

How instruments name and walk is common practice, no source.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.measurement.assign import assign
from strikeoff.measurement.chart_patches import read_chart
from strikeoff.measurement.records import ReadingSet, Setup

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def colour(inks):
    """Lab that falls off with ink: enough to tell patches apart."""
    inks = np.asarray(inks)
    light = 95 - 75 * (1 - np.prod(1 - 0.6 * inks, axis=1))
    return np.stack([light, 60 * (inks[:, 1] - inks[:, 0]), 70 * (inks[:, 2] - 0.5 * inks[:, 0])], axis=-1)


def reference(path, rows, columns, pages=1, *, names=None, inks=None, places=True, turning=False, words=""):
    """A reference written by hand, patches in reading order; returns it and where each patch stands."""
    count = rows * columns * pages
    rng = np.random.default_rng(7)
    inks = rng.random((count, 3)).round(3) if inks is None else inks
    names = [str(1 + k) for k in rng.permutation(count)] if names is None else names
    spots = [
        (page, row, column)
        for page in range(pages)
        for row in range(rows)
        for column in (range(columns)[::-1] if turning and row % 2 else range(columns))
    ]
    fields = "SAMPLE_ID 3CLR_1 3CLR_2 3CLR_3" + (" PAGE ROW COLUMN" if places else "")
    lines = [
        "ISO28178",
        'INK_SPACE "calibrated"',
        'CURVES_DIGEST "sha256:abc"',
        words,
        "BEGIN_DATA_FORMAT",
        fields,
    ]
    lines += ["END_DATA_FORMAT", f"NUMBER_OF_SETS {count}", "BEGIN_DATA"]
    for name, recipe, (page, row, column) in zip(names, inks, spots, strict=True):
        place = f" {page + 1} {LETTERS[row]} {column + 1}" if places else ""
        lines.append(f"{name} " + " ".join(f"{100 * v:.1f}" for v in recipe) + place)
    path.write_text("\n".join([*filter(None, lines), "END_DATA", ""]))
    return read_chart(path), spots


def readings(chart, patches, names=None, **more):
    """What an instrument writes that saw these patches in this order."""
    patches = np.asarray(patches)
    ids = tuple(names) if names is not None else tuple(f"Sample {k}" for k in range(len(patches)))
    return ReadingSet(
        ids,
        (),
        np.zeros((len(patches), 0)),
        lab=colour(chart.readings.coverages[patches]),
        source="read.csv",
        **more,
    )


def is_right(found):
    """Every colour stands beside the inks that made it."""
    return np.abs(colour(found.readings.coverages) - found.readings.lab).max() < 1e-9


@pytest.fixture
def chart(tmp_path):
    return reference(tmp_path / "chart.txt", 8, 10)


@settings(max_examples=20, deadline=None)
@given(order=st.permutations(range(80)), count=st.integers(1, 80))
def test_names_in_any_order(tmp_path_factory, order, count):
    chart, _ = reference(tmp_path_factory.mktemp("c") / "chart.txt", 8, 10)
    seen = list(order)[:count]
    names = [f" {chart.readings.sample_ids[k]}" for k in seen]
    found = assign(chart, [readings(chart, seen, names)], "names")
    assert found.patches.tolist() == seen
    assert found.by == "names"
    assert is_right(found)
    assert len(found.missing) == 80 - count
    assert found.readings.keywords["CURVES_DIGEST"] == "sha256:abc"


@pytest.mark.parametrize("style", ["{r}{c}", "{c}{r}", "{r}-{c:02d}", "{c:03d} {r}"])
def test_rows_and_columns(chart, style):
    chart, spots = chart
    seen = np.random.default_rng(1).permutation(80)
    names = [style.format(r=LETTERS[spots[k][1]], c=spots[k][2] + 1) for k in seen]
    found = assign(chart, [readings(chart, seen, names)])
    assert found.by == "places"
    assert found.patches.tolist() == seen.tolist()
    assert is_right(found)


def test_letters_that_name_columns(tmp_path):
    """On a square page both readings of a name fit; the colours tell, and a person decides."""
    chart, spots = reference(tmp_path / "square.txt", 9, 9)
    names = [f"{LETTERS[column]}{row + 1}" for _, row, column in spots]
    seen = readings(chart, range(81), names)
    with pytest.raises(InputError, match=r"letters name columns.*--walk columns"):
        assign(chart, [seen])
    assert is_right(assign(chart, [seen], walk="columns"))
    kept = assign(chart, [seen], "places", "rows")
    assert [p.severity for p in kept.problems] == ["warning"]
    assert not is_right(kept)


@pytest.mark.parametrize("turning", [False, True])
@pytest.mark.parametrize("walk", ["rows", "back", "turning", "columns"])
def test_orders_of_reading(tmp_path, walk, turning):
    chart, spots = reference(tmp_path / "chart.txt", 7, 11, 2, turning=turning)
    place = {spot: k for k, spot in enumerate(spots)}
    seen = []
    for page in range(2):
        on_page = [spot for spot in spots if spot[0] == page]
        if walk == "back":
            on_page = on_page[::-1]
        elif walk == "columns":
            on_page = [(page, row, column) for column in range(11) for row in range(7)]
        elif walk == "turning":
            backwards = (lambda row: row % 2 == 0) if not turning else (lambda row: False)
            on_page = [
                (page, row, column)
                for row in range(7)
                for column in (range(11) if turning or backwards(row) else range(11)[::-1])
            ]
        seen += [place[spot] for spot in on_page]
    whole = readings(chart, seen)
    found = assign(chart, [whole], walk=walk)
    assert found.by == "order"
    assert is_right(found)
    pages = [readings(chart, seen[:77]), readings(chart, seen[77:])]
    assert is_right(assign(chart, pages, walk=walk))
    if walk != "rows":
        with pytest.raises(InputError, match=f"--walk {walk}"):
            assign(chart, [whole])


def test_row_numbers_are_not_taken_for_names(chart):
    """The chart's names are 1 to 80 in places by lot; instruments number what they read 1 to 80 too."""
    chart, _ = chart
    numbered = readings(chart, range(80), map(str, range(1, 81)))
    with pytest.raises(InputError, match=r"count its rows.*--by order"):
        assign(chart, [numbered])
    assert is_right(assign(chart, [numbered], "order"))
    place = {name: k for k, name in enumerate(chart.readings.sample_ids)}
    sorted_by_name = readings(chart, [place[str(n)] for n in range(1, 81)], map(str, range(1, 81)))
    found = assign(chart, [sorted_by_name])
    assert found.by == "names"
    assert is_right(found)


def test_row_numbers_of_a_chart_read_in_part_are_not_taken_for_names(chart):
    """An export without names of the first half: its rows count from 1, and so are patches called."""
    chart, _ = chart
    half = readings(chart, range(40), map(str, range(1, 41)))
    with pytest.raises(InputError, match=r"read in part.*40 rows; expected 80 rows.*Read the rest"):
        assign(chart, [half])
    place = {name: k for k, name in enumerate(chart.readings.sample_ids)}
    named = readings(chart, [place[str(n)] for n in range(1, 41)], map(str, range(1, 41)))
    assert is_right(assign(chart, [named]))


@pytest.mark.parametrize(
    "spelt", [lambda n: n.replace(".", ","), lambda n: f"{float(n):.2f}", lambda n: f"{float(n):07.2f}"]
)
def test_numbers_that_a_spreadsheet_wrote_anew(tmp_path, spelt):
    """38.2 comes back as 38,2, 38.20 or 0038.20; with rows counted so, the colours still tell."""
    names = [f"{1 + k // 2}" + (".2" if k % 2 else "") for k in np.random.default_rng(3).permutation(80)]
    chart, _ = reference(tmp_path / "chart.txt", 8, 10, names=names)
    seen = np.random.default_rng(1).permutation(80)
    found = assign(chart, [readings(chart, seen, [spelt(names[k]) for k in seen])])
    assert found.by == "names"
    assert is_right(found)
    counted, _ = reference(tmp_path / "counted.txt", 8, 10)
    numbered = readings(counted, range(80), [spelt(str(n)) for n in range(1, 81)])
    with pytest.raises(InputError, match=r"count its rows.*--by order"):
        assign(counted, [numbered])


def test_names_that_only_spreadsheets_confuse_stay_apart(tmp_path):
    names = ["8.1", "8.10", *(f"P{k}" for k in range(78))]
    chart, _ = reference(tmp_path / "chart.txt", 8, 10, names=names)
    seen = np.random.default_rng(1).permutation(80)
    assert is_right(assign(chart, [readings(chart, seen, [names[k] for k in seen])], "names"))
    with pytest.raises(InputError, match="other names, such as 8,1"):
        assign(chart, [readings(chart, seen, [names[k].replace(".", ",") for k in seen])], "names")


def test_few_rows_cannot_tell_names_from_numbers(tmp_path):
    chart, _ = reference(tmp_path / "few.txt", 3, 4)
    numbered = readings(chart, range(12), map(str, range(1, 13)))
    with pytest.raises(InputError, match="do not tell"):
        assign(chart, [numbered])
    assert is_right(assign(chart, [numbered], "order"))


def test_a_chart_read_several_times_and_files_of_pages(tmp_path):
    chart, spots = reference(tmp_path / "chart.txt", 5, 8, 2)
    twice = readings(chart, [*range(80), *range(80)])
    assert is_right(assign(chart, [twice, readings(chart, range(80))]))
    # Both pages are named from A1 on.
    names = [f"{LETTERS[row]}{column + 1}" for _, row, column in spots]
    pages = [readings(chart, range(40), names[:40]), readings(chart, range(40, 80), names[40:])]
    found = assign(chart, pages)
    assert found.by == "places"
    assert is_right(found)
    with pytest.raises(InputError, match=r"files of 40 \+ 40 rows"):
        assign(chart, [readings(chart, range(70))])


def test_pages_read_from_the_last_to_the_first(tmp_path):
    chart, _ = reference(tmp_path / "chart.txt", 5, 8, 2)
    turned = [*range(40, 80), *range(40)]
    with pytest.raises(InputError, match="last page was read first"):
        assign(chart, [readings(chart, turned)])
    with pytest.raises(InputError, match="last page was read first"):
        assign(chart, [readings(chart, range(40, 80)), readings(chart, range(40))])
    with pytest.raises(InputError, match="with --walk back"):
        assign(chart, [readings(chart, range(80)[::-1])])
    assert is_right(assign(chart, [readings(chart, range(80))]))


def test_what_does_not_belong(chart, tmp_path):
    chart, _ = chart
    with pytest.raises(InputError, match="79 rows named Sample 0"):
        assign(chart, [readings(chart, range(79))])
    with pytest.raises(InputError, match="other names, such as Sample 0"):
        assign(chart, [readings(chart, range(80))], "names")
    other = readings(chart, range(80), keywords={"CURVES_DIGEST": "sha256:other"})
    with pytest.raises(InputError, match="through other curves"):
        assign(chart, [other])
    swapped = chart.readings.coverages[:, [1, 0, 2]]
    with pytest.raises(InputError, match="not those of the chart's patch"):
        assign(chart, [ReadingSet(("a",) * 80, chart.readings.ink_columns, swapped, lab=colour(swapped))])
    bare, _ = reference(tmp_path / "bare.txt", 8, 10, places=False)
    assert is_right(assign(bare, [readings(bare, range(80))]))
    with pytest.raises(InputError, match="reference that tells places"):
        assign(bare, [readings(bare, range(80), ["A1"] * 80)], "places")
    modes = [readings(chart, range(80), setup=Setup(mode=mode)) for mode in ("M0", "M1")]
    with pytest.raises(InputError, match="measuring mode"):
        assign(chart, modes)
