"""No name stands for two recipes of different files."""

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.measurement.names import names_apart
from strikeoff.measurement.records import ReadingSet


def make(source, names, amounts):
    recipes = np.reshape(np.asarray(amounts, dtype=float), (-1, 1))
    return ReadingSet(tuple(names), ("1CLR_1",), recipes, lab=np.zeros((len(names), 3)), source=source)


def test_a_second_chart_is_named_after_its_file():
    chart = make("day/chart.txt", ["1", "2"], [0.0, 1.0])
    further = make("day/next.txt", ["1", "2"], [0.3, 0.6])
    (first, second), (note,) = names_apart([chart, further])
    assert first.sample_ids == ("1", "2")
    assert second.sample_ids == ("next:1", "next:2")
    assert (note.severity, note.where, note.found) == ("note", "day/next.txt", "1 is next:1 now")


def test_one_chart_read_again_keeps_its_names():
    chart = make("a.txt", ["1", "2"], [0.0, 1.0])
    sets, notes = names_apart([chart, replace(chart, source="b.txt")])
    assert [one.sample_ids for one in sets] == [("1", "2")] * 2
    assert notes == []


AMOUNTS = st.lists(st.sampled_from([0.0, 0.25, 0.5, 1.0]), min_size=1, max_size=4)


@given(st.lists(AMOUNTS, min_size=1, max_size=5))
def test_files_of_one_name_stay_apart_too(files):
    sets, _ = names_apart(
        [make(f"{n}/chart.txt", [str(i) for i in range(len(rows))], rows) for n, rows in enumerate(files)]
    )
    known = {}
    for one in sets:
        for name, recipe in zip(one.sample_ids, one.coverages[:, 0], strict=True):
            assert known.setdefault(name, recipe) == recipe
