"""The goods that a condition holds for: press, inks and lots, cloth and lot, finishing, last day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date, timedelta
from typing import Any

#: Classes of ink, by what fixes them.
INK_CLASSES = (
    "acid",
    "disperse",
    "latex",
    "pigment",
    "reactive",
    "solvent",
    "uv",
    "vat",
    "other",
)

#: Steps of finishing.
PROCESSES = (
    "calender",
    "conditioning",
    "curing",
    "drying",
    "heat setting",
    "steaming",
    "stenter",
    "transfer",
    "uv",
    "washing",
    "other",
)

#: Whether an optical brightener is in the cloth.
BRIGHTENER = ("yes", "no", "unknown")


@dataclass(frozen=True)
class Press:
    """The printer: what people call it, and the widest cloth it takes. [mm]."""

    name: str | None = None
    width_mm: float | None = None


@dataclass(frozen=True)
class InkSet:
    """All inks together: what people call them, and their class, of `INK_CLASSES`."""

    name: str | None = None
    ink_class: str | None = None


@dataclass(frozen=True)
class InkLot:
    """One ink by its short name: in full, and the lot that was in the head."""

    name: str
    full_name: str | None = None
    lot: str | None = None


@dataclass(frozen=True)
class Cloth:
    """The cloth as it was printed.

    Attributes
    ----------
    name, lot, composition, colour, pretreatment : str, optional
        In the words of the house.
    mass_g_m2 : float, optional
        Mass per area. [g/m2]
    optical_brightener : {"yes", "no", "unknown"}, optional
        Whether there is one in it.
    """

    name: str | None = None
    lot: str | None = None
    composition: str | None = None
    mass_g_m2: float | None = None
    colour: str | None = None
    pretreatment: str | None = None
    optical_brightener: str | None = None


@dataclass(frozen=True)
class Step:
    """One step of finishing.

    Attributes
    ----------
    process : str
        Of `PROCESSES`; what ``other`` is stands in the note.
    temperature_c : float, optional
        Of the machine. [degree Celsius]
    minutes, seconds : float, optional
        How long, one of the two. [min], [s]
    machine, note : str, optional
        Which machine; anything else.
    """

    process: str
    temperature_c: float | None = None
    minutes: float | None = None
    seconds: float | None = None
    machine: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class Change:
    """Dimensional change in one direction, finished over file, shrinkage negative (ISO 5077).

    Attributes
    ----------
    change_percent : float
        Mean. [%]
    specimen_sd_percent, lot_sd_percent : float, optional
        Spread between specimens of a lot, and between lots. [%]
    interval_90_percent : tuple of float, optional
        Where 90 % of new specimens will lie. [%]
    specimens, lots : int, optional
        How many were measured.
    """

    change_percent: float
    specimen_sd_percent: float | None = None
    lot_sd_percent: float | None = None
    interval_90_percent: tuple[float, float] | None = None
    specimens: int | None = None
    lots: int | None = None


@dataclass(frozen=True)
class Finishing:
    """All that happens to the cloth after printing, and what it does to lengths.

    Attributes
    ----------
    steps : tuple of Step
        In their order.
    warp, weft : Change, optional
        Along and across.
    evidence : str, optional
        Digest of the document of ``finishing measure`` that the changes come from.
    """

    steps: tuple[Step, ...] = ()
    warp: Change | None = None
    weft: Change | None = None
    evidence: str | None = None


@dataclass(frozen=True)
class Validity:
    """Until when: a last day, or a first day and a number of days.

    Attributes
    ----------
    until : date, optional
        Last day on which it holds.
    start : date, optional
        First day, ``from`` in files.
    days : int, optional
        Days from the first one, that one not counted.
    """

    until: date | None = None
    start: date | None = None
    days: int | None = None

    @property
    def last_day(self) -> date | None:
        """Last day on which it holds.

        Examples
        --------
        >>> Validity(start=date(2031, 3, 1), days=30).last_day.isoformat()
        '2031-03-31'
        """
        if self.start is not None and self.days is not None:
            return self.start + timedelta(self.days)
        return self.until


@dataclass(frozen=True)
class Goods:
    """What a condition holds for; what is not recorded is None or empty.

    Attributes
    ----------
    press : Press
        The printer.
    ink_set : InkSet
        All inks together.
    inks : tuple of InkLot
        Inks of which more than the short name is recorded, in the order of the heads.
    cloth : Cloth
        The cloth.
    finishing : Finishing
        What happens to it after printing.
    validity : Validity
        Until when.
    """

    press: Press = Press()
    ink_set: InkSet = InkSet()
    inks: tuple[InkLot, ...] = ()
    cloth: Cloth = Cloth()
    finishing: Finishing = Finishing()
    validity: Validity = Validity()

    @property
    def is_recorded(self) -> bool:
        """Whether anything is."""
        return self != NO_GOODS

    @property
    def valid_until(self) -> date | None:
        """Last day on which it holds; None where no day is recorded."""
        return self.validity.last_day

    def over(self, other: Goods) -> Goods:
        """Return what this records, table by table, and for the tables that it lacks what another does."""
        plain = NO_GOODS
        own = {f.name: getattr(self, f.name) for f in fields(Goods)}
        return Goods(
            **{
                name: value if value != getattr(plain, name) else getattr(other, name)
                for name, value in own.items()
            }
        )

    def not_recorded(self, inks: Sequence[str]) -> tuple[str, ...]:
        """Return what an auditor asks for and nobody recorded, in words; inks are those in the heads."""
        known = {ink.name for ink in self.inks if ink.lot}
        lacking = [name for name in inks if name not in known]
        lots = "ink lots" if not known else f"lots of ink {', '.join(lacking)}"
        stated = {
            "printer": self.press.name,
            "ink class": self.ink_set.ink_class,
            lots: not lacking,
            "cloth": self.cloth.name,
            "cloth lot": self.cloth.lot,
            "pre-treatment": self.cloth.pretreatment,
            "finishing": self.finishing.steps,
            "dimensional change": self.finishing.warp or self.finishing.weft,
            "valid until": self.valid_until,
        }
        return tuple(name for name, value in stated.items() if not value)

    def as_record(self) -> dict[str, Any]:
        """Return the tables as they stand in files, as plain values; what is not recorded is left out."""
        tables = {
            "press": _plain(self.press),
            "ink_set": _plain(self.ink_set),
            "ink": [_plain(ink) for ink in self.inks],
            "cloth": _plain(self.cloth),
            "finishing": _plain(self.finishing),
            "validity": _plain(self.validity),
        }
        return {name: table for name, table in tables.items() if table}


#: Nothing is recorded.
NO_GOODS = Goods()

#: Names of fields that files call otherwise, because Python or English needs it.
IN_FILES = {"ink_class": "class", "start": "from", "steps": "step"}


def _plain(record: Any) -> dict[str, Any]:
    """Return the fields that are recorded, under the names and as the values that files have."""
    return _without_nothing(asdict(record))


def _without_nothing(values: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in values.items():
        if value is None or value == ():
            continue
        if isinstance(value, dict):
            value = _without_nothing(value)
        elif isinstance(value, date):
            value = value.isoformat()
        elif isinstance(value, Sequence) and not isinstance(value, str):
            value = [_without_nothing(v) if isinstance(v, dict) else v for v in value]
        found[IN_FILES.get(name, name)] = value
    return found
