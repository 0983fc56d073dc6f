"""Pseudo-readings of a press that is known by its ICC profile alone.

They are what the profile says, not what was printed: a condition made of them has no error figures.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.condition.ink_space import calibrated_limits, ink_space_keywords
from strikeoff.icc.colorants import read_colorants
from strikeoff.icc.evaluate import device_to_lab
from strikeoff.icc.header import channels
from strikeoff.icc.profile import Profile, read_profile
from strikeoff.inks.roles import ink_names_text
from strikeoff.inks.spaces import identity_spaces
from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.records import ReadingSet, Setup
from strikeoff.model.limits import InkLimits
from strikeoff.qualify.profile_facts import ProfileFacts, read_facts
from strikeoff.qualify.profile_total import profile_total

FloatArray = NDArray[np.float64]

_MAX_INKS = 12
_RAMP = 11
_CORNER_INKS = 7
_FILL = 900
_COUNTED = re.compile(r"\s*|(?:Ink )?\d+")


@dataclass(frozen=True)
class FromProfile:
    """What stands in for readings of a press that is known by its profile alone.

    Attributes
    ----------
    readings : bytes
        Pseudo-readings, ISO 28178.
    total : float
        Total ink limit, laid down as far as the profile tells curves, 3.0 is 300 %. [-]
    facts : ProfileFacts or None
        What the profile carries about its inks.
    problems : tuple of Problem
        Where the limit comes from, and what could not be used.
    """

    readings: bytes
    total: float
    facts: ProfileFacts | None
    problems: tuple[Problem, ...]


def profile_readings(data: bytes, name: str, total_ink: float | None = None) -> FromProfile:
    """Return pseudo-readings of a profile, its total ink limit and what else it tells.

    Absolute Lab under D50 at ramps, overprints of solids and scattered recipes under the limit of
    `profile_total`.

    Parameters
    ----------
    data : bytes
        Output profile for CMYK or 2CLR to CCLR.
    name : str
        What it is called.
    total_ink : float, optional
        Total ink limit in place of what the profile uses or tells, 3.0 is 300 %.

    Raises
    ------
    InputError
        When it is no output profile for inks, or its tables cannot be read.
    """
    profile = read_profile(data)
    space = profile.header.colour_space.strip()
    if profile.header.device_class != "prtr" or not (space == "CMYK" or space.endswith("CLR")):
        raise InputError(
            "not a profile of a press",
            found=f"{profile.header.device_class}, {space}",
            expected="an output profile for CMYK or 2CLR to CCLR",
        )
    count = channels(space)
    if count > _MAX_INKS:
        raise InputError("too many inks", found=count, expected=f"2 to {_MAX_INKS}")
    facts, problems = read_facts(profile)
    total, told = profile_total(profile, count, total_ink, facts)
    columns = (
        [f"CMYK_{c}" for c in "CMYK"] if space == "CMYK" else [f"{count}CLR_{k + 1}" for k in range(count)]
    )
    spaces = identity_spaces(columns, total) if facts is None else replace(facts.spaces, total=total)
    inks = _recipes(calibrated_limits(spaces))
    readings = ReadingSet(
        sample_ids=tuple(str(number + 1) for number in range(len(inks))),
        ink_columns=tuple(columns),
        coverages=inks,
        lab=_colours(profile, inks),
        setup=Setup(illuminant="D50", observer="2"),
        source=name,
    )
    header = {
        "ORIGINATOR": "strikeoff",
        "DESCRIPTOR": "colours computed from a profile, not read from prints",
        "DATA_SOURCE": f"ICC profile {name}, absolute colorimetric",
    }
    names = _ink_names(profile) if facts is None else facts.spaces.channels
    if names:
        header["INK_NAMES"] = ink_names_text(names)
    if facts is not None:
        header |= ink_space_keywords(facts.spaces)
    text = format_iso28178(readings, header=header, digits=8).encode()
    return FromProfile(text, total, facts, (*problems, told))


def _ink_names(profile: Profile) -> tuple[str, ...]:
    """Return the names of the inks that a usable colorant table tells; none where it only counts them."""
    try:
        names = [name for name, _ in read_colorants(profile)]
    except InputError:
        return ()
    told = [name for name in names if not _COUNTED.fullmatch(name)]
    return tuple(names) if len(told) == len(names) else ()


def _colours(profile: Profile, inks: FloatArray) -> FloatArray:
    lab = device_to_lab(profile, inks, "absolute")
    lab[:, 0] = np.clip(lab[:, 0], 0.0, 100.0)
    return lab


def _recipes(limits: InkLimits) -> FloatArray:
    """Return bare cloth, ramps of each ink, overprints of solids and scattered recipes, none twice."""
    count = len(limits.per_ink)
    ramps = [np.eye(count)[k] * level for k in range(count) for level in np.linspace(0.0, 1.0, _RAMP)]
    parts = [np.array(ramps)]
    if count <= _CORNER_INKS:
        parts.append(np.array(list(product((0.0, 1.0), repeat=count))))
    rng = np.random.default_rng(21)
    scattered = rng.random((_FILL, count)) * (rng.random((_FILL, count)) < 0.7)
    parts.append(scattered)
    inks = np.concatenate(parts)
    # A little beyond the limit, so that nothing under it is extrapolated.
    over = np.maximum(limits.sums(inks) / (limits.total * 1.05), 1.0)
    return np.unique(np.round(inks / over[:, None], 6), axis=0)
