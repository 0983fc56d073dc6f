"""Swatch books: named colours as a TOML file that a person edits and a tool can compare line by line."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import raise_first_error
from strikeoff.base.toml_text import parse_toml
from strikeoff.colour.weights import canonical_illuminant, canonical_observer
from strikeoff.measurement.read import read_readings

FloatArray = NDArray[np.float64]

MOST_COLOURS = 2000
_MOST_BYTES = 8 << 20
_FILE_KEYS = {"name", "illuminant", "observer", "readings", "colour"}
_KEYS = {
    "name", "lab", "illuminant", "observer", "wavelengths_nm", "spectrum", "sample", "readings",
    "recipe_percent", "ink", "limit_percent", "tint", "note",
}  # fmt: skip
_WAYS = ("lab", "spectrum", "sample", "recipe_percent", "ink")


@dataclass(frozen=True)
class Swatch:
    """A named colour, said in one of four ways: Lab, a spectrum, a recipe, or an ink by name.

    Attributes
    ----------
    name : str
        Unicode NFC; case and spaces count.
    lab : tuple of float, optional
        L*, a*, b* under ``illuminant`` and ``observer``.
    illuminant, observer : str, optional
        Light and observer of ``lab``, and that under which a spectrum is matched; the condition's own where
        nobody said.
    wavelengths_nm, spectrum : tuple of float
        Reflectance factor, 0-1; empty without. [nm], [-]
    recipe : tuple of (str, float), optional
        Inks by name and their amount at full tint, 0-1. [-]
    ink : str, optional
        Name of the ink that it passes to.
    limit : float
        Most of that ink, at full tint, 0-1. [-]
    tint : tuple of (float, float), optional
        Tint and aim, both 0-1 and rising from 0, 0 to 1, 1: aim of tone value (ISO 20654), for an ink share
        of its limit. None: aim as tint. [-]
    """

    name: str
    lab: tuple[float, float, float] | None = None
    illuminant: str | None = None
    observer: str | None = None
    wavelengths_nm: tuple[float, ...] = ()
    spectrum: tuple[float, ...] = ()
    recipe: tuple[tuple[str, float], ...] | None = None
    ink: str | None = None
    limit: float = 1.0
    tint: tuple[tuple[float, float], ...] | None = None

    def aim(self, tint: FloatArray) -> FloatArray:
        """Return the aim at tints, both 0-1.

        Examples
        --------
        >>> Swatch("Leaf", tint=((0, 0), (0.5, 0.4), (1, 1))).aim(np.array([0.25, 1.0])).tolist()
        [0.2, 1.0]
        """
        if self.tint is None:
            return np.asarray(tint, dtype=np.float64)
        given, wanted = np.array(self.tint).T
        return np.asarray(np.interp(tint, given, wanted))


@dataclass(frozen=True)
class SwatchBook:
    """Named colours in the order of the file.

    Attributes
    ----------
    name : str
        What people call the book.
    swatches : tuple of Swatch
        Names are unique.
    digest : str
        Of the file and of the readings that it takes spectra from.
    """

    name: str
    swatches: tuple[Swatch, ...]
    digest: str


def same_name(name: str) -> str:
    r"""Return a name as it is compared: Unicode NFC and nothing else, so case and spaces count.

    Examples
    --------
    >>> same_name("Rose\u0301") == "Ros\u00e9", same_name("Coral ") == "Coral"
    (True, False)
    """
    return unicodedata.normalize("NFC", name)


def read_book(path: str | Path) -> SwatchBook:
    """Read a swatch book.

    Raises
    ------
    StorageError
        When the file, or readings that it names, cannot be opened.
    InputError
        When it is no such file; colour and key are named.
    """
    data = read_bytes(path, _MOST_BYTES)
    try:
        document = parse_toml(data, path, "a swatch book")
        _known(document, _FILE_KEYS, "file")
        rows = document.get("colour")
        if not isinstance(rows, list) or not 0 < len(rows) <= MOST_COLOURS:
            raise InputError("book holds no colours", expected=f"1 to {MOST_COLOURS} [[colour]]")
        shelf = _Readings(Path(path).parent)
        swatches = tuple(_swatch(row, document, shelf) for row in rows)
        seen: set[str] = set()
        for swatch in swatches:
            if swatch.name in seen:
                raise InputError("two colours have one name", where=f"colour {swatch.name}")
            seen.add(swatch.name)
        name = document.get("name", Path(path).stem)
        digests = "".join([digest_bytes(data), *(shelf.digests[key] for key in sorted(shelf.digests))])
        return SwatchBook(str(name), swatches, digest_bytes(digests.encode()))
    except InputError as error:
        error.path = error.path or str(path)
        raise
    except UsageError as error:
        raise InputError(error.message, path=path, found=error.found, expected=error.expected) from error
    except (TypeError, AttributeError) as error:
        raise InputError(
            "not a swatch book", path=path, found="a value of the wrong kind", expected="[[colour]] of keys"
        ) from error


class _Readings:
    """Files of readings beside the book, each read once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.digests: dict[str, str] = {}
        self._rows: dict[str, tuple[tuple[float, ...], dict[str, tuple[float, ...]]]] = {}

    def spectrum(self, name: str, sample: str, where: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
        if name not in self._rows:
            path = self.folder / name
            readings, problems = read_readings(path, need_inks=False)
            raise_first_error(problems, path)
            if readings.spectra is None or readings.wavelengths_nm is None:
                raise InputError("readings hold no spectra", path=path, where=where)
            rows = {
                same_name(ident): tuple(map(float, row))
                for ident, row in zip(readings.sample_ids, readings.spectra, strict=True)
            }
            if len(rows) != len(readings.sample_ids):
                raise InputError("readings hold a sample twice", path=path, where=where)
            self._rows[name] = tuple(map(float, readings.wavelengths_nm)), rows
            self.digests[name] = digest_bytes(read_bytes(path, 64 << 20))
        grid, rows = self._rows[name]
        if sample not in rows:
            raise InputError("readings lack the sample", path=self.folder / name, where=where, found=sample)
        return grid, rows[sample]


def _swatch(row: Mapping[str, Any], document: Mapping[str, Any], shelf: _Readings) -> Swatch:
    name = row.get("name")
    if not isinstance(name, str) or not name.strip() or len(name) > 200:
        raise InputError("a colour has no name", found=str(name)[:40], expected="name in quotes")
    where = f"colour {name}"
    _known(row, _KEYS, where)
    ways = [way for way in _WAYS if way in row]
    if len(ways) != 1:
        raise InputError(
            "a colour is said in one way",
            where=where,
            found=", ".join(ways) or "none",
            expected=f"one of {', '.join(_WAYS)}",
        )
    light = row.get("illuminant", document.get("illuminant"))
    eye = row.get("observer", document.get("observer"))
    swatch: dict[str, Any] = {
        "illuminant": None if light is None else canonical_illuminant(str(light)),
        "observer": None if eye is None else canonical_observer(str(eye)),
        "tint": _tint(row["tint"], where) if "tint" in row and row["tint"] != "sctv" else None,
    }
    match ways[0]:
        case "lab":
            lab = _numbers(row["lab"], f"{where}, lab", -200, 200)
            if len(lab) != 3 or not 0 <= lab[0] <= 110:
                raise InputError(
                    "not a Lab colour",
                    where=where,
                    found=str(row["lab"])[:60],
                    expected="[L*, a*, b*], L* 0 to 110, a* and b* -200 to 200",
                )
            swatch["lab"] = lab
        case "spectrum":
            swatch["spectrum"] = _numbers(row["spectrum"], f"{where}, spectrum", 0, 2)
            swatch["wavelengths_nm"] = _grid(row, len(swatch["spectrum"]), where)
        case "sample":
            file = row.get("readings", document.get("readings"))
            if not isinstance(file, str):
                raise InputError("a sample needs readings", where=where, expected='readings = "FILE"')
            grid, values = shelf.spectrum(file, same_name(str(row["sample"])), where)
            swatch |= {"wavelengths_nm": grid, "spectrum": values}
        case "recipe_percent":
            swatch["recipe"] = tuple(
                (str(ink), _numbers([amount], f"{where}, {ink}", 0, 100)[0] / 100)
                for ink, amount in row["recipe_percent"].items()
            )
        case _:
            swatch["ink"] = str(row["ink"])
            swatch["limit"] = _numbers([row.get("limit_percent", 100)], f"{where}, limit", 0.1, 100)[0] / 100
    if "limit_percent" in row and "ink" not in row:
        raise InputError("only an ink by name has a limit", where=where)
    return Swatch(name=same_name(name), **swatch)


def _grid(row: Mapping[str, Any], count: int, where: str) -> tuple[float, ...]:
    span = _numbers(row.get("wavelengths_nm"), f"{where}, wavelengths_nm", 0.1, 1100)
    if len(span) != 3 or not span[0] < span[1]:
        raise InputError("wavelengths are first, last and step", where=where, expected="[400, 700, 10]")
    grid = np.linspace(span[0], span[1], count)
    if count < 5 or abs((span[1] - span[0]) / (count - 1) - span[2]) > 1e-6:
        raise InputError(
            "spectrum does not fit its wavelengths",
            where=where,
            found=f"{count} values",
            expected=f"{(span[1] - span[0]) / span[2] + 1:g}",
        )
    return tuple(map(float, grid))


def _tint(value: Any, where: str) -> tuple[tuple[float, float], ...]:
    rows = value if isinstance(value, list) else []
    pairs = [_numbers(pair, f"{where}, tint", 0, 100) for pair in rows]
    curve = tuple((pair[0] / 100, pair[1] / 100) for pair in pairs if len(pair) == 2)
    ends = len(curve) >= 2 and curve[0] == (0.0, 0.0) and curve[-1] == (1.0, 1.0)
    rises = all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(curve))
    if len(curve) != len(pairs) or not ends or not rises:
        raise InputError(
            "a tint curve rises from 0, 0 to 100, 100",
            where=where,
            found=str(value)[:60],
            expected='"sctv" or [[0, 0], [50, 42], [100, 100]]',
        )
    return curve


def _known(table: Mapping[str, Any], keys: set[str], where: str) -> None:
    for key in table:
        if key not in keys:
            raise InputError("unknown key", where=where, found=key, expected=", ".join(sorted(keys)))


def _numbers(values: Any, where: str, low: float, high: float) -> tuple[float, ...]:
    numbers = []
    for value in values if isinstance(values, list) and len(values) <= 1000 else [None]:
        if not (isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high):
            raise InputError(
                "not such a number", where=where, found=str(value)[:40], expected=f"{low:g} to {high:g}"
            )
        numbers.append(float(value))
    return tuple(numbers)
