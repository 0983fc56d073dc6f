"""Repeat plans through the installed program: SVG, PDF, an option by its name."""

import xml.etree.ElementTree as ET

import pytest
from contracts_page import result_fields
from contracts_program import ROLL, call, inside
from drawn_words import faults

from strikeoff.cli.roll import group

SVG = "{http://www.w3.org/2000/svg}"
PRESS = ["--warp", "-5.5", "--weft", "-3", "--width", "1450"]


def run_all(planes, folder):
    """Run every command of rolls that draws, with all its drawings; return the words by drawing."""
    pieces, shapes, layout = folder / "list.csv", folder / "shapes.svg", folder / "layout.json"
    pieces.write_text("code,width_mm,height_mm,group\nSeat,200,100,chair\nBack,150,100,chair\n")
    shapes.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200">'
        '<rect id="front" x="10" y="10" width="120" height="90"/></svg>'
    )
    cloth = ["--warp", "-5.5", "--weft", "-3", "--width", "320"]
    runs = {
        "compose": [planes, *ROLL.split(), "--out", folder / "r.tif"],
        "copies": ["--finished", "60x40", "--count", "9", *cloth, "--layout", layout, "--artwork", "motif"],
        "lay": [layout, "--planes", f"motif={planes}", "--dpi", "100", "--out", folder / "l.tif"],
        "marks": [layout, "--marks", "cutter,trim"],
        "nest": [pieces, *cloth, "--seconds", "0.2"],
        "nest-shapes": [shapes, *cloth, "--seconds", "1"],
        "options": ["--finished", "60x40", *cloth, "--order", "3"],
        "panels": ["--visible", "900x400", *cloth, "--pole", "20", "--eyelets", "200"],
    }
    found = {}
    for name, words in runs.items():
        options = {o for o in group.commands[name].params if set(o.opts) & {"--drawing", "--repeat-plan"}}
        for option in sorted(o.opts[0] for o in options):
            path = folder / f"{name}{option}.svg"
            done = inside("roll", name, *words, option, path, "--quiet")
            assert done.code == 0, done.err
            found[f"{name} {option}"] = texts(path)
            assert faults(path.read_text()) == ([], []), name
    drawing = {
        name
        for name, command in group.commands.items()
        if any({"--drawing", "--repeat-plan"} & set(p.opts) for p in command.params)
    }
    assert drawing == set(runs)
    return found


def test_every_drawing_of_cloth_ends_with_cautions(planes, tmp_path):
    """Lifting, work at height and structures defer to local rules and licensed trades; so do cutters."""
    found = run_all(planes, tmp_path)
    assert len(found) == 10
    for name, told in found.items():
        text = " ".join(told)
        assert "Rolls are heavy" in text, name
        assert "structural mounting and work at height are for licensed people only" in text, name
        assert "local rules and licensed trades come first" in text, name
        assert ("Knives and lasers" in text) == (name.split()[0] in ("marks", "nest-shapes")), name
        # Hung goods and widths show no direction of the press.
        assert ("FEED" in told) == (name not in ("panels --drawing", "options --drawing")), name


def test_results_of_cuts_and_shapes(tmp_path):
    """Fields are those of the page; the cautions of cutting come with both."""
    shapes = tmp_path / "shapes.svg"
    shapes.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200">'
        '<rect id="front" x="10" y="10" width="120" height="90"/></svg>'
    )
    change = ["--warp", "-5.5", "--weft", "-3"]
    runs = {
        "cut": ["--contour", shapes, *change, "--out", tmp_path / "c.svg"],
        "nest-shapes": [shapes, *change, "--width", "320", "--seconds", "1", "--cuts", tmp_path / "n.dxf"],
    }
    for name, words in runs.items():
        done = inside("roll", name, *words, "--json", "--quiet")
        assert done.code == 0, done.err
        assert set(done.document["results"]) == result_fields(f"roll {name}")
        assert done.document["results"]["cautions"][0].startswith("Knives and lasers")


def texts(path):
    return ["".join(t.itertext()) for t in ET.parse(path).getroot().iter(SVG + "text")]


def test_repeat_plan_of_a_roll(planes, tmp_path):
    """ROLL is a half-drop of 60 x 40 mm finished: each column 20 mm lower, 1430 becomes 240 mm of 260."""
    drawing, out = tmp_path / "plan.svg", tmp_path / "roll.tif"
    done = call(
        "roll", "compose", planes, *ROLL.split(), "--repeat-plan", drawing, "--out", out, "--job", "Fern 3",
        "--json",
    )  # fmt: skip
    assert done.code == 0, done.err + done.out
    assert [output["path"] for output in done.document["outputs"]] == [str(out), str(drawing)]
    told = texts(drawing)
    found = done.document["results"]
    assert told[0] == "Fern 3"
    assert {"A1", "B1", "FEED"} <= set(told)
    finished = [f"{v:.1f}".removesuffix(".0") for v in found["finished_mm"]]
    assert f"{finished[0]} × {finished[1]}" in told
    assert any(line.startswith("half-drop: each column 2") for line in told)
    assert any("Rolls are heavy" in line for line in told)


def test_repeat_plan_of_an_option(tmp_path):
    pymupdf = pytest.importorskip("pymupdf")
    words = ["roll", "options", "--finished", "300x200", *PRESS, "--order", "10"]
    drawing = tmp_path / "plan.pdf"
    done = call(*words, "--repeat", "brick", "--repeat-plan", drawing, "--plan-of", "left-bare")
    assert done.code == 0, done.err
    with pymupdf.open(drawing) as document:
        text = document[0].get_text()
    assert "left-bare, 10 m finished ordered" in text
    assert "300 × 200" in text
    # 1430 x 0.97 = 1387.1: four repeats of 300 leave 187.1; by hand.
    assert "right 187.1 mm (192.9 printed)" in text
    # Without a name: 4 whole repeats stand about a gap in the middle.
    drawing = tmp_path / "plan.svg"
    assert inside(*words, "--repeat-plan", drawing).code == 0
    assert texts(drawing)[0] == "gap-edge, 10 m finished ordered"
    wrong = inside(*words, "--repeat-plan", drawing, "--plan-of", "scaled-99", "--json")
    assert wrong.code == 2
    assert "left-bare, motif-bare" in wrong.document["problems"][0]["expected"]
