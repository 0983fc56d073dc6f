"""Tolerance sets: limits held as data that a person may edit."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.base.toml_text import parse_toml
from strikeoff.verification.roles import ROLES
from strikeoff.verification.statistics import FORMULAE, STATISTICS

_MAX_BYTES = 1 << 20
_MAX_ITEMS = 200
_SET_KEYS = ("name", "origin", "guard", "item")
_GUARD_KEYS = ("coverage_factor", "instrument_sd", "reading_sd")
_ITEM_KEYS = ("name", "patches", "statistic", "formula", "limit", "optional")
_NEEDED = ("name", "patches", "statistic", "formula", "limit")


@dataclass(frozen=True)
class Guard:
    """How uncertainty is judged.

    Attributes
    ----------
    coverage_factor : float
        Expanded uncertainty over standard uncertainty; 2 covers about 95 %. [-]
    instrument_sd : float
        Standard uncertainty of the instrument on each of L*, a*, b*, common to all patches.
    reading_sd : float
        Scatter of one reading on each of L*, a*, b*, used where too little was read twice.
    """

    coverage_factor: float = 2.0
    instrument_sd: float = 0.1
    reading_sd: float = 0.3


@dataclass(frozen=True)
class ToleranceItem:
    """One line of a tolerance set: a statistic of a difference over some patches, and its limit.

    Attributes
    ----------
    name : str
        As shown.
    patches : str
        One of `roles.ROLES`.
    statistic : {"mean", "percentile-95", "max"}
        Percentile by rank: the ceil(0.95 n)-th smallest.
    formula : {"de2000", "cmc", "de1976", "delta_ch", "delta_l"}
        The difference.
    limit : float
        Above 0, in the formula's unit.
    optional : bool
        Whether readings without such patches may still pass.
    """

    name: str
    patches: str
    statistic: str
    formula: str
    limit: float
    optional: bool = False


@dataclass(frozen=True)
class ToleranceSet:
    """A named list of limits with its origin in words and the digest of its file."""

    name: str
    origin: str
    items: tuple[ToleranceItem, ...]
    guard: Guard
    digest: str = ""


def default_tolerances_path(name: str = "textile") -> Path:
    """Return the path of a packaged tolerance set, ``textile`` or ``print``.

    Raises
    ------
    InputError
        Unknown name.
    """
    folder = Path(str(resources.files("strikeoff.verification"))) / "sets"
    known = sorted(path.stem for path in folder.glob("*.toml") if path.stem != "SOURCES")
    if name not in known:
        raise InputError("unknown tolerance set", found=name, expected=", ".join(known))
    return folder / f"{name}.toml"


def read_tolerances(path: str | Path) -> ToleranceSet:
    """Read a tolerance set.

    Parameters
    ----------
    path : str or Path
        TOML file, at most 1 MiB; see the packaged ``textile.toml``.

    Returns
    -------
    ToleranceSet

    Raises
    ------
    InputError
        Broken TOML, an unknown or lacking key, a value of the wrong kind or out of range; each with the line.
    StorageError
        When the file cannot be opened.

    Examples
    --------
    >>> read_tolerances(default_tolerances_path()).items[0].limit
    1.5
    """
    data = read_bytes(path, _MAX_BYTES)
    document = parse_toml(data, path, "a tolerance set")
    return _Reader(str(path), data.decode("utf-8-sig")).tolerance_set(document, digest_bytes(data))


class _Reader:
    """Checks a document key by key and knows the line of each fault."""

    def __init__(self, path: str, text: str) -> None:
        self.path = path
        self.lines = text.splitlines()

    def tolerance_set(self, document: dict[str, Any], digest: str) -> ToleranceSet:
        self._known(document, _SET_KEYS, "", -1)
        guard = document.get("guard", {})
        if not isinstance(guard, dict):
            raise self._fault("guard is not a table", "guard", "", -1, guard, "[guard]")
        self._known(guard, _GUARD_KEYS, "guard", 0)
        default = Guard()
        numbers = {
            key: self._number(
                guard.get(key, getattr(default, key)), key, "guard", 0, key == "coverage_factor"
            )
            for key in _GUARD_KEYS
        }
        rows = document.get("item", [])
        if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
            raise InputError("tolerance set has no items", path=self.path, expected="one [[item]] or more")
        if len(rows) > _MAX_ITEMS:
            raise InputError("too many items", path=self.path, found=len(rows), expected=f"<= {_MAX_ITEMS}")
        items = tuple(self._item(row, index) for index, row in enumerate(rows))
        names = [item.name for item in items]
        for index, name in enumerate(names):
            if name in names[:index]:
                raise self._fault("two items have one name", "name", "item", index, name, "a name of its own")
        return ToleranceSet(
            name=self._text(document.get("name", "Tolerances"), "name", "", -1),
            origin=self._text(document.get("origin", "not stated"), "origin", "", -1),
            items=items,
            guard=Guard(**numbers),
            digest=digest,
        )

    def _item(self, row: dict[str, Any], index: int) -> ToleranceItem:
        self._known(row, _ITEM_KEYS, "item", index)
        for key in _NEEDED:
            if key not in row:
                raise self._fault(f"item has no {key}", "", "item", index, None, ", ".join(_NEEDED))
        optional = row.get("optional", False)
        if not isinstance(optional, bool):
            raise self._fault("wrong kind of value", "optional", "item", index, optional, "true or false")
        return ToleranceItem(
            name=self._text(row["name"], "name", "item", index),
            patches=self._choice(row["patches"], "patches", index, ROLES),
            statistic=self._choice(row["statistic"], "statistic", index, tuple(STATISTICS)),
            formula=self._choice(row["formula"], "formula", index, tuple(FORMULAE)),
            limit=self._number(row["limit"], "limit", "item", index, True),
            optional=optional,
        )

    def _known(self, table: dict[str, Any], keys: tuple[str, ...], header: str, index: int) -> None:
        for key in table:
            if key not in keys:
                raise self._fault("unknown key", key, header, index, key, ", ".join(keys))

    def _text(self, value: Any, key: str, header: str, index: int) -> str:
        if not isinstance(value, str) or not value.strip() or len(value) > 500:
            raise self._fault("wrong kind of value", key, header, index, value, "a text in quotes")
        return value

    def _choice(self, value: Any, key: str, index: int, choices: tuple[str, ...]) -> str:
        if not isinstance(value, str) or value not in choices:
            raise self._fault(f"unknown {key}", key, "item", index, value, ", ".join(choices))
        return value

    def _number(self, value: Any, key: str, header: str, index: int, is_positive: bool) -> float:
        wanted = "a number above 0" if is_positive else "a number, 0 or more"
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._fault("wrong kind of value", key, header, index, value, wanted)
        if not math.isfinite(value) or value < 0 or value > 1000 or (is_positive and value == 0):
            raise self._fault(f"{key} is out of range", key, header, index, value, f"{wanted}, at most 1000")
        return float(value)

    def _fault(
        self, message: str, key: str, header: str, index: int, found: Any, expected: str
    ) -> InputError:
        line = self._line(key, header, index)
        where = ", ".join(
            part
            for part in (f"line {line}" if line else "", f"item {index + 1}" if header == "item" else "", key)
            if part
        )
        shown = None if found is None else repr(found)[:80]
        return InputError(message, path=self.path, where=where or None, found=shown, expected=expected)

    def _line(self, key: str, header: str, index: int) -> int | None:
        """Return the line of a key inside the index-th table of that header, else of the header."""
        start, seen = 0, -1
        if header:
            opener = re.compile(rf"\s*\[+\s*{header}\s*\]+")
            for number, line in enumerate(self.lines):
                if opener.match(line):
                    seen += 1
                    if seen == max(index, 0):
                        start = number + 1
                        break
            else:
                return None
        for number in range(start, len(self.lines)):
            if key and re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*[=.]", self.lines[number]):
                return number + 1
            if self.lines[number].lstrip().startswith("["):
                break
        return start or None
