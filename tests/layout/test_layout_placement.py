"""Pieces on a roll and their document: what is refused, and that nothing is lost on the way."""

import json
from dataclasses import replace

import pytest

from strikeoff.base.errors import InputError
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.placement_file import layout_record, read_layout, write_layout

WHOLE = Placement(
    "A", 5, 7, 60, 40, artwork="fern.tif", bleed_mm=3, turn_degrees=90, mirror=True, crop_mm=(-2, 10, 40, 60),
    artwork_mm=(90, 80), group="G", sequence=4, mirrored_mm=1,
)  # fmt: skip
ROLL = Layout(500, 10, -5, -3, (WHOLE, Placement("B", 100, 0, 50, 50)))


def test_document_keeps_everything(tmp_path):
    write_layout(tmp_path / "roll.json", ROLL)
    assert read_layout(tmp_path / "roll.json") == ROLL


def test_old_documents_have_no_size_of_the_artwork(tmp_path):
    record = layout_record(ROLL)
    record["placements"] = [
        {k: v for k, v in record["placements"][1].items() if k not in ("artwork_mm", "mirrored_mm")}
    ]
    (tmp_path / "old.json").write_text(json.dumps(record))
    (piece,) = read_layout(tmp_path / "old.json").placements
    assert piece.whole_mm == (50, 50)
    assert piece.shown_mm == (0, 0, 50, 50)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"artwork_mm": None}, "crop of a piece needs the size"),
        ({"crop_mm": (-5, 10, 40, 60)}, "lies beyond its artwork"),
        ({"crop_mm": (55, 10, 40, 60)}, "lies beyond its artwork"),
        ({"crop_mm": (0, 25, 40, 60)}, "lies beyond its artwork"),
        ({"crop_mm": (0, 0, 60, 40)}, "not as large as the piece"),
        ({"crop_mm": None}, "not as large as the piece"),
        ({"artwork_mm": (0, 80)}, "size of the artwork cannot be"),
        ({"bleed_mm": 20}, "bleed of a piece cannot be"),
        ({"mirrored_mm": -1}, "mirrored of the artwork cannot be"),
        ({"turn_degrees": 45}, "cannot be turned so"),
        ({"x_mm": 450}, "beyond the cuttable width"),
        ({"x_mm": 70}, "two pieces overlap"),
    ],
)
def test_pieces_that_cannot_be(change, said):
    with pytest.raises(InputError, match=said):
        check_layout(replace(ROLL, placements=(replace(WHOLE, **change), ROLL.placements[1])))


@pytest.mark.parametrize("field", ["crop_mm", "artwork_mm", "mirrored_mm"])
@pytest.mark.parametrize("value", ["far", [1, 2, 3], [1, "x", 3, 4], {}])
def test_damaged_documents_name_the_field(tmp_path, field, value):
    record = layout_record(ROLL)
    record["placements"][0][field] = value
    (tmp_path / "roll.json").write_text(json.dumps(record))
    with pytest.raises(InputError, match=rf"placements\[0\]\.{field}"):
        read_layout(tmp_path / "roll.json")
