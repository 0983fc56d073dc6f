"""Finishing grids through the workbench: figures, refusals, drawings."""

import xml.etree.ElementTree as ET

import pytest

from strikeoff import workbench
from strikeoff.base.errors import InputError, RangeError, UsageError
from strikeoff.layout.bow_skew import bow_percent


def grid(rows, head="lot,specimen,direction,file_mm,printed_mm,steamed_mm,finished_mm"):
    return "\n".join([head, *rows]) + "\n"


ROWS = [
    f"{lot},{specimen},{way},500,505,{after + 4},{after + pair / 10}"
    for way, base in (("warp", 475.0), ("weft", 490.0))
    for lot in (1, 2, 3)
    for specimen in (1, 2, 3)
    for pair in (-1, 0, 1)
    for after in [base + 2 * lot + 0.4 * specimen]
]


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "grid.csv"
    path.write_text(grid(ROWS), encoding="utf-8")
    return path


def test_change_is_over_the_file_and_iso_5077_beside_it(table):
    found = workbench.measure_finishing(table).results["warp"]
    # ISO 5077: 100 (after - before) / before, before being the print; ours also holds the 1 % of the feed.
    assert found["change_percent"] == pytest.approx(100 * (479.8 / 500 - 1))
    assert found["iso_5077_percent"] == pytest.approx(100 * (479.8 / 505 - 1))
    assert (found["specimens"], found["lots"]) == (9, 3)
    factors = [1 + step / 100 for step in found["steps_percent"].values()]
    assert list(found["steps_percent"]) == ["printed", "steamed", "finished"]
    assert factors[0] == pytest.approx(1.01)
    assert factors[0] * factors[1] * factors[2] == pytest.approx(479.8 / 500, rel=1e-5)
    # Print size = finished / (1 + DC/100).
    assert found["printed_for_1000_mm"] == pytest.approx(1000 * 500 / 479.8)
    assert found["lot_sd_percent"] == pytest.approx((0.16 - 0.08**2 / 3) ** 0.5)
    assert found["specimen_sd_percent"] == pytest.approx(0.08)


def test_bow_and_skew_are_judged_by_the_worst_place(table, tmp_path):
    # ISO 13015: 100 x greatest distance / width; 30 mm of 1.5 m are 2 %.
    assert bow_percent(30, 1500) == 2.0
    lines = tmp_path / "lines.csv"
    lines.write_text("roll,at_m,width_mm,bow_mm,skew_mm\n7,1,1500,3,-4\n7,9,1500,31,2\n8,1,1500,30,45\n")
    found = workbench.measure_finishing(table, lines=lines)
    assert found.outcome == "fail"
    seven, eight = found.results["rolls"]
    assert (seven["passes"], eight["passes"]) == (False, True)
    assert seven["skew_percent"] == pytest.approx(100 * 4 / 1500)
    assert workbench.measure_finishing(table, lines=lines, bow_limit=2.1).outcome == "pass"


def test_snapping_and_spread_are_apart(table):
    plain = workbench.finishing_risk(table, finished=(320, 320), tolerance=2, repeats=100).results
    snapped = workbench.finishing_risk(
        table, finished=(320, 320), tolerance=2, repeats=100, dpi=(600, 600)
    ).results
    assert plain["snapping_error_mm"] == [0, 0]
    assert 0 < abs(snapped["snapping_error_mm"][1]) <= 25.4 / 600 / 2
    assert snapped["snapping_error_over_order_mm"] == pytest.approx(
        100 * snapped["snapping_error_mm"][1], abs=1e-4
    )
    assert plain["risks"]["seam_same_lot"]["beyond"] < plain["risks"]["seam_other_lot"]["beyond"]
    spread = [r["risks"]["order"]["high_mm"] - r["risks"]["order"]["low_mm"] for r in (plain, snapped)]
    assert spread[0] == pytest.approx(spread[1], rel=1e-3)


BAD = {
    "zero distance": ("1,1,warp,0,505,480,475", InputError, "length cannot be"),
    "negative distance": ("1,1,warp,500,505,480,-475", InputError, "length cannot be"),
    "not a number": ("1,1,warp,500,505,480,nan", InputError, "line 2, finished_mm"),
    "shrinks by more than half": ("1,1,warp,500,505,480,249", RangeError, "-50 to"),
    "grows by more than a fifth": ("1,1,warp,500,505,480,601", RangeError, "20 %"),
    "unknown direction": ("1,1,bias,500,505,480,475", InputError, "warp"),
    "too few cells": ("1,1,warp,500", InputError, "cells"),
}


@pytest.mark.parametrize(("row", "error", "says"), BAD.values(), ids=BAD)
def test_bad_rows(row, error, says, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text(grid([row]))
    with pytest.raises(error, match=says):
        workbench.measure_finishing(path)


@pytest.mark.parametrize("data", [b"", b"\xff\xfe\x00", b"a,b\n1,2\n", grid([]).encode()])
def test_bad_files(data, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_bytes(data)
    with pytest.raises(InputError):
        workbench.measure_finishing(path)


def test_steps_out_of_order(tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text("direction,finished_mm,file_mm\nwarp,475,500\n")
    with pytest.raises(InputError, match="order of the steps"):
        workbench.measure_finishing(path)


def test_one_specimen_says_that_its_spread_is_unknown(tmp_path):
    path = tmp_path / "one.csv"
    path.write_text("direction,file_mm,finished_mm\nwarp,500,475\nwarp,500,476\nweft,500,490\n")
    found = workbench.measure_finishing(path)
    assert found.results["warp"]["interval_90_percent"] is None
    assert "not known" in found.problems[0].message
    assert "interval not known" in found.lines[0]
    with pytest.raises(InputError, match="one specimen"):
        workbench.finishing_risk(path, finished=(300, 300), tolerance=2)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"finished": (1e300, 640)}, r"finished size .*1e\+300.*200,000 mm"),
        ({"finished": (0, 640)}, "finished size"),
        ({"tolerance": 0.0}, "tolerance"),
        ({"tolerance": 1e9}, "tolerance"),
        ({"skew_sd": 1e308}, "spread"),
        ({"cut_sd": -1.0}, "spread"),
        ({"sew_sd": float("nan")}, "spread"),
        ({"repeats": 0}, "repeats"),
        ({"seed": -1}, "seed"),
    ],
)
def test_numbers_that_cannot_be(table, wrong, says):
    with pytest.raises(UsageError, match=says):
        workbench.finishing_risk(table, **{"finished": (300, 300), "tolerance": 2.0, **wrong})


def test_drawings(table, tmp_path):
    svg, pdf = tmp_path / "d.svg", tmp_path / "d.pdf"
    workbench.measure_finishing(table, drawing=svg)
    workbench.measure_finishing(table, drawing=pdf)
    root = ET.parse(svg).getroot()
    assert sum(e.get("class") == "specimen" for e in root.iter()) == 18
    assert pdf.read_bytes().startswith(b"%PDF-")
    with pytest.raises(UsageError, match="kind of drawing"):
        workbench.measure_finishing(table, drawing=tmp_path / "d.bmp")
