"""From artwork to a roll of pieces through the program: copies, panels, bad input."""

import json

import numpy as np
import pytest
from contracts_page import result_fields
from contracts_program import call, inside

PRESS = ["--warp", "-5", "--weft", "-3", "--width", "320"]


def test_copies_from_planes_to_drops(planes, tmp_path):
    """Rows at whole pixels repeat; every copy is the same but for the half turn."""
    import tifffile

    layout, out, drops = tmp_path / "c.json", tmp_path / "roll.tif", tmp_path / "drops.tif"
    words = [
        "--finished",
        "60x40",
        "--count",
        "20",
        *PRESS,
        "--gap",
        "12",
        "--turn",
        "rows",
        "--dpi",
        "100x120",
    ]
    done = inside("roll", "copies", *words, "--artwork", "motif", "--layout", layout, "--json", "--quiet")
    assert done.code == 0
    assert set(done.document["results"]) == result_fields("roll copies")
    more = [
        "--marks",
        "trim,cutter",
        "--bare",
        "2",
        "--positions",
        tmp_path / "p.csv",
        "--drawing",
        tmp_path / "d.svg",
    ]
    done = call(
        "roll", "lay", layout, "--planes", f"motif={planes}", "--dpi", "100x120", *more, "--drops", drops,
        "--strip-reference", tmp_path / "strip.txt", "--out", out, "--json",
    )  # fmt: skip
    assert done.code == 0, done.err + done.out
    found = done.document["results"]
    assert set(found) == result_fields("roll lay")
    assert (found["pieces"], found["grids"], found["mark_ink"]) == (20, 1, "K")
    assert found["marks"]["trim"] > 0
    assert len(done.document["outputs"]) == 5
    roll = tifffile.imread(out)
    assert roll.shape == (found["height_px"], found["width_px"], 4)
    # 60 / 0.97 mm at 100 dpi and 40 / 0.95 mm at 120 dpi: 243.5 and 198.9 pixels.
    places = json.loads(layout.read_text())["placements"]
    cut = []
    for k in (0, 1, 4):
        left = found["margin_px"] + round(places[k]["x_mm"] / 0.97 * 100 / 25.4)
        top = found["leader_px"] + round(places[k]["y_mm"] / 0.95 * 120 / 25.4)
        cut.append(roll[top : top + 199, left : left + 244])
    assert cut[0].any()
    assert np.array_equal(cut[0], cut[1])
    assert np.array_equal(cut[0], cut[2][::-1, ::-1])
    assert found["period_rows"] == 2 * round((40 + 12) / 0.95 * 120 / 25.4)
    assert inside("roll", "screen", out, "--out", tmp_path / "again.tif", "--quiet").code == 0
    # Masks may start at another row, but as much ink falls.
    again, made = tifffile.imread(tmp_path / "again.tif"), tifffile.imread(drops)
    assert np.abs(again.mean(axis=(1, 2)) - made.mean(axis=(1, 2))).max() < 0.002


def test_panels_overlap_alike(planes, tmp_path):
    import tifffile

    layout, out = tmp_path / "p.json", tmp_path / "roll.tif"
    words = ["--visible", "500x300", *PRESS, "--artwork", planes, "--longest", "200", "--layout", layout]
    assert inside("roll", "panels", *words, "--quiet").code == 0
    done = inside("roll", "lay", layout, "--dpi", "90", "--out", out, "--json", "--quiet")
    assert done.code == 0, done.err + done.out
    found, roll = done.document["results"], tifffile.imread(out)
    assert found["pieces"] == 4
    across, along = 90 / 25.4 / 0.97, 90 / 25.4 / 0.95
    first, second = json.loads(layout.read_text())["placements"][:2]
    grid = (round(500 * across) / 500, round(300 * along) / 300)
    edges = [
        [round(p["crop_mm"][0] * grid[0]), round((p["crop_mm"][0] + p["crop_mm"][2]) * grid[0])]
        for p in (first, second)
    ]
    shared, tall = edges[0][1] - edges[1][0], 100
    assert shared > 60
    tops = [found["leader_px"] + round(p["y_mm"] * along) for p in (first, second)]
    end = found["margin_px"] + edges[0][1] - edges[0][0]
    left = roll[tops[0] : tops[0] + tall, end - shared : end]
    right = roll[tops[1] : tops[1] + tall, found["margin_px"] : found["margin_px"] + shared]
    assert np.array_equal(left, right)
    assert left.any()


