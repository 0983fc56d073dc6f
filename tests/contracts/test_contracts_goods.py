"""What a condition holds for, from the press's file to the report, and the day on which it ends."""

import ast
import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from contracts_page import result_fields
from contracts_program import ROLL, call, chart_text, ink_lab, inside, recipes

from strikeoff import workbench
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.inks.goods import Goods
from strikeoff.inks.press_file import read_goods

pytestmark = pytest.mark.usefixtures("small_tables", "coarse_gamut_of_module")

PRESS = """
[press]
name = "T2"
width_mm = 1600
[ink_set]
class = "acid"
[cloth]
name = "silk crepe"
lot = "Q-12"
[finishing]
measured = "change.json"
[[finishing.step]]
process = "steaming"
temperature_c = 102
minutes = 40
[[finishing.step]]
process = "washing"
[validity]
until = 2031-03-31
[screen]
dpi = 600
"""
INKS = "".join(f'[[ink]]\nname = "{ink}"\nlot = "{ink}-3"\ndrop_pl = [5, 10]\n' for ink in "CMYK")
LAST_DAY, NEXT_DAY = (
    str(int(datetime(2031, m, d, 12, tzinfo=UTC).timestamp())) for m, d in ((3, 31), (4, 1))
)
PASSED = "has passed (found valid until 2031-03-31; expected 2031-04-01 or later)"


def done(*words):
    found = inside(*words)
    assert found.code == 0, found.err + found.out
    return found


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """A press's file and the finishing that it names."""
    folder = tmp_path_factory.mktemp("goods")
    grid = folder / "grid.csv"
    rows = [
        f"{way},{lot},{n},500,{500 * (1 + change / 100 + n / 1000):.2f}"
        for way, change in (("warp", -4.0), ("weft", -2.0))
        for lot in "ab"
        for n in (0, 1)
    ]
    grid.write_text("\n".join(["direction,lot,specimen,file_mm,finished_mm", *rows, ""]))
    (folder / "change.json").write_text(call("finishing", "measure", grid, "--json").out)
    (folder / "press.toml").write_text(PRESS + INKS)
    return folder


@pytest.fixture(scope="module")
def short_chart(tmp_path_factory):
    """Ramps, overprints and greys, enough for a model whose errors nobody judges."""
    path = tmp_path_factory.mktemp("chart") / "short.txt"
    path.write_text(chart_text(recipes((0.0, 1.0))))
    return path


@pytest.fixture(scope="module")
def kept(shelf, short_chart, tmp_path_factory, small_tables, coarse_gamut_of_module):
    """The condition that comes out of limits and curves which carried the goods, in a folder of its own."""
    folder, chart = tmp_path_factory.mktemp("kept"), short_chart
    limits, curves, made = folder / "limits.toml", folder / "curves.json", folder / "kept.cond"
    done("condition", "limits", "--readings", chart, "--inks", shelf / "press.toml", "--out", limits)
    done("condition", "linearise", "--readings", chart, "--limits", limits, "--out", curves)
    text = chart.read_text()
    digest = json.loads(curves.read_text())["curves_digest"]
    through = folder / "through.txt"
    head = f'INK_SPACE "calibrated"\nCURVES_DIGEST "{digest}"\nNUMBER_OF_FIELDS'
    through.write_text(text.replace("NUMBER_OF_FIELDS", head, 1))
    words = ["condition", "build", "--readings", through, "--curves", curves, "--total-ink", "300"]
    built = done(*words, "--out", made, "--json")
    return folder, made, built.document["results"]


