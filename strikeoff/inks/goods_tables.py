"""Goods from the tables of a file, checked value by value."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.inks.goods import (
    BRIGHTENER,
    INK_CLASSES,
    PROCESSES,
    Change,
    Cloth,
    Finishing,
    Goods,
    InkLot,
    InkSet,
    Press,
    Step,
    Validity,
)
from strikeoff.inks.values import check_keys, choice, day, number, shown, text, whole

#: Tables beside those of inks, limits and screen.
TABLES = ("press", "ink_set", "cloth", "finishing", "validity")
#: Keys of an ink that say which goods it was printed for.
INK_TABLE_KEYS = ("full_name", "lot")

_Check = Callable[[Any, str], Any]
_PRESS: dict[str, _Check] = {"name": text, "width_mm": partial(number, low=50, high=20_000)}
_INK_SET: dict[str, _Check] = {"name": text, "class": partial(choice, words=INK_CLASSES)}
_INK: dict[str, _Check] = {"name": text, "full_name": text, "lot": text}
_CLOTH: dict[str, _Check] = {
    "name": text,
    "lot": text,
    "composition": text,
    "mass_g_m2": partial(number, low=5, high=5000),
    "colour": text,
    "pretreatment": text,
    "optical_brightener": partial(choice, words=BRIGHTENER),
}
_STEP: dict[str, _Check] = {
    "process": partial(choice, words=PROCESSES),
    "temperature_c": partial(number, low=0, high=300),
    "minutes": partial(number, low=0.01, high=20_000),
    "seconds": partial(number, low=0.1, high=3600),
    "machine": text,
    "note": text,
}
_PERCENT = partial(number, low=-50, high=20)
_SPREAD = partial(number, low=0, high=50)
_COUNT = partial(whole, low=1, high=100_000)


def _interval(value: Any, where: str) -> tuple[float, float]:
    ends = value if isinstance(value, Sequence) and not isinstance(value, str) and len(value) == 2 else None
    if ends is None:
        raise InputError("not such an interval", where=where, found=shown(value), expected="[least, most]")
    # Few specimens may leave the interval wider than any change can be.
    low, high = (number(v, where, -1000, 1000) for v in ends)
    if low > high:
        raise InputError("the interval ends before it begins", where=where, found=shown(value))
    return low, high


_CHANGE: dict[str, _Check] = {
    "change_percent": _PERCENT,
    "specimen_sd_percent": _SPREAD,
    "lot_sd_percent": _SPREAD,
    "interval_90_percent": _interval,
    "specimens": _COUNT,
    "lots": _COUNT,
}
_VALIDITY: dict[str, _Check] = {"until": day, "from": day, "days": partial(whole, low=1, high=36_500)}
_FINISHING_KEYS = ("step", "warp", "weft", "measured", "evidence")
_MOST_STEPS = 40
# Digits of a percent that are kept of a measured change, since people read and edit the file.
_DIGITS = 4
_DOCUMENT_BYTES = 8 << 20
_DOCUMENT_SCHEMA = "strikeoff/finishing-measure/1"


def goods_from_tables(document: Mapping[str, Any], folder: Path | None = None) -> Goods:
    """Return the goods that a file records.

    Parameters
    ----------
    document : mapping
        Holds any of `TABLES`, and ``ink``, a list of tables with ``name`` and any of `INK_TABLE_KEYS`; all
        else is left to others.
    folder : Path, optional
        Where the file lies: there its document of ``finishing measure`` is looked for. Files that nobody
        edits name none.

    Raises
    ------
    StorageError
        When that document cannot be opened.
    InputError
        Unknown key, a value out of its range or of the wrong kind; the key is named.
    """
    inks = document.get("ink", [])
    if not isinstance(inks, list):
        raise InputError("inks are no list", where="ink", found=shown(inks), expected="[[ink]] of keys")
    told = [ink for ink in map(_of_the_goods, inks) if len(ink.keys() - {"name"})]
    ink_set = _checked(document.get("ink_set", {}), _INK_SET, "ink_set")
    return Goods(
        Press(**_checked(document.get("press", {}), _PRESS, "press")),
        InkSet(ink_set.get("name"), ink_set.get("class")),
        tuple(InkLot(**_checked(ink, _INK, "ink")) for ink in told),
        Cloth(**_checked(document.get("cloth", {}), _CLOTH, "cloth")),
        _finishing(document.get("finishing", {}), folder),
        _validity(document.get("validity", {})),
    )


def goods_from_record(record: Mapping[str, Any]) -> Goods:
    """Return the goods in a record that holds those of `Goods.as_record` under ``goods``, or none.

    Raises
    ------
    InputError
        Unknown key, a value out of its range or of the wrong kind; the key is named.
    """
    found = record.get("goods", {})
    check_keys(found, (*TABLES, "ink"), "goods")
    return goods_from_tables(found)


def _of_the_goods(ink: Any) -> dict[str, Any]:
    """Return what an ink's table says that belongs here."""
    if not isinstance(ink, Mapping):
        raise InputError("not a table of keys", where="ink", found=shown(ink), expected="[[ink]] of keys")
    return {key: ink[key] for key in ("name", *INK_TABLE_KEYS) if key in ink}


