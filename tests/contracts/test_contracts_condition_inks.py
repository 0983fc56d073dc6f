"""Commands of ink limits and curves, once each."""

import json

import numpy as np
import pytest
from contracts_page import result_fields
from contracts_program import chart_text, ink_lab, inside

pytestmark = pytest.mark.usefixtures("small_tables")


def results(done, schema, code=0):
    assert done.code == code, done.err + done.out
    document = json.loads(done.out)
    assert document["schema"] == f"strikeoff/{schema}/1"
    assert set(document["results"]) == result_fields(schema.replace("-", " ", 1))
    return document["results"]


def test_limits_curves_and_a_condition_made_again(condition, chart, tmp_path):
    limits, curves, again = tmp_path / "limits.toml", tmp_path / "curves.json", tmp_path / "again.cond"
    run = inside(
        "condition", "limits", "--readings", chart, "--out", limits, "--plot", tmp_path / "a.svg", "--json"
    )
    assert len(results(run, "condition-limits")["limits"]) == 4
    run = inside("condition", "linearise", "--readings", chart, "--limits", limits, "--out", curves, "--json")
    assert results(run, "condition-linearise")["aim"] == "colour"
    run = inside("condition", "relinearise", condition, "--readings", chart, "--out", again, "--json")
    assert results(run, "condition-relinearise")["curves_digest"].startswith("sha256:")
    # Ramps that say nothing were printed without tone curves, whatever the condition has.
    assert inside("condition", "relinearise", again, "--readings", chart, "--out", tmp_path / "b").code == 0


def test_total_ink(tmp_path):
    steps = np.linspace(0.25, 1, 10)
    inks = np.vstack([np.zeros(4), steps[:, None] * [1.0, 1.0, 1.0, 1.0], steps[:, None] * [0, 1.0, 1.0, 0]])
    described, out = tmp_path / "inks.toml", tmp_path / "limits.toml"
    described.write_text("".join(f'[[ink]]\nname = "{ink}"\n' for ink in "CMYK"))
    readings = tmp_path / "totals.txt"
    readings.write_text(chart_text(inks))
    command = ("condition", "total", "--readings", readings, "--limits", described, "--out", out)
    found = results(inside(*command, "--plot", tmp_path / "a.svg", "--json"), "condition-total")
    assert [row["inks"] for row in found["combinations"]] == [["M", "Y"], ["C", "M", "Y", "K"]]
    assert f"total_percent = {found['total_percent']:g}" in out.read_text()
    assert found["total_ml_m2"] is None
    assert inside(*command, "--least-gain", "0").code == 2
    few = tmp_path / "few.txt"
    few.write_text(chart_text(inks[:5]))
    done = inside("condition", "total", "--readings", few, "--limits", described, "--out", tmp_path / "none")
    assert done.code == 3
    assert "--combine" in done.err
    assert not (tmp_path / "none").exists()


def test_another_press(condition, tmp_path):
    described = tmp_path / "inks.toml"
    inks = "".join(f'[[ink]]\nname = "{ink}"\ndrop_pl = [5, 10]\n' for ink in "CMYK")
    described.write_text(f"[screen]\ndpi = 600\n{inks}")
    run = inside(
        "condition", "change-press", condition, "--limits", described, "--out", tmp_path / "b", "--json"
    )
    shown = results(run, "condition-change-press")
    assert shown["stale"] == ["drop curves changed"]
    # 3 x (600 / 0.0254)^2 x 10 pL, arithmetic.
    assert shown["total_ink_ml_m2"] == pytest.approx(3 * (600 / 0.0254) ** 2 * 10e-9, rel=1e-4)


def test_light_ink(tmp_path):
    steps = np.linspace(0, 1, 11)
    rows = np.vstack([np.stack([steps, 0 * steps], 1), np.stack([0 * steps, steps], 1)[1:]])
    inks = np.zeros((len(rows), 4))
    inks[:, 1] = rows[:, 0] + 0.25 * rows[:, 1]
    readings, described = tmp_path / "two.txt", tmp_path / "inks.toml"
    readings.write_text(chart_text(rows, names="2CLR_1 2CLR_2", lab=ink_lab(inks)))
    described.write_text('[[ink]]\nname = "M"\n[[ink]]\nname = "m"\nrole = "light"\nlight_of = "M"\n')
    out = tmp_path / "curves.json"
    command = ("condition", "split", "--readings", readings, "--limits", described, "--out", out)
    found = results(inside(*command, "--most-laid-down", "80", "--json"), "condition-split")
    assert found["splits"][0]["ink"] == "M"
    assert found["bound_percent"] == 80
    assert found["splits"][0]["most_laid_down_percent"] <= 100.01
    told = inside(*command, "--most-laid-down", "80")
    assert "together 100 % at most" in told.out
    assert "lay down 80 % of a full tone together at most in the lightest tones" in told.err
    assert "graininess" in told.err
    out.unlink()
    for wrong in ("0", "9", "1000", "-5", "nan", "much"):
        done = inside(*command, "--most-laid-down", wrong)
        assert done.code == 2, wrong
        assert wrong in done.err
    assert not out.exists()


def test_what_cannot_be(chart, condition, tmp_path):
    out = tmp_path / "out"
    assert inside("condition", "linearise", "--readings", chart, "--out", out).code == 2
    assert inside("condition", "change-press", condition, "--out", out).code == 2
    assert inside("condition", "limits", "--readings", tmp_path / "none", "--out", out).code == 6
    few = tmp_path / "few.txt"
    few.write_text(chart_text(np.vstack([np.zeros(4), np.eye(4), np.eye(4) / 2])))
    done = inside("condition", "limits", "--readings", few, "--out", out)
    assert done.code == 3
    assert "ramp" in done.err
    assert not out.exists()