def test_limits_and_curves_carry_the_goods_into_the_condition(kept, shelf):
    folder, made, results = kept
    assert set(results) == result_fields("condition build")
    assert read_goods(folder / "limits.toml") == read_goods(shelf / "press.toml")
    goods = results["goods"]
    assert goods["press"] == {"name": "T2", "width_mm": 1600.0}
    assert [ink["lot"] for ink in goods["ink"]] == ["C-3", "M-3", "Y-3", "K-3"]
    assert goods["finishing"]["warp"]["change_percent"] == pytest.approx(-3.95)
    assert goods["finishing"]["weft"]["change_percent"] == pytest.approx(-1.95)
    assert [step["process"] for step in goods["finishing"]["step"]] == ["steaming", "washing"]
    assert results["valid_until"] == "2031-03-31"
    assert results["goods_not_recorded"] == ["pre-treatment"]
    told = done("condition", "show", made).out
    for line in ("T2, 1600 mm wide", "silk crepe; lot Q-12", "steaming 102 °C 40 min, washing", "2031-03-31"):
        assert line in told


def test_equal_goods_are_equal_bytes(kept):
    folder, made, _ = kept
    record, digest = read_condition(made)
    assert write_condition(folder / "again.cond", record) == digest
    plain = replace(record, goods=Goods())
    assert write_condition(folder / "plain.cond", plain) != digest
    assert b'"goods"' not in json.dumps(read_condition(folder / "plain.cond")[0].goods.as_record()).encode()


def test_total_and_split_carry_them_too(shelf, tmp_path):
    steps = np.linspace(0.1, 1, 10)
    ramps = [np.zeros((1, 4)), *(steps[:, None] * one for one in np.eye(4)), steps[:, None] * np.ones(4)]
    readings = tmp_path / "totals.txt"
    readings.write_text(chart_text(np.vstack(ramps)))
    want, limits = read_goods(shelf / "press.toml"), tmp_path / "a" / "limits.toml"
    words = ["--readings", readings, "--limits", shelf / "press.toml"]
    done("condition", "total", *words, "--out", limits)
    assert read_goods(limits) == want
    light = tmp_path / "light.toml"
    light.write_text(
        PRESS.replace("measured", "evidence")
        + INKS.replace("drop_pl", 'role = "light"\nlight_of = "K"\ndrop_pl', 1)
    )
    split = tmp_path / "split.json"
    done("condition", "split", "--readings", readings, "--limits", light, "--out", split)
    assert json.loads(split.read_text())["goods"] == read_goods(light).as_record()


def test_goods_of_readings_from_elsewhere(tmp_path):
    goods, made, chart = tmp_path / "goods.toml", tmp_path / "a.cond", tmp_path / "two.txt"
    inks = np.array([(c, 0.0, 0.0, k) for c in np.linspace(0, 1, 5) for k in np.linspace(0, 1, 5)])
    two = chart_text(inks[:, [0, 3]], names="2CLR_1 2CLR_2", lab=ink_lab(inks))
    chart.write_text(two.replace("NUMBER_OF_FIELDS", 'INK_NAMES "C K"\nNUMBER_OF_FIELDS', 1))
    goods.write_text('[cloth]\nname = "twill"\n[[ink]]\nname = "K"\nlot = "7"\n')
    words = ["condition", "build", "--readings", chart, "--total-ink", "300", "--out", made, "--json"]
    found = inside(*words, "--goods", goods)
    assert found.code == 0, found.err + found.out
    assert found.document["results"]["goods"] == {
        "cloth": {"name": "twill"},
        "ink": [{"name": "K", "lot": "7"}],
    }
    goods.write_text('[[ink]]\nname = "Orange"\nlot = "7"\n')
    refused = inside(*words, "--goods", goods)
    assert refused.code == 3
    assert "Orange" in refused.out
    goods.write_text('[cloth]\nnmae = "twill"\n')
    refused = inside(*words, "--goods", goods)
    assert (refused.code, refused.document["problems"][0]["found"]) == (3, "nmae")


