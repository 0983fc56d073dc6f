"""Readings that registry packages carry, and conditions made from them once a run."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from strikeoff.base.errors import StorageError
from strikeoff.condition.record import Condition
from strikeoff.measurement.embedded import measured_cmyk_text, targ_text
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.qualify.build import build_condition
from strikeoff.qualify.profiles import build_profiles

_SMOOTHED = Path("/usr/share/scribus/profiles/ISOcoated_v2_300_bas.icc")


@dataclass(frozen=True)
class Case:
    """One set of readings, its condition and how long that took."""

    name: str
    recipes: np.ndarray
    condition: Condition
    seconds: dict[str, float]


def cases() -> list[Case]:
    """Return the sets that this machine has."""
    files = {}
    try:
        files["measured"] = measured_cmyk_text().encode("latin-1")
    except StorageError as error:
        print(f"left out: {error}")
    if _SMOOTHED.is_file():
        files["smoothed data"] = targ_text(_SMOOTHED.read_bytes()).encode("latin-1")
    else:
        print(f"left out: {_SMOOTHED} is absent")
    return [_case(name, data) for name, data in files.items()]


def _case(name: str, data: bytes) -> Case:
    readings = parse_readings(data, source=name)[0]
    start = time.perf_counter()
    condition = build_condition(readings, data, name=name, label=name, total_ink=3.0)
    middle = time.perf_counter()
    condition = replace(condition, profiles=build_profiles(condition))
    end = time.perf_counter()
    seconds = {"validate, fit, invert": middle - start, "profiles": end - middle}
    return Case(name, merge_repeats(readings).coverages, condition, seconds)