def test_cloth_then_pieces_on_one_roll(planes, tmp_path):
    """A half-drop in the full width, a piece of the same size, and a stripe beside it."""
    import tifffile

    fill = {"size_mm": [60, 40], "kind": "half-drop"}
    area = {"artwork": "motif", "code": "cloth", "x_mm": 0, "y_mm": 0, "width_mm": 290, "height_mm": 500}
    piece = area | {"code": "piece", "y_mm": 510, "width_mm": 60, "height_mm": 40}
    stripe = {
        "size_mm": [30, 20],
        "kind": "straight",
        "only": "along",
        "mirror": "along",
        "origin_mm": [110, 0],
    }
    beside = area | {"code": "stripe", "x_mm": 100, "y_mm": 510, "width_mm": 50, "height_mm": 70}
    layout, out, drops = tmp_path / "l.json", tmp_path / "roll.tif", tmp_path / "drops.tif"
    pieces = [area | {"repeat": fill}, piece, beside | {"repeat": stripe}]
    record = {"schema": "strikeoff/layout/1", "width_mm": 320, "margin_mm": 10, "warp_percent": -5,
              "weft_percent": -3, "placements": pieces}  # fmt: skip
    layout.write_text(json.dumps(record))
    more = ["--planes", f"motif={planes}", "--dpi", "100x120", "--drawing", tmp_path / "d.svg"]
    done = call("roll", "lay", layout, *more, "--out", out, "--drops", drops, "--json")
    assert done.code == 0, done.err + done.out
    found = done.document["results"]
    assert set(found) == result_fields("roll lay")
    assert (found["pieces"], [a["code"] for a in found["areas"]]) == (1, ["cloth", "stripe"])
    # 60 / 0.97 mm at 100 dpi: 243.5 pixels; 40 / 0.95 mm at 120 dpi: 198.9, and a half-drop needs even ones.
    cloth = found["areas"][0]
    assert (cloth["repeat"], cloth["repeat_px"], found["period_rows"]) == ("half-drop", [244, 198], 198)
    assert cloth["finished_mm"] == pytest.approx([244 * 0.254 * 0.97, 198 * 25.4 / 120 * 0.95], abs=1e-5)
    assert cloth["printed_mm"] == pytest.approx([244 * 0.254, 198 * 25.4 / 120], abs=1e-5)
    assert cloth["printed_area_mm"] == pytest.approx([290 / 0.97, 500 / 0.95], abs=1e-3)
    error = 198 * 25.4 / 120 * 0.95 - 40
    assert cloth["snapping_error_mm"][1] == pytest.approx(error, abs=1e-6)
    assert cloth["snapping_error_over_length_mm"] == pytest.approx(
        error * round(500 / 0.95 * 120 / 25.4) / 198, abs=1e-3
    )
    roll = tifffile.imread(out)
    rows = roll[found["leader_px"] :, found["margin_px"] :]
    assert np.array_equal(rows[:2000], rows[198:2198])
    assert np.array_equal(rows[:2000, :244], rows[99:2099, 244:488])
    top, left = round(510 / 0.95 * 120 / 25.4), round(110 / 0.97 * 100 / 25.4)
    line = rows[top : top + 300, left - 41 : left + 165]
    width = found["areas"][1]["repeat_px"][0]
    assert not line[:, :41].any()
    assert line[:, 41 : 41 + width].any()
    assert not line[:, 41 + width :].any()
    drawing = (tmp_path / "d.svg").read_text()
    assert drawing.count('class="area"') == 2
    assert "half-drop" in drawing
    assert tifffile.imread(drops).shape[-2:] == roll.shape[:2]


