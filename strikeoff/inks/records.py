"""Physical inks and the screen that puts them down."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args

from strikeoff.base.errors import InputError
from strikeoff.inks.roles import process_role, special_role

Role = Literal["process", "light", "extra", "fluorescent", "white", "clear", "metallic"]

_MOST_LEVELS = 16


@dataclass(frozen=True)
class Ink:
    """An ink in a head.

    Attributes
    ----------
    name : str
        What it is called.
    role : {"process", "light", "extra", "fluorescent", "white", "clear", "metallic"}
        What it is for; a light ink is the pale one of another.
    light_of : str, optional
        Name of the ink that a light ink is the pale one of.
    limit : float
        Most of it, 0-1 of its full tone. [-]
    drop_pl : tuple of float
        Volume of a drop of each level, rising; empty where nobody said. [pL]
    weight : float
        Weight of its volume in the total, 0 for an ink that does not count. [-]
    solid_lab : tuple of float, optional
        L*, a*, b* of its solid.
    """

    name: str
    role: Role = "process"
    light_of: str | None = None
    limit: float = 1.0
    drop_pl: tuple[float, ...] = ()
    weight: float = 1.0
    solid_lab: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        where = f"ink {self.name}"
        if not self.name.strip():
            raise InputError("an ink has no name")
        if self.role not in get_args(Role):
            raise InputError("unknown role", where=where, found=self.role, expected=", ".join(get_args(Role)))
        if (self.role == "light") != (self.light_of is not None):
            raise InputError(
                "a light ink names the ink that it is the pale one of, and no other ink does",
                where=where,
                found=f"role {self.role}, light_of {self.light_of}",
            )
        if not 0 < self.limit <= 1:
            raise InputError("ink limit is out of range", where=where, found=self.limit, expected="0 to 1")
        if not (math.isfinite(self.weight) and 0 <= self.weight <= 100):
            raise InputError("weight is out of range", where=where, found=self.weight, expected="0 to 100")
        volumes = self.drop_pl
        rising = all(0 < a < b for a, b in zip((1e-9, *volumes), (*volumes, 1e4), strict=True))
        if len(volumes) >= _MOST_LEVELS or not rising:
            raise InputError(
                "drop volumes must rise", where=where, found=volumes, expected="1 to 15 volumes [pL]"
            )

    @property
    def levels(self) -> int:
        """Drop levels without the empty one; 1 where no volumes are known."""
        return max(1, len(self.drop_pl))

    @property
    def channel(self) -> str:
        """Calibrated ink that this ink is laid down for."""
        return self.light_of or self.name

    @property
    def is_named(self) -> bool:
        """Whether the guard spares it as long as process inks can give way."""
        return self.role not in ("process", "light")


def ink_from_record(record: Mapping[str, Any]) -> Ink:
    """Return an ink from plain values; lists become tuples."""
    lab = record.get("solid_lab")
    solid = None if lab is None else (float(lab[0]), float(lab[1]), float(lab[2]))
    volumes = tuple(float(v) for v in record.get("drop_pl", ()))
    return Ink(**{**record, "drop_pl": volumes, "solid_lab": solid})


@dataclass(frozen=True)
class Screen:
    """How drops are put down; changing any of it asks for new tone curves.

    Attributes
    ----------
    dpi_x, dpi_y : float
        Addressability across and along. [dots per inch]
    method : str
        Screening method.
    passes : int
        Passes of the carriage over one place.
    direction : {"both ways", "one way"}
        Whether the carriage prints on its way back.
    """

    dpi_x: float
    dpi_y: float
    method: str = "blue noise"
    passes: int = 1
    direction: Literal["both ways", "one way"] = "both ways"

    def __post_init__(self) -> None:
        if not all(10 <= dpi <= 10_000 for dpi in (self.dpi_x, self.dpi_y)):
            raise InputError(
                "addressability is out of range",
                where="screen",
                found=f"{self.dpi_x} x {self.dpi_y}",
                expected="10 to 10000 dpi",
            )
        if not 1 <= self.passes <= 128:
            raise InputError(
                "passes are out of range", where="screen", found=self.passes, expected="1 to 128"
            )
        if self.direction not in ("both ways", "one way"):
            raise InputError(
                "unknown direction", where="screen", found=self.direction, expected="both ways, one way"
            )

    def changes(self, other: Screen) -> tuple[str, ...]:
        """Return what differs from the screen before, one text each.

        Examples
        --------
        >>> Screen(600, 600, passes=8).changes(Screen(600, 600, passes=4))
        ('passes 8, was 4',)
        """
        names = ("method", "dpi_x", "dpi_y", "passes", "direction")
        pairs = [(name, getattr(self, name), getattr(other, name)) for name in names]
        return tuple(f"{name} {new}, was {old}" for name, new, old in pairs if old != new)


def plain_inks(names: Sequence[str]) -> tuple[Ink, ...]:
    """Return inks of which only the names are known: C, M, Y and K are process inks, others extra.

    White, clear, fluorescent and metallic inks are known by their names. Inks that are only numbered
    count as process inks, for nobody has named them.

    Examples
    --------
    >>> [ink.role for ink in plain_inks(["C", "K", "Orange", "White", "7"])]
    ['process', 'process', 'extra', 'white', 'process']
    """
    numbered = [len(name) < 3 and not name.isalpha() for name in names]
    return tuple(
        Ink(name, "process" if number or process_role(name) else cast(Role, special_role(name) or "extra"))
        for name, number in zip(names, numbered, strict=True)
    )