def test_another_press_and_new_curves_keep_the_record(kept, short_chart, tmp_path):
    _, made, results = kept
    other, changed, again = tmp_path / "other.toml", tmp_path / "changed.cond", tmp_path / "again.cond"
    text = (
        PRESS.replace("dpi = 600", "dpi = 720")
        .replace("crepe", "twill")
        .replace("minutes = 40", "minutes = 10")
    )
    text = text.replace('measured = "change.json"', "").replace('"Q-12"', '"Q-13"').replace("T2", "T3")
    other.write_text(text + INKS.replace('"M-3"', '"M-4"'))
    found = inside("condition", "change-press", made, "--limits", other, "--out", changed, "--json")
    assert found.code == 0, found.out
    assert found.document["results"]["goods"] == results["goods"]
    told = {problem["where"]: problem for problem in found.document["problems"]}
    assert set(told) == {"cloth", "finishing", "printer", "cloth lot", "lot of ink M"}
    assert {name for name, problem in told.items() if problem["severity"] == "note"} == {
        "cloth lot",
        "lot of ink M",
    }
    for name in ("cloth", "finishing"):
        assert "no re-linearisation" in told[name]["advice"]
    assert (told["finishing"]["found"], told["finishing"]["expected"]) == (
        "steaming 102 °C 10 min, washing",
        "steaming 102 °C 40 min, washing",
    )
    done("condition", "relinearise", changed, "--readings", short_chart, "--out", again)
    assert read_condition(again)[0].goods == read_condition(made)[0].goods


def test_the_page_tells_what_it_holds_for(kept, tmp_path, monkeypatch):
    _, made, _ = kept
    words = ["condition", "report", made, "--out", tmp_path / "a.html"]
    paper_too = ["--pdf", tmp_path / "a.pdf"]
    monkeypatch.setenv("SOURCE_DATE_EPOCH", LAST_DAY)
    done(*words, *paper_too)
    first = (tmp_path / "a.html").read_text()
    plain = re.sub(r"<[^>]+>", " ", first)
    for text in (
        "What it holds for", "silk crepe", "Q-12", "steaming", "40 min", "-3.95 %", "not recorded",
        "2031-03-31, that day included", "urea and alkali fumes", "near-boiling baths",
    ):  # fmt: skip
        assert text in plain, text
    assert plain.index("steaming") < plain.index("washing")
    assert "was past on" not in plain
    paper = (tmp_path / "a.pdf").read_bytes()
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(LAST_DAY) - 40 * 86_400))
    done(*words, *paper_too)
    assert ((tmp_path / "a.html").read_text(), (tmp_path / "a.pdf").read_bytes()) == (first, paper)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NEXT_DAY)
    assert warnings_of_the_day(done(*words, "--json")) == 1
    late = (tmp_path / "a.html").read_text()
    assert "2031-03-31, was past on 2031-04-01" in late
    # It was not noticed while the condition was made.
    assert "the date until which" not in late
    plain = replace(read_condition(made)[0], goods=Goods())
    write_condition(tmp_path / "plain.cond", plain)
    done("condition", "report", tmp_path / "plain.cond", "--out", tmp_path / "b.html")
    plain = re.sub(r"<[^>]+>", " ", (tmp_path / "b.html").read_text())
    assert "Of what it holds for nobody recorded: printer, ink class, ink lots, cloth" in plain
    assert "urea" not in plain
    for text in ("full names and lots: not recorded", "Cloth and lot: not recorded", "Steps: not recorded"):
        assert text in plain, text


def warnings_of_the_day(found):
    told = [problem["message"] for problem in found.document["problems"]]
    return told.count("the date until which it was said to hold has passed")


