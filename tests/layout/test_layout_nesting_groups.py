"""Groups on one stretch of cloth, and lists of pieces as JSON."""

import json

import numpy as np
import pytest

from strikeoff.base.errors import InputError, UsageError
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.nesting import NestPiece, nest
from strikeoff.layout.nesting_groups import nest_groups
from strikeoff.layout.pieces_file import read_pieces


@pytest.mark.parametrize("gap", [0.0, 4.0])
def test_groups_stay_on_one_stretch(gap):
    rng = np.random.default_rng(11)
    pieces = [
        NestPiece(
            str(k), *(float(v) for v in rng.uniform(60, 300, 2)), "90", group=("", "sofa", "chair")[k % 3]
        )
        for k in range(24)
    ]
    faults = [(500.0, 540.0)]
    found = nest_groups(
        pieces, stretch_mm=460, width_mm=1020, margin_mm=10, warp_percent=-5, weft_percent=-3, gap_mm=gap,
        faults_mm=faults, seconds=1,
    )  # fmt: skip
    check_layout(found.layout)
    placed = {p.code: p for p in found.layout.placements}
    assert len(placed) == 24
    boxes = {code: found.layout.printed_box_mm(p) for code, p in placed.items()}
    for piece in pieces:
        assert placed[piece.code].group == piece.group
        assert placed[piece.code].upright_mm == pytest.approx((piece.width_mm, piece.height_mm))
    for group in ("sofa", "chair"):
        tops = [boxes[p.code][1] for p in pieces if p.group == group]
        ends = [boxes[p.code][3] for p in pieces if p.group == group]
        assert max(ends) - min(tops) <= 460.01
        assert not min(tops) < 539.99 < 540 < max(ends)
    for a in pieces:
        for b in pieces:
            if a.code < b.code:
                p, q = boxes[a.code], boxes[b.code]
                beside = (max(p[0], q[0]) - min(p[2], q[2])) * 0.97
                below = (max(p[1], q[1]) - min(p[3], q[3])) * 0.95
                assert max(beside, below) >= gap - 0.01
    assert found.length_mm == pytest.approx(max(box[3] for box in boxes.values()))
    plain = nest(pieces, width_mm=1020, margin_mm=10, warp_percent=-5, weft_percent=-3, gap_mm=gap,
                 faults_mm=faults, seconds=0.1)  # fmt: skip
    assert found.bound_mm == plain.bound_mm <= found.length_mm


def test_without_groups_nothing_changes():
    pieces = [NestPiece(code, 500, 300) for code in "ABCD"]
    assert nest_groups(pieces, width_mm=1000, seconds=1) == nest(pieces, width_mm=1000, seconds=1)


def test_neighbours_that_cannot_be_are_refused():
    pieces = [NestPiece(code, 600, 300, group="sofa") for code in "AB"]
    assert nest_groups(pieces, stretch_mm=600, width_mm=1000, seconds=0.2).length_mm == 600
    with pytest.raises(InputError, match=r"group sofa: .*600\.0 mm of unfinished cloth.*at most 599 mm"):
        nest_groups(pieces, stretch_mm=599, width_mm=1000, seconds=0.2)
    for stretch in (0, -1, float("nan")):
        with pytest.raises(UsageError, match="stretch"):
            nest_groups(pieces, stretch_mm=stretch, width_mm=1000)
    with pytest.raises(InputError, match="wider than the cloth"):
        nest_groups(pieces, width_mm=599)


def test_json_is_read_as_csv(tmp_path):
    table, document = tmp_path / "list.csv", tmp_path / "list.json"
    table.write_text("code,width_mm,height_mm,count,turn,group\nA,100,50.5,2,90,sofa\nB,30,40,,,\n")
    rows = [
        {"code": "A", "width_mm": 100, "height_mm": 50.5, "count": 2, "turn": "90", "group": "sofa"},
        {"code": "B", "width_mm": 30, "height_mm": 40},
    ]
    document.write_text(json.dumps({"schema": "strikeoff/pieces/1", "pieces": rows}))
    pieces = read_pieces(table)
    assert pieces == read_pieces(document)
    assert [(p.code, p.group) for p in pieces] == [("A-1", "sofa"), ("A-2", "sofa"), ("B", "")]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"code": 5}, r"text expected.*pieces\[0\].code|pieces\[0\].code: text expected"),
        ({"width_mm": "5"}, "number expected"),
        ({"width_mm": True}, "number expected"),
        ({"width_mm": -5}, "number above 0"),
        ({"height_mm": float("nan")}, "number above 0"),
        ({"colour": "red"}, "fields of a piece"),
        ({"count": 1.5}, "count of a piece"),
        ({"turn": "45"}, "unknown turn"),
        ({"code": "A\x1b[2J"}, r"pieces\[0\], code: name cannot be printed"),
        ({"group": "g" * 201}, "group: name cannot be printed .found 201 characters"),
    ],
)
def test_bad_json_is_told(tmp_path, change, told):
    file = tmp_path / "list.json"
    row = {"code": "A", "width_mm": 1, "height_mm": 2} | change
    file.write_text(json.dumps({"schema": "strikeoff/pieces/1", "pieces": [row]}))
    with pytest.raises(InputError, match=told):
        read_pieces(file)
    for text in (
        "[",
        "[]",
        '{"schema": "strikeoff/pieces/1"}',
        '{"schema": "strikeoff/pieces/1", "pieces": []}',
    ):
        file.write_text(text)
        with pytest.raises(InputError):
            read_pieces(file)


def test_of_blocks_that_waste_alike_the_shortest_is_taken():
    """Four of 300 x 200 fill 600 x 400 as well as 300 x 800; only the former leaves a roll of 500 mm."""
    pieces = [NestPiece(f"A{k}", 300, 200, group="g") for k in range(4)]
    pieces += [NestPiece(f"B{k}", 150, 100) for k in range(6)]
    pieces += [NestPiece(f"C{k}", 90, 400) for k in range(2)]
    found = nest_groups(pieces, width_mm=1000, margin_mm=10, warp_percent=-5, weft_percent=-3, seconds=1)
    assert found.length_mm * 0.95 == pytest.approx(500, abs=0.01)
