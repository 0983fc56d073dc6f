"""Tint tables of a swatch book for one condition, in one file: equal tables are equal bytes."""

from __future__ import annotations

import io
import json
import math
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes, write_bytes
from strikeoff.raster.tables import MAX_INKS
from strikeoff.spot.book import MOST_COLOURS, same_name
from strikeoff.spot.tints import STEPS

SCHEMA = "strikeoff/spots/1"
_DATE = (1980, 1, 1, 0, 0, 0)
_LIMIT = 512 << 20
_RECORD, _TABLES = "spots.json", "tint_tables.u16"
_DAMAGE = (KeyError, ValueError, TypeError, IndexError, EOFError, zipfile.BadZipFile, NotImplementedError)


@dataclass(frozen=True)
class SpotPrint:
    """How a named colour prints at full tint.

    Attributes
    ----------
    illuminant, observer : str
        Light of what follows.
    lab : tuple of float
        Predicted Lab.
    target_lab : tuple of float, optional
        Lab asked for; None for recipes and inks by name.
    de00 : float, optional
        CIEDE2000 between the two.
    lights_de00 : dict of str to float
        The same under other lights, where the swatch is a spectrum.
    """

    illuminant: str
    observer: str
    lab: tuple[float, ...]
    target_lab: tuple[float, ...] | None
    de00: float | None
    lights_de00: dict[str, float]

    def as_record(self) -> dict[str, Any]:
        """Return it for JSON, rounded to what a fit is good for."""
        target = None if self.target_lab is None else [round(value, 3) for value in self.target_lab]
        return {
            "illuminant": self.illuminant,
            "observer": self.observer,
            "lab": [round(value, 3) for value in self.lab],
            "target_lab": target,
            "de00": None if self.de00 is None else round(self.de00, 3),
            "lights_de00": {light: round(value, 3) for light, value in self.lights_de00.items()},
        }


@dataclass(frozen=True)
class SpotTables:
    """What artwork is separated with.

    Attributes
    ----------
    names : tuple of str
        Named colours, Unicode NFC.
    inks : tuple of str
        Ink names in channel order.
    tables : ndarray of uint16, shape (n_names, STEPS + 1, n_inks)
        Ink at even tints, 65535 = full tone; no ink falls. Tint 0 has none.
    condition, book : str
        Digests of what they were made for and from.
    prints : tuple of SpotPrint
        How each prints at full tint; empty in files of before there were any.
    """

    names: tuple[str, ...]
    inks: tuple[str, ...]
    tables: NDArray[np.uint16]
    condition: str
    book: str
    prints: tuple[SpotPrint, ...] = ()

    def find(self, name: str) -> int | None:
        """Return the position of a named colour; case, spaces and accents count."""
        wanted = same_name(name)
        return self.names.index(wanted) if wanted in self.names else None

    def digest_of(self, position: int) -> str:
        """Return the digest of one colour's table."""
        return digest_bytes(self.tables[position].astype("<u2").tobytes())


def write_spots(path: str | Path, spots: SpotTables) -> str:
    """Write tint tables whole or not at all; return the file's digest."""
    record = {
        "schema": SCHEMA,
        "condition": spots.condition,
        "book": spots.book,
        "inks": list(spots.inks),
        "steps": STEPS,
        "colours": [
            {"name": name, "table": spots.digest_of(position)}
            | ({"print": spots.prints[position].as_record()} if spots.prints else {})
            for position, name in enumerate(spots.names)
        ],
    }
    members = {
        _RECORD: json.dumps(record, indent=1, sort_keys=True, ensure_ascii=False).encode(),
        _TABLES: spots.tables.astype("<u2").tobytes(),
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in members.items():
            entry = zipfile.ZipInfo(name, _DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, data)
    write_bytes(path, out.getvalue())
    return digest_bytes(out.getvalue())


def read_spots(path: str | Path) -> tuple[SpotTables, str]:
    """Read tint tables and the file's digest.

    Raises
    ------
    StorageError
        When the file cannot be read.
    InputError
        When it is no such file, or its tables do not match their digests.
    """
    data = read_bytes(path, _LIMIT)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            sizes = {entry.filename: entry.file_size for entry in archive.infolist()}
            if set(sizes) != {_RECORD, _TABLES} or sum(sizes.values()) > _LIMIT:
                raise ValueError("other members")
            record = json.loads(archive.read(_RECORD))
            spots = _spots(record, archive.read(_TABLES))
    except InputError as error:
        error.path = error.path or str(path)
        raise
    except (*_DAMAGE, RecursionError, zlib.error) as error:
        raise InputError(
            "not a file of tint tables, or damaged",
            path=path,
            found=str(error)[:120] or type(error).__name__,
            expected="a file written by 'condition spots'",
            advice="Compile the swatch book again",
        ) from error
    return spots, digest_bytes(data)


def _spots(record: Mapping[str, Any], data: bytes) -> SpotTables:
    if record["schema"] != SCHEMA or record["steps"] != STEPS:
        raise InputError("tint tables of another schema", found=record["schema"], expected=SCHEMA)
    names = tuple(str(row["name"]) for row in record["colours"])
    inks = tuple(str(ink) for ink in record["inks"])
    if not (0 < len(names) <= MOST_COLOURS and 0 < len(inks) <= MAX_INKS and len(set(names)) == len(names)):
        raise ValueError("colours or inks")
    tables = np.frombuffer(data, "<u2").astype(np.uint16).reshape(len(names), STEPS + 1, len(inks))
    rows = record["colours"]
    prints = tuple(_print(row["print"]) for row in rows) if all("print" in row for row in rows) else ()
    spots = SpotTables(names, inks, tables, str(record["condition"]), str(record["book"]), prints)
    for position, row in enumerate(record["colours"]):
        if spots.digest_of(position) != row["table"]:
            raise InputError("a tint table does not match its digest", where=f"colour {row['name']}")
    rising = (tables[:, 1:] >= tables[:, :-1]).all()
    if not rising or tables[:, 0].any():
        raise InputError("a tint table falls, or starts above none")
    return spots


def _print(row: Mapping[str, Any]) -> SpotPrint:
    target, error = row["target_lab"], row["de00"]
    return SpotPrint(
        str(row["illuminant"]),
        str(row["observer"]),
        _lab(row["lab"]),
        None if target is None else _lab(target),
        None if error is None else _number(error),
        {str(light): _number(value) for light, value in dict(row["lights_de00"]).items()},
    )


def _lab(values: Any) -> tuple[float, ...]:
    lightness, a, b = values
    return _number(lightness), _number(a), _number(b)


def _number(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError("a colour that is no number")
    return number
