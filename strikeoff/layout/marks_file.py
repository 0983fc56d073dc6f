"""The positions file of marks: where a cutter's camera finds them, printed and finished."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from strikeoff.base.errors import UsageError
from strikeoff.base.files import write_text
from strikeoff.layout.finishing import finishing_factor
from strikeoff.layout.mark_records import Mark
from strikeoff.layout.marks_of_pieces import trim_corners_mm
from strikeoff.layout.placement import Layout

POSITIONS_SCHEMA = "strikeoff/mark-positions/1"

_ORIGIN = "left upper corner of the cuttable cloth, first row of the layout; x across, y along the roll"
_COLUMNS = ("kind", "piece", "side", "text", "x_printed_mm", "y_printed_mm", "x_finished_mm", "y_finished_mm",
            "width_printed_mm", "height_printed_mm")  # fmt: skip


def positions_record(layout: Layout, marks: Sequence[Mark]) -> dict[str, Any]:
    """Return middles of marks and trim corners of pieces as a document.

    Examples
    --------
    >>> positions_record(Layout(500, 10, 0, -50, ()), [Mark("cutter", 0, 0, 6, 6)])["marks"][0]["finished_mm"]
    [1.5, 3.0]
    """
    across, along = finishing_factor(layout.weft_percent), finishing_factor(layout.warp_percent)

    def both(x: float, y: float) -> dict[str, list[float]]:
        return {
            "printed_mm": [round(x, 4), round(y, 4)],
            "finished_mm": [round(x * across, 4), round(y * along, 4)],
        }

    return {
        "schema": POSITIONS_SCHEMA,
        "units": "mm",
        "origin": _ORIGIN,
        "marks": [
            {
                "kind": m.kind,
                "piece": m.piece,
                "side": m.side,
                "text": m.text,
                **both(*m.centre_mm),
                "size_printed_mm": [m.width_mm, m.height_mm],
            }
            for m in marks
        ],
        "pieces": [
            {"piece": p.code, "trim_corners": [both(*corner) for corner in trim_corners_mm(layout, p)]}
            for p in layout.placements
        ],
    }


def check_positions_name(path: str | Path) -> None:
    """Raise the UsageError that `write_positions` would: long work asks before it begins.

    Examples
    --------
    >>> check_positions_name("marks.csv")
    """
    if Path(path).suffix.lower() not in (".json", ".csv"):
        raise UsageError(
            "unknown kind of positions file", found=Path(path).name, expected="a name in .json or .csv"
        )


def write_positions(path: str | Path, layout: Layout, marks: Sequence[Mark]) -> None:
    """Write positions as JSON or, by the name, as CSV whose rows of kind ``corner`` are trim corners.

    Raises
    ------
    UsageError
        Another ending.
    """
    check_positions_name(path)
    record = positions_record(layout, marks)
    if Path(path).suffix.lower() == ".json":
        write_text(path, json.dumps(record, indent=1, allow_nan=False) + "\n")
        return
    buffer = io.StringIO()
    table = csv.writer(buffer, lineterminator="\n")
    table.writerow(_COLUMNS)
    for m in record["marks"]:
        table.writerow(
            [m["kind"], m["piece"], m["side"], m["text"]]
            + m["printed_mm"] + m["finished_mm"] + m["size_printed_mm"]
        )  # fmt: skip
    names = "left top", "right top", "right bottom", "left bottom"
    for p in record["pieces"]:
        for name, corner in zip(names, p["trim_corners"], strict=True):
            table.writerow(
                ["corner", p["piece"], name, "", *corner["printed_mm"], *corner["finished_mm"], "", ""]
            )
    write_text(path, buffer.getvalue())