def _checked(table: Any, checks: Mapping[str, _Check], where: str, need: str | None = None) -> dict[str, Any]:
    check_keys(table, checks, where)
    needed = need or ("name" if where == "ink" else None)
    if needed is not None and needed not in table:
        raise InputError(f"{needed} is missing", where=where, expected=f"{needed} = ...")
    return {key: checks[key](value, f"{where}, {key}") for key, value in table.items()}


def _finishing(table: Any, folder: Path | None) -> Finishing:
    check_keys(table, _FINISHING_KEYS, "finishing")
    rows = table.get("step", [])
    if not isinstance(rows, list) or len(rows) > _MOST_STEPS:
        raise InputError(
            "steps of finishing are no such list",
            where="finishing",
            found=shown(rows),
            expected=f"at most {_MOST_STEPS} [[finishing.step]]",
        )
    steps = tuple(_step(row, place) for place, row in enumerate(rows, 1))
    changes = {
        way: Change(**_checked(table[way], _CHANGE, f"finishing, {way}", "change_percent"))
        for way in ("warp", "weft")
        if way in table
    }
    evidence = table.get("evidence")
    if evidence is not None:
        evidence = text(evidence, "finishing, evidence")
    if "measured" in table:
        if changes or evidence is not None:
            raise InputError(
                "change is given twice",
                where="finishing",
                found="measured, and warp, weft or evidence",
                expected="one of the two",
            )
        changes, evidence = _measured(text(table["measured"], "finishing, measured"), folder)
    return Finishing(steps, changes.get("warp"), changes.get("weft"), evidence)


def _step(row: Any, place: int) -> Step:
    where = f"finishing, step {place}"
    found = _checked(row, _STEP, where, "process")
    if "minutes" in found and "seconds" in found:
        raise InputError("time is given twice", where=where, expected="minutes or seconds")
    if found["process"] == "other" and "note" not in found:
        raise InputError("nobody knows what this step does", where=where, expected="note = what it is")
    return Step(**found)


def _measured(name: str, folder: Path | None) -> tuple[dict[str, Change], str]:
    """Return the changes in a document of ``finishing measure``, and its digest."""
    where = "finishing, measured"
    if folder is None:
        raise InputError("names a file where only values stand", where=where, found=name)
    path = folder / name
    data = read_bytes(path, _DOCUMENT_BYTES)
    try:
        document = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise InputError(
            "not a document of 'finishing measure'", path=path, expected="what its option --json writes"
        ) from error
    schema = document.get("schema") if isinstance(document, dict) else None
    results = document.get("results") if isinstance(document, dict) else None
    if schema != _DOCUMENT_SCHEMA or not isinstance(results, dict):
        raise InputError(
            "not a document of 'finishing measure'",
            path=path,
            found=shown(schema),
            expected=f"schema {_DOCUMENT_SCHEMA}",
            advice="Write it with 'strikeoff finishing measure GRID.csv --json'",
        )
    changes = {}
    for way in ("warp", "weft"):
        facts = results.get(way)
        if not isinstance(facts, dict):
            continue
        try:
            changes[way] = change_from_facts(facts, way)
        except InputError as error:
            error.path = error.path or str(path)
            raise
    if not changes:
        raise InputError("holds no change", path=path, expected="warp or weft", advice="Measure again")
    return changes, digest_bytes(data)


def change_from_facts(facts: Mapping[str, Any], where: str) -> Change:
    """Return what ``finishing measure`` tells of a direction, to four digits after the point.

    Raises
    ------
    InputError
        When the change is missing or a value cannot be.
    """
    known = {key: _rounded(facts[key]) for key in _CHANGE if facts.get(key) is not None}
    return Change(**_checked(known, _CHANGE, where, "change_percent"))


def _rounded(value: Any) -> Any:
    if isinstance(value, list):
        return [_rounded(v) for v in value]
    return round(value, _DIGITS) if isinstance(value, float) else value


def _validity(table: Any) -> Validity:
    found = _checked(table, _VALIDITY, "validity")
    until, start, days = (found.get(key) for key in ("until", "from", "days"))
    if days is not None and (start is None or until is not None):
        raise InputError(
            "days run from a first day, and in place of a last one",
            where="validity",
            found=", ".join(found),
            expected="until = a date, or from = a date and days = a number",
            advice="Count from the day on which the chart was read",
        )
    if start is not None and until is not None and until < start:
        raise InputError(
            "ends before it begins",
            where="validity",
            found=f"from {start}, until {until}",
            expected="a later day",
        )
    if start is not None and days is None and until is None:
        raise InputError("has no end", where="validity", found=f"from {start}", expected="until, or days")
    if start is not None and days is not None and start > date.max - timedelta(days):
        raise InputError("has no such day", where="validity", found=f"{days} days from {start}")
    return Validity(until, start, days)