def test_lines_of_areas_tell_the_finished_size_first(planes, tmp_path):
    fill = {"size_mm": [60, 40], "kind": "drop", "offset": "1/3"}
    area = {"code": "cloth", "x_mm": 0, "y_mm": 0, "width_mm": 290, "height_mm": 500, "artwork": str(planes)}
    record = {"schema": "strikeoff/layout/1", "width_mm": 320, "margin_mm": 10, "warp_percent": -5,
              "weft_percent": -3, "placements": [area | {"repeat": fill}]}  # fmt: skip
    (tmp_path / "l.json").write_text(json.dumps(record))
    done = inside(
        "roll", "lay", tmp_path / "l.json", "--dpi", "100x120", "--out", tmp_path / "r.tif", "--quiet"
    )
    assert done.code == 0, done.err
    assert "cloth: 0.500 m of drop 1/3, repeat 60.117 x 39.815 mm finished (61.976 x 41.910 mm pr" in done.out


@pytest.mark.parametrize(
    ("change", "planes_words", "said"),
    [
        ({}, [], "planes of the artwork are missing"),
        ({}, ["--planes", "moss={planes}"], "no artwork of this name"),
        ({}, ["--planes", "nothing.tif"], "no such file"),
        ({"width_mm": 400}, ["--planes", "{planes}"], "beyond the cuttable width"),
        ({"y_mm": 10}, ["--planes", "{planes}"], "two pieces overlap"),
        ({"height_mm": -1}, ["--planes", "{planes}"], "place of a piece cannot be"),
        ({"crop_mm": [0, 0, 5]}, ["--planes", "{planes}"], "4 numbers expected"),
        ({"bleed_mm": [1, 2, 3]}, ["--planes", "{planes}"], "4 numbers expected"),
        ({"bleed_mm": [0, 20, 0, 30]}, ["--planes", "{planes}"], "bleed of a piece cannot be"),
        ({"repeat": 7}, ["--planes", "{planes}"], "repeat is not an object"),
        ({"repeat": {}}, ["--planes", "{planes}"], "2 numbers expected"),
        ({"repeat": {"size_mm": [0, 20]}}, ["--planes", "{planes}"], "repeat of an area cannot be"),
        ({"repeat": {"size_mm": [1e400, 20]}}, ["--planes", "{planes}"], "number expected"),
        ({"repeat": {"size_mm": [9, 9], "step": 3}}, ["--planes", "{planes}"], "repeat has unknown fields"),
        ({"repeat": {"size_mm": [9, 9], "kind": "hex"}}, ["--planes", "{planes}"], "unknown kind of repeat"),
        ({"repeat": {"size_mm": [9, 9], "kind": "drop"}}, ["--planes", "{planes}"], "needs its offset"),
        ({"repeat": {"size_mm": [9, 9], "offset": "1/2"}}, ["--planes", "{planes}"], "no offset. Take drop"),
        ({"repeat": {"size_mm": [9, 9], "kind": 3}}, ["--planes", "{planes}"], "field of a repeat is wrong"),
        ({"repeat": {"size_mm": [9, 9], "origin_mm": 3}}, ["--planes", "{planes}"], "2 numbers expected"),
        ({"repeat": {"size_mm": [9, 9]}, "width_mm": 400}, ["--planes", "{planes}"], "beyond the cuttable"),
        ({"repeat": {"size_mm": [9, 9]}, "height_mm": 0}, ["--planes", "{planes}"], "place of a piece"),
        ({"repeat": {"size_mm": [9, 9]}, "y_mm": 10}, ["--planes", "{planes}"], "two pieces overlap"),
    ],
)
def test_bad_layouts_are_one_clear_error(planes, tmp_path, change, planes_words, said):
    piece = {"x_mm": 0, "y_mm": 0, "width_mm": 60, "height_mm": 40, "artwork": "fern"}
    pieces = [{"code": "A", **piece}, {"code": "B", **piece, "y_mm": 50} | change]
    record = {"schema": "strikeoff/layout/1", "width_mm": 320, "margin_mm": 10, "warp_percent": -5,
              "weft_percent": -3, "placements": pieces}  # fmt: skip
    layout, out = tmp_path / "l.json", tmp_path / "roll.tif"
    layout.write_text(json.dumps(record))
    words = [word.format(planes=planes) for word in planes_words]
    done = inside("roll", "lay", layout, *words, "--dpi", "100", "--out", out, "--quiet")
    assert done.code not in (0, 1)
    assert said in done.err
    assert "Traceback" not in done.err
    assert not out.exists()


