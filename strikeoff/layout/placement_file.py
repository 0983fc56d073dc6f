"""The layout document: pieces on a roll as JSON, written by the planners and read by the composer."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

from strikeoff.base.errors import InputError
from strikeoff.base.files import write_text
from strikeoff.layout.placement import Layout, Placement, check_layout

LAYOUT_SCHEMA = "strikeoff/layout/1"

_MOST_BYTES = 64 << 20
_ROLL = ("width_mm", "margin_mm", "warp_percent", "weft_percent")
_NUMBERS = ("x_mm", "y_mm", "width_mm", "height_mm")
_LENGTHS = ("bleed_mm", "mirrored_mm")
_PARTS = (("crop_mm", 4), ("artwork_mm", 2))
_OTHERS = {"artwork", "turn_degrees", "mirror", "group", "sequence", *_LENGTHS, *(n for n, _ in _PARTS)}


def layout_record(layout: Layout) -> dict[str, Any]:
    """Return a layout as the document that `read_layout` reads."""
    return {
        "schema": LAYOUT_SCHEMA,
        **{name: getattr(layout, name) for name in _ROLL},
        "placements": [asdict(piece) for piece in layout.placements],
    }


def write_layout(path: str | Path, layout: Layout) -> None:
    """Write the layout document."""
    write_text(path, json.dumps(layout_record(layout), indent=1, allow_nan=False) + "\n")


def read_layout(path: str | Path) -> Layout:
    """Read and check a layout document; artwork is looked for beside it.

    Raises
    ------
    InputError
        Not such a document, or pieces that cannot lie so.
    """
    file = Path(path)
    if file.stat().st_size > _MOST_BYTES:
        raise InputError("layout is too large", path=file, expected=f"at most {_MOST_BYTES >> 20} MiB")
    try:
        record = json.loads(file.read_bytes())
    except (ValueError, RecursionError) as error:
        raise InputError("layout is not JSON", path=file, found=str(error)[:120]) from None
    if not isinstance(record, dict) or record.get("schema") != LAYOUT_SCHEMA:
        found = record.get("schema") if isinstance(record, dict) else type(record).__name__
        raise InputError("not a layout", path=file, where="schema", found=found, expected=LAYOUT_SCHEMA)
    pieces = record.get("placements")
    if not isinstance(pieces, list):
        raise InputError("layout has no list of pieces", path=file, where="placements")
    roll = {name: _number(record, name, file, name) for name in _ROLL}
    layout = Layout(**roll, placements=tuple(_placement(p, i, file) for i, p in enumerate(pieces)))
    try:
        check_layout(layout)
    except InputError as error:
        error.path = str(file)
        raise
    return layout


def _placement(record: Any, i: int, file: Path) -> Placement:
    where = f"placements[{i}]"
    if not isinstance(record, dict):
        raise InputError("piece is not an object", path=file, where=where, found=type(record).__name__)
    strange = set(record) - _OTHERS - {"code", *_NUMBERS}
    if strange:
        raise InputError("piece has unknown fields", path=file, where=where, found=", ".join(sorted(strange)))
    values: dict[str, Any] = {n: _number(record, n, file, f"{where}.{n}") for n in _NUMBERS}
    for name, kind in (("code", str), ("artwork", str), ("group", str), ("mirror", bool)):
        if name in record or name == "code":
            value = record.get(name)
            if not isinstance(value, kind) or (value == "" and name == "code"):
                raise InputError("field of a piece is wrong", path=file, where=f"{where}.{name}", found=value)
            values[name] = value
    for name in _LENGTHS:
        if name in record:
            values[name] = _number(record, name, file, f"{where}.{name}")
    for name in ("turn_degrees", "sequence"):
        if name in record:
            value = record[name]
            if not isinstance(value, int) or isinstance(value, bool):
                raise InputError("whole number expected", path=file, where=f"{where}.{name}", found=value)
            values[name] = value
    for name, count in _PARTS:
        given = record.get(name)
        if given is not None:
            field = f"{where}.{name}"
            if not isinstance(given, list) or len(given) != count:
                raise InputError(f"{count} numbers expected", path=file, where=field, found=given)
            values[name] = tuple(_number({name: v}, name, file, field) for v in given)
    return Placement(**values)


def _number(record: dict[str, Any], name: str, file: Path, where: str) -> float:
    value = record.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise InputError("number expected", path=file, where=where, found=value)
    return float(value)