def test_every_command_warns_from_the_day_after_on(kept, short_chart, image, tmp_path, monkeypatch):
    """Of the report the page's own test tells it."""
    _, made, _ = kept
    chart = short_chart
    colours, book = tmp_path / "colours.csv", tmp_path / "book.toml"
    colours.write_text("SAMPLE_ID,LAB_L,LAB_A,LAB_B\na,60,0,0\n")
    book.write_text('name = "b"\n[[colour]]\nname = "grey"\nlab = [60, 0, 2]\n')
    out = tmp_path / "out"
    runs = [
        ["condition", "show", made],
        ["condition", "predict", made, chart, "--out", out / "a.csv"],
        ["condition", "match", made, colours, "--out", out / "b.csv"],
        ["condition", "gamut", made, "--out", out / "a.svg"],
        ["condition", "spots", made, book, "--out", out / "a.spots"],
        ["condition", "relinearise", made, "--readings", chart, "--out", out / "a.cond"],
        ["condition", "change-press", made, "--limits", _press_file(tmp_path), "--out", out / "b.cond"],
        ["profile", "write", made, "--out", out / "a.icc"],
        ["profile", "design-rgb", made, "--out", out / "b.icc"],
        ["profile", "link", made, "--artwork-profile", "srgb", "--out", out / "c.icc"],
        ["artwork", "separate", made, image, "--out", out / "a.tif"],
        ["artwork", "check", image, "--condition", made, "--finished", "60x40"],
        ["artwork", "proof", image, "--condition", made, "--finished", "60x40", "--out", out / "a.png"],
        ["chart", "make", "--kind", "strip", "--condition", made, "--out", out / "strip"],
        ["chart", "next", made, "--patches", "4", "--out", out / "next"],
        ["readings", "check", chart, "--condition", made],
        ["control", "verify", made, chart],
        ["roll", "compose", out / "a.tif", *ROLL.split(), "--out", out / "r.tif", "--drops", out / "b.tif"],
        ["roll", "screen", out / "r.tif", "--out", out / "c.tif"],
        ["roll", "lay", _layout(tmp_path), "--planes", out / "a.tif", "--dpi", "100", "--out", out / "d.tif"],
    ]
    slow = {"relinearise", "change-press", "write", "design-rgb", "link", "next", "gamut"}
    for words in runs:
        monkeypatch.setenv("SOURCE_DATE_EPOCH", NEXT_DAY)
        after = inside(*words, "--json")
        assert after.code in (0, 1, 4), (words, after.out)
        assert warnings_of_the_day(after) == 1, words
        if words[1] in slow:
            continue
        monkeypatch.setenv("SOURCE_DATE_EPOCH", LAST_DAY)
        before = inside(*words, "--json")
        assert before.code == after.code, (words, before.out)
        assert "the date until" not in before.out, words
        assert before.document["results"] == after.document["results"], words


def test_no_use_of_a_condition_goes_without():
    """Whatever reads a condition asks for its day; a condition that is only compared with tells nothing."""
    asks = {"date_problems", "print_problems", "recipe_problems", "standing_problems", "condition_press"}
    silent = set()
    for path in Path(workbench.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                used = {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}
                if "read_condition" in used and not used & asks:
                    silent.add(f"{path.stem}.{node.name}")
    assert silent == {"demo_page.write_page", "gamut._other_body"}


def test_verify_says_it_with_its_verdict(kept, short_chart, monkeypatch):
    _, made, _ = kept
    monkeypatch.setenv("SOURCE_DATE_EPOCH", NEXT_DAY)
    found = inside("control", "verify", made, short_chart)
    assert "the condition was said to hold until 2031-03-31: that day has passed" in found.out
    assert PASSED in found.err
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "tomorrow")
    # In a program of its own: libraries read the variable while they are loaded.
    found = call("control", "verify", made, short_chart)
    assert found.code == 2
    assert "SOURCE_DATE_EPOCH of the environment is no date" in found.err


def _layout(folder):
    path = folder / "layout.json"
    box = {"code": "A", "x_mm": 5, "y_mm": 5, "width_mm": 60, "height_mm": 40, "artwork": "a"}
    size = {"width_mm": 320, "margin_mm": 10, "warp_percent": -4, "weft_percent": -2}
    path.write_text(json.dumps({"schema": "strikeoff/layout/1", **size, "placements": [box]}))
    return path


def _press_file(folder):
    path = folder / "press.toml"
    path.write_text("[screen]\ndpi = 600\n" + INKS)
    return path
