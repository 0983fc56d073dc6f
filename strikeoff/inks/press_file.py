"""Inks, limits and screen as a TOML file that a person edits, and curves as a file that nobody does."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes, write_text
from strikeoff.base.toml_text import parse_toml
from strikeoff.inks.drops import drop_shares
from strikeoff.inks.goods import NO_GOODS, Goods
from strikeoff.inks.goods_lines import goods_lines, toml_value
from strikeoff.inks.goods_tables import INK_TABLE_KEYS, TABLES, goods_from_record, goods_from_tables
from strikeoff.inks.records import Ink, Screen
from strikeoff.inks.spaces import InkSpaces, spaces_from_record
from strikeoff.inks.split import LightSplit
from strikeoff.inks.tables import NODES, straight_curves
from strikeoff.inks.values import check_keys, number

CURVES_SCHEMA = "strikeoff/curves/1"
_MOST_BYTES = 8 << 20
_MOST_INKS = 24
_MOST_PRESS_BYTES = 1 << 20
_INK_KEYS = {"name", "role", "light_of", "limit_percent", "drop_pl", "weight", "reason", *INK_TABLE_KEYS}
_JSON = "the JSON that 'condition linearise' and 'condition split' write"
_MAKE = ", of which 'condition linearise' makes curves"
_OR_TOML = ", or ink limits in TOML under a name that ends in .toml"
_FILE_KEYS = {"total_percent", "over_white", "screen", "ink", *TABLES}
_SCREEN_KEYS = {"dpi", "method", "passes", "direction"}


@dataclass(frozen=True)
class PressFile:
    """What a file of limits says.

    Attributes
    ----------
    inks : tuple of Ink
        Physical inks in the order of the columns of a ramp chart.
    screen : Screen, optional
        Where it is given.
    total : float, optional
        Most of all inks, laid down. [-]
    reasons : tuple of str
        Why each limit is what it is; not used by the program.
    goods : Goods
        Press, lots, cloth and finishing, as far as they are recorded.
    over_white : bool, optional
        Whether the colours of this cloth are judged over white ink; None where nobody said.
    """

    inks: tuple[Ink, ...]
    screen: Screen | None = None
    total: float | None = None
    reasons: tuple[str, ...] = ()
    goods: Goods = NO_GOODS
    over_white: bool | None = None

    @property
    def channels(self) -> tuple[str, ...]:
        """Calibrated inks: all but the light ones."""
        return tuple(ink.name for ink in self.inks if ink.role != "light")

    def each_ink(self) -> PressFile:
        """Return the same with every light ink as an ink of its own: how their ramps are printed."""
        inks = tuple(
            replace(ink, role="process", light_of=None) if ink.role == "light" else ink for ink in self.inks
        )
        return replace(self, inks=inks)

    def spaces(self, splits: Mapping[str, LightSplit] | None = None) -> InkSpaces:
        """Return ink spaces without tone curves.

        Parameters
        ----------
        splits : mapping of str to LightSplit, optional
            By the dark ink's name, one for each light ink.

        Raises
        ------
        InputError
            When a light ink has no split.
        """
        split = straight_curves(len(self.inks)).copy()
        for position, ink in enumerate(self.inks):
            if ink.role == "light":
                found = (splits or {}).get(ink.channel)
                if found is None:
                    raise InputError(
                        "light ink has no split yet",
                        where=f"ink {ink.name}",
                        advice="Run 'condition split' on ramps of the physical inks first",
                    )
                split[position] = found.light
                dark = [other.name for other in self.inks].index(ink.channel)
                split[dark] = found.dark
        levels = max(ink.levels for ink in self.inks)
        drops = np.zeros((len(self.inks), levels, NODES), np.uint16)
        for position, ink in enumerate(self.inks):
            shares = drop_shares(ink.drop_pl or (1.0,))
            drops[position, : len(shares)] = shares
        channels = self.channels
        total = self.total if self.total is not None else float(len(channels))
        return InkSpaces(
            channels, self.inks, straight_curves(len(channels)), split, drops, self.screen, total=total
        )


def read_press(path: str | Path) -> PressFile:
    """Read inks, limits and screen.

    Raises
    ------
    StorageError
        When the file cannot be opened.
    InputError
        When it is no such file; the key is named.
    """
    try:
        document = _document(path)
        rows = document.get("ink")
        check_keys(document, _FILE_KEYS, "file")
        if not isinstance(rows, list) or not 0 < len(rows) <= _MOST_INKS:
            raise InputError("file holds no inks", expected=f"1 to {_MOST_INKS} [[ink]]")
        screen = document.get("screen")
        total = document.get("total_percent")
        return PressFile(
            tuple(_ink(row) for row in rows),
            None if screen is None else _screen(screen),
            None if total is None else number(total, "total_percent", 10, 100.0 * _MOST_INKS) / 100,
            tuple(str(row.get("reason", "")) for row in rows),
            goods_from_tables(document, Path(path).parent),
            _flag(document.get("over_white")),
        )
    except InputError as error:
        error.path = error.path or str(path)
        raise
    except (TypeError, AttributeError) as error:
        raise InputError(
            "not a file of ink limits",
            path=path,
            found="a value of the wrong kind",
            expected="[[ink]] of keys",
        ) from error


def read_goods(path: str | Path) -> Goods:
    """Read press, lots, cloth and finishing alone: inks, limits and screen may stand beside them.

    Raises
    ------
    StorageError
        When the file cannot be opened.
    InputError
        When it is no such file or records nothing of them; the key is named.
    """
    try:
        document = _document(path, "a file of goods")
        check_keys(document, _FILE_KEYS, "file")
        goods = goods_from_tables(document, Path(path).parent)
        for row in document.get("ink", ()):
            check_keys(row, _INK_KEYS, "ink")
        if not goods.is_recorded:
            raise InputError(
                "file records nothing of the goods", expected=", ".join(f"[{name}]" for name in TABLES)
            )
    except InputError as error:
        error.path = error.path or str(path)
        raise
    return goods


def _document(path: str | Path, what: str = "a file of ink limits") -> dict[str, Any]:
    return parse_toml(read_bytes(path, _MOST_PRESS_BYTES), path, what)


def press_text(press: PressFile) -> str:
    """Return a file of limits for a person to edit."""
    lines = ["# Inks in the order of the chart's columns, limits of each, and how they are put down.", ""]
    if press.total is not None:
        lines += [f"total_percent = {press.total * 100:g}  # most of all inks in one place, laid down", ""]
    if press.over_white is not None:
        word = json.dumps(press.over_white)
        lines += [f"over_white = {word}  # whether colours of this cloth are judged over white ink", ""]
    if press.screen is not None:
        s = press.screen
        lines += [
            "[screen]",
            f"dpi = [{s.dpi_x:g}, {s.dpi_y:g}]  # across, along",
            f"method = {json.dumps(s.method)}",
            f"passes = {s.passes}",
            f"direction = {json.dumps(s.direction)}",
            "",
        ]
    lines += goods_lines(press.goods)
    recorded = {ink.name: ink for ink in press.goods.inks}
    for ink, reason in zip(press.inks, press.reasons or [""] * len(press.inks), strict=True):
        lines += ["[[ink]]", f"name = {json.dumps(ink.name)}", f"role = {json.dumps(ink.role)}"]
        if ink.light_of:
            lines.append(f"light_of = {json.dumps(ink.light_of)}")
        lines.append(f"limit_percent = {ink.limit * 100:g}")
        if ink.drop_pl:
            lines.append(f"drop_pl = [{', '.join(f'{v:g}' for v in ink.drop_pl)}]")
        lines.append(f"weight = {ink.weight:g}")
        for key in INK_TABLE_KEYS:
            if said := getattr(recorded.get(ink.name), key, None):
                lines.append(f"{key} = {toml_value(said)}")
        lines += [f"reason = {json.dumps(reason)}", ""]
    return "\n".join(lines)


def with_limits(press: PressFile, limits: Sequence[float], reasons: Sequence[str]) -> PressFile:
    """Return the same inks with other limits."""
    inks = tuple(replace(ink, limit=limit) for ink, limit in zip(press.inks, limits, strict=True))
    return replace(press, inks=inks, reasons=tuple(reasons))


def write_curves(
    path: str | Path, spaces: InkSpaces, goods: Goods = NO_GOODS, *, over_white: bool | None = None
) -> None:
    """Write ink spaces with all their curves, and the goods and judging they were made for, as JSON."""
    recorded: dict[str, Any] = {"goods": goods.as_record()} if goods.is_recorded else {}
    if over_white is not None:
        recorded["over_white"] = over_white
    write_text(path, json.dumps({"schema": CURVES_SCHEMA, **spaces.as_record(), **recorded}) + "\n")


def read_curves(path: str | Path) -> InkSpaces:
    """Read ink spaces.

    Raises
    ------
    StorageError
        When the file cannot be opened.
    InputError
        When it is no such file or its curves do not match their digest.
    """
    return _read_curves(path)[0]


def read_over_white(path: str | Path) -> bool | None:
    """Return whether a file of limits (``.toml``) or curves says that colours are judged over white ink.

    Raises
    ------
    StorageError
        When the file cannot be opened.
    InputError
        When it is neither.
    """
    if str(path).lower().endswith(".toml"):
        return read_press(path).over_white
    return _read_curves(path, or_limits=True)[2]


def judged_over_white(limits: str | Path | None, curves: str | Path | None) -> bool | None:
    """Return the same of the files that `read_inks` reads: of limits or, without one, of curves."""
    return _read_curves(str(curves))[2] if limits is None else read_press(limits).over_white


def _read_curves(path: str | Path, *, or_limits: bool = False) -> tuple[InkSpaces, Goods, bool | None]:
    """Read curves, goods and what colours are judged over; errors name ink limits where these would do."""
    data = read_bytes(path, _MOST_BYTES)
    try:
        record = json.loads(data)
        if not isinstance(record, dict) or record.pop("schema", None) != CURVES_SCHEMA:
            raise InputError("not a file of ink curves", expected=f"schema {CURVES_SCHEMA}")
        return spaces_from_record(record), goods_from_record(record), _flag(record.get("over_white"))
    except InputError as error:
        error.path = error.path or str(path)
        raise
    except (ValueError, RecursionError) as error:
        way = ": give it a name that ends in .toml" if or_limits else _MAKE
        raise InputError(
            "neither ink curves nor ink limits" if or_limits else "not a file of ink curves",
            path=path,
            found=_beginning(data),
            expected=_JSON + (_OR_TOML if or_limits else ""),
            advice=f"It reads like ink limits{way}" if b"[[ink]]" in data else None,
        ) from error


def _beginning(data: bytes) -> str:
    """Return how a file begins, as far as it can be shown."""
    shown = "".join(c if c.isprintable() else "?" for c in data[:24].decode("utf-8", "replace"))
    return f"a file that begins {shown!r}" if data else "an empty file"


def read_inks(limits: str | Path | None, curves: str | Path | None) -> tuple[InkSpaces, Goods]:
    """Read inks and the goods they were described for, from a file of limits or, without one, of curves."""
    if limits is None:
        return _read_curves(str(curves))[:2]
    press = read_press(limits)
    return press.spaces(), press.goods


def _flag(value: object) -> bool | None:
    if value is not None and not isinstance(value, bool):
        raise InputError("not yes or no", where="over_white", found=str(value)[:40], expected="true or false")
    return value


def _ink(row: Mapping[str, Any]) -> Ink:
    check_keys(row, _INK_KEYS, "ink")
    name = row.get("name")
    if not isinstance(name, str):
        raise InputError("an ink has no name", found=name, expected="name in quotes")
    volumes = row.get("drop_pl", [])
    if not isinstance(volumes, list):
        volumes = [volumes]
    return Ink(
        name,
        row.get("role", "process"),
        row.get("light_of"),
        number(row.get("limit_percent", 100.0), f"ink {name}, limit_percent", 1, 100) / 100,
        tuple(number(v, f"ink {name}, drop_pl", 0.01, 10_000) for v in volumes),
        number(row.get("weight", 1.0), f"ink {name}, weight", 0, 100),
    )


def _screen(table: Mapping[str, Any]) -> Screen:
    check_keys(table, _SCREEN_KEYS, "screen")
    dpi = table.get("dpi")
    across, along = dpi if isinstance(dpi, list) and len(dpi) == 2 else (dpi, dpi)
    return Screen(
        number(across, "screen, dpi", 10, 10_000),
        number(along, "screen, dpi", 10, 10_000),
        str(table.get("method", "blue noise")),
        int(number(table.get("passes", 1), "screen, passes", 1, 128)),
        table.get("direction", "both ways"),
    )
