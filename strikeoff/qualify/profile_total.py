"""The total ink limit of a press that is known by its ICC profile alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from strikeoff.base.errors import StrikeoffError
from strikeoff.base.problems import Problem
from strikeoff.icc.inspect import table_inks
from strikeoff.icc.profile import Profile
from strikeoff.inks.roles import special_role

#: Total ink above which cloth seldom takes it, and that is taken where none is found; common practice, no
#: source. [-]
MOST_USUAL = 3.0
# Part of a table's nodes that must hold as much ink, so that single odd nodes set no limit.
_NODES = 1 / 2000
# Tables round inks to their codes.
_ROUNDED = 0.005
_LEAST_LIMIT = 0.5
_WARN_ADVICE = "Give the press's own limit with --total-ink, found on a chart of combinations"


def profile_total(profile: Profile, inks: int, wished: float | None = None) -> tuple[float, Problem]:
    """Return the total ink limit of a profile's press, every ink counted alike, and where it comes from.

    Parameters
    ----------
    profile : Profile
        Output profile for inks.
    inks : int
        Their number.
    wished : float, optional
        Limit that a person gives, 3.0 is 300 %; all inks in full at most.

    Returns
    -------
    total : float
        What was wished for, else the largest that the tables to inks use, of all intents. [-]
    told : Problem
        Its source: a note, or a warning where it is larger than cloth usually takes or was not found.
    """
    used = _used(profile)
    words = ", ".join(f"{100 * total:.4g} % in {name}" for name, total in used.items())
    most = max(used.values(), default=None)
    if wished is not None:
        # More than all inks in full binds nothing.
        wished = min(wished, float(inks))
        return wished, _given(wished, most, words)
    if most is None or most < _LEAST_LIMIT:
        total = min(float(inks), MOST_USUAL)
        return total, Problem(
            "warning",
            "total ink",
            "the profile tells of no limit, so a usual one is taken",
            f"{words or 'no tables to inks that can be read'}; {100 * total:.4g} % taken",
            "tables B2A that use a total ink",
            _WARN_ADVICE,
        )
    total = min(most, float(inks))
    if total <= MOST_USUAL + _ROUNDED:
        return total, Problem(
            "note",
            "total ink",
            "the limit is the largest total that the profile's tables to inks use, every ink counted alike",
            words,
        )
    return total, Problem(
        "warning",
        "total ink",
        "the profile's tables to inks use more ink than cloth usually takes, and that is the limit now; a "
        "profile counts light inks and small drops like full ones",
        words,
        f"at most {100 * MOST_USUAL:.0f} %",
        _WARN_ADVICE,
    )


def inks_never_used(profile: Profile, names: Sequence[str]) -> list[Problem]:
    """Return a warning for each ink that no table to inks of a profile uses, since recipes here will.

    Parameters
    ----------
    profile : Profile
        Output profile for inks.
    names : sequence of str
        Their names.

    Returns
    -------
    list of Problem
        None where no table can be read.
    """
    try:
        tables = list(table_inks(profile).values())
    except StrikeoffError:
        return []
    if not tables or any(table.shape[-1] != len(names) for table in tables):
        return []
    most = np.max([table.reshape(-1, len(names)).max(axis=0) for table in tables], axis=0)
    return [
        Problem(
            "warning",
            f"ink {name}",
            "the profile's tables to inks never use it, and the condition separates colours into it",
            expected="a white, clear, fluorescent or metallic ink by its name, which prints by name only",
            advice="Build the condition from readings with the press's file, where its role is told",
        )
        for name, used in zip(names, most, strict=True)
        if used <= _ROUNDED and special_role(name) is None
    ]


def _given(wished: float, most: float | None, words: str) -> Problem:
    if most is not None and wished > most + _ROUNDED:
        return Problem(
            "warning",
            "total ink",
            "the limit given is above what the profile's tables to inks use",
            f"{100 * wished:.4g} % given; {words}",
            f"at most {100 * most:.4g} %",
            "Be sure that the cloth takes it",
        )
    return Problem(
        "note",
        "total ink",
        "the limit was given, every ink counted alike",
        f"{100 * wished:.4g} %; the profile's tables to inks use {words or 'none that can be read'}",
    )


def _used(profile: Profile) -> dict[str, float]:
    """Return the largest total of each table to inks, leaving out single odd nodes; none if unreadable."""
    try:
        tables = table_inks(profile)
    except StrikeoffError:
        return {}
    found = {}
    for name, inks in tables.items():
        sums = np.sort(inks.sum(axis=-1))
        found[name] = float(sums[-max(1, round(_NODES * len(sums)))])
    return found
