"""Panels: makers' worked example, fewest panels, seams that cover, eyelets, refusals, drawing."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from drawn_words import faults
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, RangeError, UsageError
from strikeoff.layout import panels
from strikeoff.layout.panel_drawing import panel_map_svg
from strikeoff.layout.panels import PanelJob, eyelet_places_mm, plan_panels, pocket_flat_mm
from strikeoff.workbench import roll_panels

WALL = PanelJob(6000, 2500, -1.2, 0.3, 3150)


def test_worked_example_of_a_pocket(monkeypatch):
    # A maker's artwork sheet: 300 mm high, pockets of 50 mm, trim 3, join 25 give 456; 300 wide gives 306.
    monkeypatch.setattr(panels, "pocket_flat_mm", lambda pole_mm: 50.0)
    plan = plan_panels(PanelJob(300, 300, 0, 0, 1000, pole_mm=29))
    assert plan.cloth_mm == (306, 456)


def test_pocket_of_a_pole():
    # The same sheet: a pole of 35 mm wants a pocket of 60 mm, flat.
    assert pocket_flat_mm(35) == pytest.approx(60, abs=0.1)


@given(
    st.floats(100, 30_000), st.floats(-12, 5), st.floats(300, 3200), st.sampled_from(["overlap", "butt"]),
    st.floats(0, 60), st.floats(0, 4),
)  # fmt: skip
def test_fewest_panels_that_cover(width, weft, cuttable, join, overlap, stretch):
    job = PanelJob(width, 1000, -3, weft, cuttable, join=join, overlap_mm=overlap, stretch_percent=stretch)
    plan = plan_panels(job)
    shared = overlap if join == "overlap" else 0.0
    widest = cuttable * (1 + weft / 100)
    count = len(plan.panels)
    total = width / (1 + stretch / 100) + 6
    assert plan.panels[0].start_mm == 0
    assert plan.panels[-1].end_mm == pytest.approx(total)
    for a, b in zip(plan.panels, plan.panels[1:], strict=False):
        assert a.end_mm - b.start_mm == pytest.approx(shared, abs=1e-6)
    for panel in plan.panels:
        assert panel.end_mm - panel.start_mm <= widest * (1 + 1e-8)
        assert panel.printed_mm[0] == pytest.approx((panel.end_mm - panel.start_mm) / (1 + weft / 100))
    if count > 1:
        assert (count - 1) * widest - (count - 2) * shared < total


def test_length_hems_and_stretch():
    plan = plan_panels(replace(WALL, hem_mm=25, stretch_percent=2))
    assert plan.cloth_mm == pytest.approx((6000 / 1.02 + 56, 2500 / 1.02 + 56))
    assert plan.printed_m == pytest.approx(2 * (2500 / 1.02 + 56) / 0.988 / 1000)


def test_eyelets():
    # Makers: every 600 mm and in the corners, ceil(side / 600) + 1 to a side.
    assert len(eyelet_places_mm(1800)) == 4
    assert len(eyelet_places_mm(1801)) == 5
    assert eyelet_places_mm(100) == (0, 100)
    for bad in ((0, 600), (100, 0), (float("nan"), 600), (100, 1e-9)):
        with pytest.raises(InputError):
            eyelet_places_mm(*bad)


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"visible_w_mm": 0}, InputError),
        ({"visible_h_mm": float("nan")}, InputError),
        ({"overlap_mm": -1}, InputError),
        ({"overlap_mm": 900, "cuttable_mm": 800}, InputError),
        ({"cuttable_mm": 21}, InputError),
        ({"stretch_percent": -1}, InputError),
        ({"weft_percent": 25}, RangeError),
        ({"join": "glue"}, UsageError),
    ],
)
def test_refusals(change, error):
    with pytest.raises(error):
        plan_panels(replace(WALL, **change))


def test_drawing_and_cautions(tmp_path):
    path = tmp_path / "map.svg"
    found = roll_panels(
        visible=(9000, 2500), warp=-1, weft=0, width=3200, eyelets=600, hem=True, drawing=path
    )
    root = ET.parse(path).getroot()

    def boxes(kind):
        return [e for e in root.iter() if e.get("class") == kind]

    assert len(boxes("panel")) == len(found.results["panels"]) == 3
    assert len(boxes("shared")) == 2
    widths = [float(e.get("width")) for e in boxes("panel")]
    height = float(boxes("panel")[0].get("height"))
    panel = found.results["panels"][0]
    drawn = (panel["end_mm"] - panel["start_mm"]) / found.results["cloth_mm"][1]
    assert widths[0] / height == pytest.approx(drawn, rel=1e-3)
    across, along = found.results["eyelets_mm"]
    eyelets = [(float(e.get("cx")), float(e.get("cy"))) for e in boxes("eyelet")]
    assert len(eyelets) == 2 * len(across) + 2 * len(along) - 4
    # In the middle of a hem of 25 mm, inside what is seen.
    seen = next(e for e in root.iter() if e.get("class") == "seen")
    scale = height / found.results["cloth_mm"][1]
    left = min(x for x, _ in eyelets) - float(seen.get("x"))
    assert left / scale == pytest.approx(12.5, rel=0.02)
    assert any("work at height" in line for line in found.results["cautions"])
    assert faults(path.read_text()) == ([], [])
    text = panel_map_svg(plan_panels(WALL), "a < b & c")
    assert "shared strip, " in text
    assert "1 panel, " in panel_map_svg(plan_panels(PanelJob(900, 700, 0, 0, 1500)), "small")
    assert "a &lt; b &amp; c" in text
