"""Rendering intents by class of object: pictures, line work and type each through a link of their own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from strikeoff.artwork.colour import profile_to_lab
from strikeoff.artwork.records import CLASSES, Artwork
from strikeoff.base.errors import UsageError
from strikeoff.base.progress import Progress
from strikeoff.condition.links import artwork_table
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import INTENTS
from strikeoff.icc.evaluate import media_white
from strikeoff.icc.profile import read_profile
from strikeoff.raster.tables import InkTable
from strikeoff.separation.by_class import ClassTables, class_shares

#: Classes that print, in the order in which they are told.
OBJECTS = ("images", "graphics", "text")


@dataclass(frozen=True)
class ClassLinks:
    """Intents and links of an artwork's classes.

    Attributes
    ----------
    intents : dict of str to str
        Class to intent; ``images`` alone for files that tell no classes.
    tables : dict of str to InkTable
        Class to link; one object for classes of one intent.
    by_class : ClassTables or None
        What to separate with, when the intents differ.
    """

    intents: dict[str, str]
    tables: dict[str, InkTable]
    by_class: ClassTables | None

    def facts(self) -> dict[str, dict[str, Any]]:
        """Return intent, link and share of each class; no shares where they were not told apart."""
        shares = {} if self.by_class is None else class_shares(self.by_class.classes, CLASSES)
        return {
            name: {
                "intent": intent,
                "link": self.tables[name].digest,
                "share": round(shares[name], 6) if shares else None,
            }
            for name, intent in self.intents.items()
        }


def intents_by_class(artwork: Artwork, intent: str, own: Mapping[str, str | None]) -> dict[str, str]:
    """Return the intent of each class that the artwork tells.

    Raises
    ------
    UsageError
        For an unknown intent.
    """
    for word in (intent, *own.values()):
        if word is not None and word not in INTENTS:
            raise UsageError("unknown rendering intent", found=word, expected=", ".join(INTENTS))
    told = OBJECTS if artwork.classes is not None else ("images",)
    return {name: own.get(name) or intent for name in told}


def class_links(
    record: Condition, artwork: Artwork, intents: dict[str, str], progress: Progress
) -> ClassLinks:
    """Return the links of an artwork, one for each different intent."""
    wanted = list(dict.fromkeys(intents.values()))
    made: dict[str, InkTable] = {}
    for place, intent in enumerate(wanted):

        def step(fraction: float, place: int = place) -> None:
            progress("compute the link", (place + fraction) / len(wanted))

        made[intent] = artwork_table(
            record,
            artwork.kind,
            # The artwork's own profile is read with the same intent.
            lambda values, intent=intent: profile_to_lab(  # type: ignore[misc]
                artwork.profile, artwork.kind, values, source_intent(intent)
            ),
            intent,
            source_white=artwork_white(artwork),
            step=step,
        )
    tables = {name: made[intent] for name, intent in intents.items()}
    by_class = None
    if artwork.classes is not None and len(wanted) > 1:
        # Bare cloth is bare in every link of a kind, so any will do.
        by_class = ClassTables(
            artwork.classes, tuple(tables.get(name, tables["graphics"]) for name in CLASSES)
        )
    return ClassLinks(intents, tables, by_class)


def source_intent(intent: str) -> str:
    """Which table of the artwork's profile is read: its perceptual one for perceptual, else colorimetric."""
    return "perceptual" if intent == "perceptual" else "relative"


def artwork_white(artwork: Artwork) -> Any:
    """Media white of an embedded profile; display profiles and the stated default have the perfect one."""
    if artwork.profile is None:
        return None
    profile = read_profile(artwork.profile)
    return None if profile.header.device_class == "mntr" else media_white(profile)