@pytest.mark.parametrize("change", [{"warp_percent": -51}, {"weft_percent": 20.5}, {"warp_percent": 21}])
def test_changes_outside_the_range(planes, tmp_path, change):
    piece = {"code": "A", "x_mm": 0, "y_mm": 0, "width_mm": 60, "height_mm": 40, "artwork": str(planes)}
    record = {"schema": "strikeoff/layout/1", "width_mm": 320, "margin_mm": 10, "warp_percent": -5,
              "weft_percent": -3, "placements": [piece | {"repeat": {"size_mm": [20, 20]}}]}  # fmt: skip
    (tmp_path / "l.json").write_text(json.dumps(record | change))
    words = ["--dpi", "100", "--out", tmp_path / "r.tif", "--quiet"]
    done = inside("roll", "lay", tmp_path / "l.json", *words)
    assert (done.code, "l.json: dimensional change cannot be used" in done.err) == (3, True), done.err


@pytest.mark.parametrize("dpi", ["9", "1000000"])
def test_presses_that_cannot_be_and_empty_layouts(planes, tmp_path, dpi):
    record = {"schema": "strikeoff/layout/1", "width_mm": 320, "margin_mm": 10, "warp_percent": 0,
              "weft_percent": 0, "placements": []}  # fmt: skip
    piece = {"code": "A", "x_mm": 0, "y_mm": 0, "width_mm": 60, "height_mm": 40, "artwork": str(planes)}
    for pieces, said in (([], "layout has no pieces"), ([piece], "addressability cannot be")):
        (tmp_path / "l.json").write_text(json.dumps(record | {"placements": pieces}))
        done = inside(
            "roll", "lay", tmp_path / "l.json", "--dpi", dpi, "--out", tmp_path / "r.tif", "--quiet"
        )
        assert (done.code, said in done.err) == (3, True), done.err


