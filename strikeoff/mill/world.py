"""The invented printers, inks and fabrics, read from ``world.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from strikeoff.base.errors import UsageError

#: What every figure and record of the mill is labelled with.
LABEL = "simulated, not yet shown on cloth"


@dataclass(frozen=True)
class InkTruth:
    """Hidden truth of an ink: absorption K/S at full tone and its tone curve; see ``world.toml``."""

    name: str
    floor: float
    peaks: tuple[tuple[float, float, float], ...]
    tone: float
    fill: float


@dataclass(frozen=True)
class Printer:
    """An invented printer.

    ``drop_pl`` is the drop volume [pL], ``wash_loss_percent`` dye that washing takes [%],
    ``uptake_loss`` how far ink keeps later ink out, ``surface`` reflectance that never meets ink,
    ``strength`` a factor on all absorptions. [-]
    """

    name: str
    site: str
    chemistry: str
    inks: tuple[str, ...]
    dpi: tuple[float, float]
    drop_pl: float
    width_mm: float
    fixation: str
    wash_loss_percent: float
    uptake_loss: float
    surface: float
    strength: float


@dataclass(frozen=True)
class Fabric:
    """An invented fabric.

    ``change_percent`` is the dimensional change (warp, weft), shrinkage negative as in ISO 5077, and
    ``change_sd_percent`` its spread between lots [%]; ``noise`` is the scatter of one reading in L*
    near L* 60; ``white`` the reflectance at 400, 450, 550 and 700 nm. [-]
    """

    name: str
    mass_g_m2: float
    change_percent: tuple[float, float]
    change_sd_percent: tuple[float, float]
    noise: float
    white: tuple[float, ...]
    white_db_sd: float


def printer(name: str) -> Printer:
    """Return a printer by name.

    Raises
    ------
    UsageError
        For an unknown one, with the names that there are.

    Examples
    --------
    >>> printer("O2").dpi
    (540, 720)
    """
    entry = dict(_entry("printers", name))
    entry["inks"], entry["dpi"] = tuple(entry["inks"]), tuple(entry["dpi"])
    return Printer(name=name, **entry)


def fabric(name: str) -> Fabric:
    """Return a fabric by name; raises UsageError for an unknown one.

    Examples
    --------
    >>> fabric("cotton satin").change_percent
    (-5.5, -3.0)
    """
    entry = _entry("fabrics", name)
    return Fabric(
        name=name,
        mass_g_m2=entry["mass_g_m2"],
        change_percent=(entry["change"][0], entry["change"][1]),
        change_sd_percent=(entry["change_sd"][0], entry["change_sd"][1]),
        noise=entry["noise"],
        white=tuple(entry["white"]),
        white_db_sd=entry["white_db_sd"],
    )


def ink_truth(letter: str) -> InkTruth:
    """Return an ink's hidden truth by its letter; raises UsageError for an unknown one."""
    entry = _entry("inks", letter)
    return InkTruth(
        name=entry["name"],
        floor=entry["floor"],
        peaks=tuple((p[0], p[1], p[2]) for p in entry["peaks"]),
        tone=entry["tone"],
        fill=entry["fill"],
    )


def names(table: str) -> tuple[str, ...]:
    """Return the names in ``printers``, ``fabrics`` or ``inks``."""
    return tuple(_world()[table])


@cache
def _world() -> dict[str, Any]:
    text = resources.files("strikeoff.mill").joinpath("world.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _entry(table: str, name: str) -> Mapping[str, Any]:
    entries: dict[str, Mapping[str, Any]] = _world()[table]
    if name not in entries:
        raise UsageError(
            f"the mill has no such name among its {table}", found=name, expected=", ".join(entries)
        )
    return entries[name]
