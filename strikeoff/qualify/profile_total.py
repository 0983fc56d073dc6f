"""The total ink limit of a press that is known by its ICC profile alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from strikeoff.base.errors import StrikeoffError
from strikeoff.base.problems import Problem
from strikeoff.condition.ink_space import inks_by_name_only
from strikeoff.icc.inspect import table_inks
from strikeoff.icc.profile import Profile
from strikeoff.inks.roles import special_role
from strikeoff.qualify.profile_facts import ProfileFacts, read_through_curves

#: Total ink above which cloth seldom takes it, and that is taken where none is found; common practice, no
#: source. [-]
MOST_USUAL = 3.0
# Part of a table's nodes that must hold as much ink, so that single odd nodes set no limit.
_NODES = 1 / 2000
# Tables round inks to their codes.
_ROUNDED = 0.005
_LEAST_LIMIT = 0.5
_WARN_ADVICE = "Give the press's own limit with --total-ink, found on a chart of combinations"


def profile_total(
    profile: Profile, inks: int, wished: float | None = None, facts: ProfileFacts | None = None
) -> tuple[float, Problem]:
    """Return the total ink limit of a profile's press and where it comes from.

    Every ink counts alike, unless the profile carries what its inks lay down.

    Parameters
    ----------
    profile : Profile
        Output profile for inks.
    inks : int
        Their number.
    wished : float, optional
        Limit that a person gives, 3.0 is 300 %; all inks in full at most.
    facts : ProfileFacts, optional
        What the profile carries about its inks.

    Returns
    -------
    total : float
        What was wished for, else what the profile tells, else the largest that its tables to inks use, of all
        intents. [-]
    told : Problem
        Its source: a note, or a warning where it is larger than cloth usually takes or was not found.
    """
    used = _used(profile)
    words = ", ".join(f"{100 * total:.4g} % in {name}" for name, total in used.items())
    if facts is not None:
        return _carried(facts, wished, words)
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
    if read_through_curves(profile):
        return total, Problem(
            "warning",
            "total ink",
            "the profile's amounts go through tone curves that it does not carry: the limit is the largest "
            "sum of amounts in its tables to inks, and what the heads lay down for it is not known",
            words,
            "a profile that carries its curves",
            "Write the profile again from its condition, or build a condition from readings and curves",
        )
    if total <= MOST_USUAL + _ROUNDED:
        return total, Problem(
            "note",
            "total ink",
            "the limit is the largest total that the profile's tables to inks use, every ink counted alike; "
            "what the press lays down for these amounts no table tells",
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


def inks_never_used(
    profile: Profile, names: Sequence[str], facts: ProfileFacts | None = None
) -> list[Problem]:
    """Return a warning for each ink that no table to inks of a profile uses, since recipes here will.

    Parameters
    ----------
    profile : Profile
        Output profile for inks.
    names : sequence of str
        Their names.
    facts : ProfileFacts, optional
        What the profile carries about them; those that it tells to print by name only are left out.

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
    by_name = () if facts is None else inks_by_name_only(facts.spaces, facts.process_inks)
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
        if used <= _ROUNDED and special_role(name) is None and name not in by_name
    ]


def _carried(facts: ProfileFacts, wished: float | None, words: str) -> tuple[float, Problem]:
    """Return the limit that a profile carries, or the one wished for, and where it comes from."""
    own, tables = facts.spaces.total, f"of calibrated ink {words or 'no table that can be read'}"
    told = f"{100 * own:.4g} %; {tables}"
    if wished is None:
        return own, Problem(
            "note",
            "total ink",
            "the limit is the one that the profile carries with its tone curves, in ink laid down",
            told,
        )
    wished = min(wished, float(facts.spaces.loads.sum()))
    if wished > own + _ROUNDED:
        return wished, Problem(
            "warning",
            "total ink",
            "the limit given is above the one that the profile carries, in ink laid down",
            f"{100 * wished:.4g} % given",
            f"at most {100 * own:.4g} %",
            "Be sure that the cloth takes it",
        )
    return wished, Problem(
        "note",
        "total ink",
        "the limit was given, in ink laid down",
        f"{100 * wished:.4g} %; the profile carries {told}",
    )


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