def test_planes_of_two_conditions(planes, tmp_path):
    from strikeoff.raster.planes_tiff import open_planes, write_planes

    source = open_planes(planes)
    other = tmp_path / "other.tif"
    for info, names, said in (
        (source.info | {"total_ink": 2.0}, source.ink_names, "not of one condition"),
        (source.info, ("C", "M", "Y", "Orange"), "not of one set of inks"),
    ):
        write_planes(other, source, ink_names=names, info=info)
        record = {"schema": "strikeoff/layout/1", "width_mm": 320, "margin_mm": 10, "warp_percent": 0,
                  "weft_percent": 0, "placements": [
                      {"code": k, "x_mm": 0, "y_mm": y, "width_mm": 60, "height_mm": 40, "artwork": str(a)}
                      for k, y, a in (("A", 0, planes), ("B", 50, other))]}  # fmt: skip
        (tmp_path / "l.json").write_text(json.dumps(record))
        words = ["--dpi", "100", "--out", tmp_path / "roll.tif", "--quiet"]
        done = inside("roll", "lay", tmp_path / "l.json", *words)
        assert (done.code != 0, said in done.err) == (True, True), done.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--out", "{there}/l.json"], "output would replace an input"),
        (["--out", "{there}/p.tif"], "file to write is one that is read"),
        (["--out", "{there}/a.tif", "--drops", "{there}/x/../a.tif"], "two files to write have one name"),
        (["--out", "{there}/a.tif", "--drawing", "{there}/a.png"], "unknown kind of drawing"),
        (["--out", "{there}/a.tif", "--positions", "{there}/a.xml"], "unknown kind of positions file"),
    ],
)
def test_names_are_looked_at_before_the_roll_is_laid(planes, tmp_path, words, said):
    piece = {"code": "A", "x_mm": 0, "y_mm": 0, "width_mm": 60, "height_mm": 40, "artwork": "p.tif"}
    record = {"schema": "strikeoff/layout/1", "width_mm": 320, "margin_mm": 10, "warp_percent": -5,
              "weft_percent": -3, "placements": [piece]}  # fmt: skip
    (tmp_path / "l.json").write_text(json.dumps(record))
    (tmp_path / "p.tif").write_bytes(planes.read_bytes())
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    words = [word.format(there=tmp_path) for word in words]
    done = inside("roll", "lay", tmp_path / "l.json", "--dpi", "100", *words, "--quiet")
    assert (done.code, said in done.err) == (2, True), done.err
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_laying_tells_how_far_it_is_and_stops_at_any_report(planes, tmp_path):
    """Whoever hears of progress may end it there: every file is whole then, or not there."""
    from strikeoff import workbench

    piece = {"code": "A", "x_mm": 0, "y_mm": 0, "width_mm": 60, "height_mm": 40, "turn_degrees": 90}
    cloth = piece | {"code": "B", "y_mm": 50, "width_mm": 290, "height_mm": 900}
    pieces = [piece, cloth | {"repeat": {"size_mm": [60, 47], "kind": "half-drop"}}]
    pieces[0]["artwork"], pieces[1]["artwork"] = "moss", "fern"
    record = {"schema": "strikeoff/layout/1", "width_mm": 320, "margin_mm": 10, "warp_percent": -5,
              "weft_percent": -3, "placements": pieces}  # fmt: skip
    layout = tmp_path / "l.json"
    layout.write_text(json.dumps(record))

    def lay(folder, progress):
        workbench.lay_out_roll(
            layout,
            folder / "roll.tif",
            planes=[f"moss={planes}", f"fern={planes}"],
            dpi=(240.0, 240.0),
            drops=folder / "drops.tif",
            positions=folder / "p.json",
            progress=progress,
        )

    told = []
    lay(tmp_path / "whole", lambda stage, fraction: told.append((stage, fraction)))
    whole = {path.name: path.read_bytes() for path in (tmp_path / "whole").iterdir()}
    assert sorted(whole) == ["drops.tif", "p.json", "roll.tif"]
    stages = dict.fromkeys(stage for stage, _ in told)
    assert list(stages) == ["read artwork", "turn artwork", "lay the roll", "make the masks", "screen"]
    for stage in stages:
        fractions = [fraction for name, fraction in told if name == stage]
        assert fractions == sorted(fractions)
        assert fractions[0] >= 0
        assert fractions[-1] == 1.0 or stage in ("make the masks", "turn artwork")
    assert sum(stage == "lay the roll" for stage, _ in told) > 3
    for number in range(len(told)):
        folder = tmp_path / str(number)
        heard = []

        def stop(stage, fraction, heard=heard, number=number):
            heard.append(stage)
            if len(heard) > number:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            lay(folder, stop)
        left = {path.name: path.read_bytes() for path in folder.iterdir()} if folder.exists() else {}
        assert all(whole[name] == data for name, data in left.items()), (told[number], sorted(left))
