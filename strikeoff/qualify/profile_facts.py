"""What a press's tables cannot say, carried in its profile: inks, roles, tone curves and total.

A profile's tables hold calibrated ink. What the heads lay down for it, which inks print by name only and how
much the cloth holds stand in none of the tags for colour; without them the amounts could only be added up.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.condition.ink_space import CURVES_DIGEST, inks_by_name_only
from strikeoff.icc.header import channels
from strikeoff.icc.profile import Profile
from strikeoff.icc.tags.dictionary import Dictionary
from strikeoff.icc.tags.text import Text
from strikeoff.inks.spaces import IDENTITY, InkSpaces, spaces_from_record

#: Name of the entry in the metadata tag.
ENTRY = "strikeoff.inks"

_MOST_CHARACTERS = 4 << 20
_THROUGH_CURVES = re.compile(rf'^{CURVES_DIGEST}[ \t]+"?([^"\s]+)', re.MULTILINE)


@dataclass(frozen=True)
class ProfileFacts:
    """What a profile tells of its press beside colours.

    Attributes
    ----------
    spaces : InkSpaces
        Inks, curves and total that its amounts are printed through.
    process_inks : tuple of str
        White, clear, fluorescent or metallic inks that colours are separated into nevertheless.
    """

    spaces: InkSpaces
    process_inks: tuple[str, ...] = ()


def facts_metadata(spaces: InkSpaces, process_inks: Sequence[str] = ()) -> dict[str, str]:
    """Return the entry of the metadata tag, the same text for the same inks."""
    record = {"process_inks": list(process_inks), "spaces": spaces.as_record()}
    return {ENTRY: json.dumps(record, sort_keys=True, separators=(",", ":"), allow_nan=False)}


def read_facts(profile: Profile) -> tuple[ProfileFacts | None, list[Problem]]:
    """Return what a profile carries about its inks, None where there is nothing of use, and a warning then.

    Parameters
    ----------
    profile : Profile
        Output profile for inks.

    Returns
    -------
    facts : ProfileFacts or None
    problems : list of Problem
        Where the entry is damaged or not of these inks.
    """
    try:
        return _facts(profile), []
    except InputError as error:
        return None, [
            Problem(
                "warning",
                f"tag meta, entry {ENTRY}",
                "what the profile tells of its inks cannot be used, so only its tables count",
                "; ".join(str(part) for part in (error.message, error.where, error.found) if part),
                "names, roles, curves and total as they were written",
                "Get the profile again from whoever made it, or build the condition from readings",
            )
        ]


def read_through_curves(profile: Profile) -> bool:
    """Return whether the readings inside a profile say that its amounts go through tone curves."""
    if "targ" not in profile.tags:
        return False
    try:
        record = profile.decode("targ")
    except InputError:
        return False
    stated = _THROUGH_CURVES.search(record.text) if isinstance(record, Text) else None
    return stated is not None and stated[1] != IDENTITY


def _facts(profile: Profile) -> ProfileFacts | None:
    if "meta" not in profile.tags or profile.tags["meta"][:4] != b"dict":
        return None
    record = profile.decode("meta")
    text = dict(record.entries).get(ENTRY) if isinstance(record, Dictionary) else None
    if text is None:
        return None
    if len(text) > _MOST_CHARACTERS:
        raise InputError("too long", found=f"{len(text)} characters", expected=f"at most {_MOST_CHARACTERS}")
    try:
        told = json.loads(text)
        spaces = spaces_from_record(told["spaces"])
        process_inks = tuple(map(str, told["process_inks"]))
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        raise InputError("damaged", found=str(error)[:80]) from error
    count = channels(profile.header.colour_space.strip())
    if len(spaces.channels) != count:
        raise InputError("of other inks", found=f"{len(spaces.channels)} inks", expected=count)
    if strangers := set(process_inks) - set(inks_by_name_only(spaces)):
        raise InputError("of other inks", found=", ".join(sorted(strangers))[:80])
    return ProfileFacts(spaces, process_inks)
