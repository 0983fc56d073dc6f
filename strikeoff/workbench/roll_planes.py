"""What planes and rolls say about themselves."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.condition.ink_space import CURVES_DIGEST, INK_SPACE
from strikeoff.condition.standing import day_problems
from strikeoff.inks.roles import ink_names_text
from strikeoff.inks.spaces import IDENTITY, InkSpaces, identity_spaces, spaces_from_record
from strikeoff.inks.values import day
from strikeoff.layout.strip import StripPatches
from strikeoff.measurement.iso28178 import write_iso28178
from strikeoff.measurement.records import ReadingSet
from strikeoff.raster.planes_file import PlanesFile

ROLL_SCHEMA = "strikeoff/roll/1"


def roll_spaces(info: dict[str, Any], source: PlanesFile) -> InkSpaces:
    """Return the ink spaces that planes say they are of; straight ones where they say none.

    Raises
    ------
    InputError
        When they are damaged or their tone curves do not hold any more.
    """
    record = info.get("ink_spaces")
    if record is None:
        return identity_spaces(source.ink_names, float(info["total_ink"]))
    spaces = spaces_from_record(record)
    if spaces.stale:
        raise InputError(
            "tone curves do not hold any more",
            path=source.path,
            where="ImageDescription",
            found="; ".join(spaces.stale),
            expected="curves made for this press",
            advice="Print and read a linearisation chart and run 'condition relinearise'",
        )
    return spaces


def planes_info(source: PlanesFile, schema: str | tuple[str, ...], maker: str) -> dict[str, Any]:
    """Return what planes say about themselves.

    Raises
    ------
    InputError
        When they do not say which condition their inks are of.
    """
    wanted = (schema,) if isinstance(schema, str) else schema
    found = source.info.get("schema")
    if found not in wanted or "condition" not in source.info or "total_ink" not in source.info:
        raise InputError(
            "TIFF does not say which condition its inks are of",
            path=source.path,
            where="ImageDescription",
            found=found,
            expected=" or ".join(wanted),
            advice=f"Use a file written by {maker}",
        )
    return source.info


def planes_problems(info: dict[str, Any]) -> tuple[Problem, ...]:
    """Return a warning where the condition that planes are of was to hold until a day that has passed.

    Raises
    ------
    InputError
        When the planes name no such day.
    """
    stated = info["condition"]
    until = stated.get("valid_until") if isinstance(stated, dict) else None
    return day_problems(None if until is None else day(until, "ImageDescription, condition, valid_until"))


def write_strip(
    path: str | Path, strip: StripPatches, info: dict[str, Any], ink_names: Sequence[str]
) -> None:
    """Write the reference of a control strip for planes that say this about themselves."""
    columns = tuple(info["ink_columns"])
    reference = ReadingSet(strip.ids, columns, strip.coverages)
    header = {
        "ORIGINATOR": "strikeoff",
        "DESCRIPTOR": "control strip reference, calibrated ink",
        "INK_NAMES": ink_names_text(ink_names),
        "CONDITION_NAME": str(info["condition"]["name"]),
        "CONDITION_DIGEST": str(info["condition"]["digest"]),
        INK_SPACE: "calibrated",
        CURVES_DIGEST: IDENTITY
        if info.get("ink_spaces") is None
        else str(info["ink_spaces"]["curves_digest"]),
    }
    write_iso28178(path, reference, header=header)
