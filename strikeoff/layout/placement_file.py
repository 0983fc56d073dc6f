"""The layout document: pieces on a roll as JSON, written by the planners and read by the composer."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes, write_text
from strikeoff.layout.fill import RepeatFill
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.repeat import lattice_of
from strikeoff.raster.lattice import Lattice

LAYOUT_SCHEMA = "strikeoff/layout/1"

_MOST_BYTES = 64 << 20
_LARGEST, _LONGEST_NAME, _SHOWN = 1e12, 1000, 60
_ROLL = ("width_mm", "margin_mm", "warp_percent", "weft_percent")
_NUMBERS = ("x_mm", "y_mm", "width_mm", "height_mm")
_EDGES = 4
_PARTS = (("crop_mm", 4), ("artwork_mm", 2))
_NAMES = {"artwork", "bleed_mm", "mirrored_mm", "turn_degrees", "mirror", "group", "sequence", "repeat"}
_OTHERS = {*_NAMES, *(n for n, _ in _PARTS)}
_WORDS = {"kind": str, "offset": str, "mirror": str, "turned": bool, "only": str}


def layout_record(layout: Layout) -> dict[str, Any]:
    """Return a layout as the document that `read_layout` reads."""
    return {
        "schema": LAYOUT_SCHEMA,
        **{name: getattr(layout, name) for name in _ROLL},
        "placements": [_placement_record(piece) for piece in layout.placements],
    }


def _placement_record(piece: Placement) -> dict[str, Any]:
    record = asdict(replace(piece, repeat=None))
    del record["repeat"]
    if piece.repeat is not None:
        fill = piece.repeat
        record["repeat"] = {"size_mm": list(fill.size_mm), **_lattice_record(fill.lattice)}
        if fill.origin_mm is not None:
            record["repeat"]["origin_mm"] = list(fill.origin_mm)
    return record


def _lattice_record(lattice: Lattice) -> dict[str, Any]:
    """Return the words of a lattice; those that go without saying are left out."""
    words: dict[str, Any] = {"kind": "straight" if lattice.offset == "none" else lattice.offset}
    if lattice.offset != "none":
        words["offset"] = str(lattice.share)
    if lattice.mirror != "none":
        words["mirror"] = lattice.mirror
    if lattice.turned:
        words["turned"] = True
    if lattice.repeats != "both":
        words["only"] = lattice.repeats
    return words


def write_layout(path: str | Path, layout: Layout) -> None:
    """Write the layout document, and none that could not be read.

    Raises
    ------
    InputError
        As for `read_layout`.
    """
    check_layout(layout)
    write_text(path, json.dumps(layout_record(layout), indent=1, allow_nan=False) + "\n")


def read_layout(path: str | Path) -> Layout:
    """Read and check a layout document; artwork is looked for beside it.

    Raises
    ------
    InputError
        Not such a document, or pieces that cannot lie so.
    """
    file = Path(path)
    data = read_bytes(file, _MOST_BYTES)
    try:
        record = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise InputError("layout is not JSON", path=file, found=str(error)[:120]) from None
    if not isinstance(record, dict) or record.get("schema") != LAYOUT_SCHEMA:
        found = _shown(record.get("schema")) if isinstance(record, dict) else type(record).__name__
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
        raise InputError("piece has unknown fields", path=file, where=where, found=_shown(sorted(strange)))
    values: dict[str, Any] = {n: _number(record, n, file, f"{where}.{n}") for n in _NUMBERS}
    for name, kind in (("code", str), ("artwork", str), ("group", str), ("mirror", bool)):
        if name in record or name == "code":
            value = record.get(name)
            if not isinstance(value, kind) or (value == "" and name == "code"):
                raise InputError(
                    "field of a piece is wrong", path=file, where=f"{where}.{name}", found=_shown(value)
                )
            if isinstance(value, str) and not (value.isprintable() and len(value) <= _LONGEST_NAME):
                raise InputError(
                    "name cannot be printed",
                    path=file,
                    where=f"{where}.{name}",
                    found=_shown(value),
                    expected=f"at most {_LONGEST_NAME} characters, all of them visible",
                )
            values[name] = value
    if "mirrored_mm" in record:
        values["mirrored_mm"] = _number(record, "mirrored_mm", file, f"{where}.mirrored_mm")
    bleed = record.get("bleed_mm")
    if isinstance(bleed, list):
        values["bleed_mm"] = _numbers(bleed, _EDGES, file, f"{where}.bleed_mm")
    elif "bleed_mm" in record:
        values["bleed_mm"] = _number(record, "bleed_mm", file, f"{where}.bleed_mm")
    for name in ("turn_degrees", "sequence"):
        if name in record:
            value = record[name]
            if not isinstance(value, int) or isinstance(value, bool) or abs(value) > _LARGEST:
                raise InputError(
                    "whole number expected", path=file, where=f"{where}.{name}", found=_shown(value)
                )
            values[name] = value
    for name, count in _PARTS:
        given = record.get(name)
        if given is not None:
            values[name] = _numbers(given, count, file, f"{where}.{name}")
    if record.get("repeat") is not None:
        values["repeat"] = _fill(record["repeat"], file, f"{where}.repeat")
    return Placement(**values)


def _fill(record: Any, file: Path, where: str) -> RepeatFill:
    if not isinstance(record, dict):
        raise InputError("repeat is not an object", path=file, where=where, found=type(record).__name__)
    strange = set(record) - set(_WORDS) - {"size_mm", "origin_mm"}
    if strange:
        raise InputError("repeat has unknown fields", path=file, where=where, found=_shown(sorted(strange)))
    given = {name: record[name] for name in _WORDS if record.get(name) is not None}
    for name, value in given.items():
        if not isinstance(value, _WORDS[name]):
            raise InputError(
                "field of a repeat is wrong", path=file, where=f"{where}.{name}", found=_shown(value)
            )
    given["repeat"] = given.pop("kind", "straight")
    try:
        lattice = lattice_of(**given)
    except UsageError as error:
        raise InputError(
            error.message,
            path=file,
            where=where,
            found=None if error.found is None else _shown(error.found),
            expected=error.expected,
            advice=error.advice,
        ) from None
    size = _numbers(record.get("size_mm"), 2, file, f"{where}.size_mm")
    if record.get("origin_mm") is None:
        return RepeatFill((size[0], size[1]), lattice)
    origin = _numbers(record["origin_mm"], 2, file, f"{where}.origin_mm")
    return RepeatFill((size[0], size[1]), lattice, (origin[0], origin[1]))


def _numbers(given: Any, count: int, file: Path, where: str) -> tuple[float, ...]:
    if not isinstance(given, list) or len(given) != count:
        raise InputError(f"{count} numbers expected", path=file, where=where, found=_shown(given))
    return tuple(_number({"": value}, "", file, where) for value in given)


def _number(record: dict[str, Any], name: str, file: Path, where: str) -> float:
    value = record.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= _LARGEST:
        raise InputError("number expected", path=file, where=where, found=_shown(value))
    return float(value)


def _shown(value: Any) -> str:
    """Return what stands in a field, short and printable."""
    text = ascii(value)
    return text if len(text) <= _SHOWN else text[:_SHOWN] + "…"
