"""What a person reads tells the finished size first and the printed one beside it."""

import re

import pytest

from strikeoff import workbench

CHANGE = {"warp": -5.5, "weft": -3.0}
# ISO 5077 sign: printed = finished / (1 + change / 100).
ALONG, ACROSS = 0.945, 0.97


def grid_rows():
    return ["direction,lot,specimen,file_mm,finished_mm"] + [
        f"{way},{lot},{specimen},500,{base + lot + specimen / 4}"
        for way, base in (("warp", 470), ("weft", 485))
        for lot in (1, 2, 3)
        for specimen in (1, 2)
    ]


@pytest.fixture
def grids(tmp_path):
    path = tmp_path / "grids.csv"
    path.write_text("\n".join(grid_rows()))
    return path


def commands(tmp_path, grids):
    pieces = tmp_path / "pieces.csv"
    pieces.write_text("code,width_mm,height_mm\nA,500,700\nB,300,400\n")
    layout = tmp_path / "copies.json"
    copies = workbench.roll_copies(finished=(450, 300), count=10, width=1450, layout=layout, **CHANGE)
    return {
        "measure": workbench.measure_finishing(grids),
        "risk": workbench.finishing_risk(grids, finished=(640, 640), tolerance=5, dpi=(600, 600)),
        "options": workbench.roll_options(finished=(640, 640), width=1450, order=42, **CHANGE),
        "copies": copies,
        "panels": workbench.roll_panels(visible=(6000, 2500), width=3200, **CHANGE),
        "nest": workbench.roll_nest(pieces, width=1450, seconds=1, **CHANGE),
        "cut": workbench.cut_roll(tmp_path / "cut.svg", layout=layout),
    }


def test_finished_comes_before_printed_on_every_line(tmp_path, grids):
    seen = 0
    for name, result in commands(tmp_path, grids).items():
        for line in result.lines:
            for part in line.split(";"):
                if "printed" in part and re.search(r"\d m", part) and "way between" not in part:
                    seen += 1
                    assert "finished" in part.split("printed")[0], (name, line)
    assert seen >= 9


def test_sizes_that_are_told_belong_together(tmp_path, grids):
    found = commands(tmp_path, grids)
    copies, panels, nest = (found[name].results for name in ("copies", "panels", "nest"))
    assert copies["finished_mm"] == [450, 300]
    assert copies["printed_mm"] == pytest.approx([450 / ACROSS, 300 / ALONG])
    assert panels["finished_m"] == pytest.approx(panels["printed_m"] * ALONG)
    assert nest["bound_finished_mm"] == pytest.approx(nest["bound_mm"] * ALONG)
    assert "450 x 300 mm finished, 463.92 x 317.46 mm printed" in found["copies"].lines[0]
    scaled = next(line for line in found["options"].lines if line.startswith("scaled-2"))
    # The cuttable 1430 mm hold two repeats: 715 printed, 693.55 finished.
    assert "repeat 693.55 x" in scaled
    assert "715.00 x" in scaled


def test_snapping_and_spread_stand_on_lines_of_their_own(grids):
    told = workbench.finishing_risk(grids, finished=(640, 640), tolerance=5, dpi=(600, 600)).lines
    assert [line.startswith("snapping to press pixels: ") for line in told].count(True) == 1
    assert told[2].startswith("shrink spread")
    assert all("snapping" not in line for line in told[3:])
    unknown = workbench.finishing_risk(grids, finished=(640, 640), tolerance=5).lines
    assert "not counted" in unknown[1]


def test_cautions_of_finishing_come_once_and_defer(grids):
    found = workbench.measure_finishing(grids)
    steam = [line for line in found.lines if "steam" in line.lower()]
    assert len(steam) == 1
    for word in ("dye dust", "ultraviolet", "hot"):
        assert word in steam[0]
    assert [line for line in found.lines if "safety data sheets" in line] == [found.lines[-1]]
    assert "local rules" in found.lines[-1]
    assert found.results["cautions"] == list(found.lines[-len(found.results["cautions"]) :])
