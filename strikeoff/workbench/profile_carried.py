"""What a profile tells of the house that made it, beside colours."""

from __future__ import annotations

from typing import Any

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.icc.inspect import table_inks
from strikeoff.icc.profile import Profile, read_profile
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.tables import to_codes

_READINGS = "targ"


def carried_inks(data: bytes) -> tuple[dict[str, Any] | None, list[Problem]]:
    """Return what a profile's metadata tell of inks, curves and total; None without, or where it is damaged.

    Parameters
    ----------
    data : bytes
        A profile that can be read.

    Returns
    -------
    carried : dict or None
        Values that JSON can hold.
    problems : list of Problem
        Where the entry is damaged or not of these inks.
    """
    profile = read_profile(data)
    if profile.header.device_class != "prtr" or "meta" not in profile.tags:
        return None, []
    from strikeoff.qualify.profile_facts import read_facts

    facts, problems = read_facts(profile)
    if facts is None:
        return None, problems
    spaces = facts.spaces
    found = {
        "inks": [{"name": ink.name, "role": ink.role, "light_of": ink.light_of} for ink in spaces.inks],
        "channels": list(spaces.channels),
        "process_inks": list(facts.process_inks),
        "tone_aim": spaces.aim,
        "curves_digest": spaces.curves_digest,
        "total_percent": round(100.0 * spaces.total, 3),
        "total_ml_m2": None if spaces.total_ml_m2 is None else round(spaces.total_ml_m2, 3),
        "most_in_tables_percent": _most(spaces, profile),
    }
    return found, problems


def carried_lines(found: dict[str, Any]) -> list[str]:
    """Return what results of an inspection tell of the house, in words."""
    carried = found["carried_inks"]
    has_readings = any(tag["name"] == _READINGS for tag in found["tags"])
    lines = []
    if carried is not None:
        volume = "" if carried["total_ml_m2"] is None else f" or {carried['total_ml_m2']:.2f} ml/m2"
        lines += [
            "carries its inks: " + ", ".join(_ink_words(ink) for ink in carried["inks"]),
            f"  tone curves: {carried['tone_aim']}, {carried['curves_digest'][:19]}",
            f"  total ink limit {carried['total_percent']:.4g} %{volume} laid down",
        ]
        if carried["most_in_tables_percent"] is not None:
            lines[-1] += f"; its tables lay down at most {carried['most_in_tables_percent']:.1f} %"
    if has_readings:
        lines.append("carries the readings that it was made from" + (", too" if carried else ""))
    return lines


def _ink_words(ink: dict[str, Any]) -> str:
    if ink["light_of"] is not None:
        return f"{ink['name']} (light of {ink['light_of']})"
    return str(ink["name"]) if ink["role"] == "process" else f"{ink['name']} ({ink['role']})"


def _most(spaces: InkSpaces, profile: Profile) -> float | None:
    """Return the most that tables to inks lay down [%], None without one or where they cannot be read."""
    try:
        tables = list(table_inks(profile).values())
        if not tables or any(table.shape[1] != len(spaces.channels) for table in tables):
            return None
        codes = to_codes(np.concatenate(tables))
    except InputError:  # whoever looks into the tables themselves tells it
        return None
    return round(100.0 * float(spaces.load(spaces.to_laid_down(codes)).max()), 2)
