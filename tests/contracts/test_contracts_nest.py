"""Nesting through the program: a JSON list with groups, straight cuts, neighbours that cannot be."""

import json

from contracts_page import result_fields
from contracts_program import call, inside

CLOTH = ["--warp", "-5", "--weft", "-3", "--width", "1700", "--seconds", "0.5"]
ROWS = [
    {"code": "Seat", "width_mm": 620, "height_mm": 480, "count": 3, "group": "chair"},
    {"code": "Flag", "width_mm": 700, "height_mm": 900},
]


def test_groups_from_a_json_list(tmp_path):
    pieces, layout = tmp_path / "list.json", tmp_path / "layout.json"
    pieces.write_text(json.dumps({"schema": "strikeoff/pieces/1", "pieces": ROWS}))
    more = ["--stretch", "1100", "--guillotine", "--layout", layout, "--drawing", tmp_path / "d.svg"]
    done = call("roll", "nest", pieces, *CLOTH, *more, "--json")
    assert done.code == 0, done.err + done.out
    found = done.document["results"]
    assert set(found) == result_fields("roll nest")
    assert (found["pieces"], found["turned"], found["groups"]) == (4, 0, 1)
    places = json.loads(layout.read_text())["placements"]
    seats = [place for place in places if place["group"] == "chair"]
    assert len(seats) == 3
    span = max(p["y_mm"] + p["height_mm"] for p in seats) - min(p["y_mm"] for p in seats)
    assert span / 0.95 <= 1100


def test_neighbours_that_cannot_be(tmp_path):
    pieces = tmp_path / "list.json"
    pieces.write_text(json.dumps({"schema": "strikeoff/pieces/1", "pieces": ROWS}))
    done = inside("roll", "nest", pieces, *CLOTH, "--stretch", "700", "--json", "--quiet")
    assert done.code == 3
    assert done.document["problems"][0]["where"] == "group chair"
    assert not list(tmp_path.glob("*.svg"))
