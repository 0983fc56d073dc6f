"""Repeat plans through the installed program: SVG, PDF, an option by its name."""

import xml.etree.ElementTree as ET

import pytest
from contracts_program import ROLL, call, inside

SVG = "{http://www.w3.org/2000/svg}"
PRESS = ["--warp", "-5.5", "--weft", "-3", "--width", "1450"]


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
