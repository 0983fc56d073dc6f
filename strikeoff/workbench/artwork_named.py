"""Artwork opened so that each of its named colours has a way to the inks."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.pdf_wish import PageWish
from strikeoff.artwork.records import CHANNELS, Artwork
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.condition.record import Condition
from strikeoff.raster.bands import BandSource
from strikeoff.raster.tables import InkTable
from strikeoff.separation.by_class import ClassTables
from strikeoff.separation.covered import Cover
from strikeoff.separation.named import NamedSource, inks_for
from strikeoff.separation.underbase import Underbase
from strikeoff.spot.compiled import SpotTables, read_spots
from strikeoff.spot.tints import full_table

#: What becomes of named colours without a swatch or an ink of their name.
NAMED_CHOICES = ("ink", "fallback")


@dataclass(frozen=True)
class NamedPlan:
    """How named colours reach the inks.

    Attributes
    ----------
    inks : dict of str to int
        Named colour to the channel of the ink of its name.
    tables : dict of str to int
        Named colour to its position among the tint tables, which go before inks.
    spots : SpotTables, optional
        Those.
    spots_digest : str, optional
        Digest of their file.
    """

    inks: dict[str, int] = field(default_factory=dict)
    tables: dict[str, int] = field(default_factory=dict)
    spots: SpotTables | None = None
    spots_digest: str | None = None

    @property
    def table_digests(self) -> dict[str, str]:
        """Named colour to the digest of its tint table."""
        return {name: self.spots.digest_of(at) for name, at in self.tables.items() if self.spots is not None}

    def without(self, artwork: Artwork) -> list[str]:
        """Return the named colours that have no way to the inks."""
        return [name for name in artwork.named if name not in self.tables and name not in self.inks]

    def channels_of(self, artwork: Artwork) -> tuple[tuple[int, int], ...]:
        """Return plane and ink of each named colour that goes to the ink of its name."""
        first = CHANNELS[artwork.kind]
        return tuple(
            (first + at, self.inks[name]) for at, name in enumerate(artwork.named) if name in self.inks
        )

    def tints(self, artwork: Artwork) -> tuple[tuple[int, NDArray[np.uint16]], ...]:
        """Return plane and inks by code, uint16 of shape (65536, n_inks), of each with a tint table."""
        first = CHANNELS[artwork.kind]
        return tuple(
            (first + at, full_table(self.spots.tables[self.tables[name]]))
            for at, name in enumerate(artwork.named)
            if name in self.tables and self.spots is not None
        )

    def source(
        self,
        record: Condition,
        artwork: Artwork,
        planes: BandSource,
        table: InkTable,
        by_class: ClassTables | None = None,
        cover: Cover | None = None,
    ) -> NamedSource:
        """Return the ink planes of process and named colours; process ones as they cover, where given."""
        return NamedSource(
            source=planes,
            table=table,
            channels_of=self.channels_of(artwork),
            weights=tuple(record.limits.weights),
            limit=record.limits.total,
            tints=self.tints(artwork),
            by_class=by_class,
            cover=cover,
            counts=record.limits.counts(),
        )


def spots_for(
    record: Condition, condition_digest: str, spots: str | Path | None
) -> tuple[SpotTables | None, str | None]:
    """Read the tint tables of a condition and their digest, both None without a file.

    Raises
    ------
    InputError
        When they were made for another condition.
    """
    if spots is None:
        return None, None
    book, digest = read_spots(spots)
    if book.condition != condition_digest or book.inks != record.inks:
        raise InputError(
            "tint tables were made for another condition",
            path=spots,
            found=book.condition[:23],
            expected=condition_digest[:23],
            advice="Compile the swatch book for this condition with 'condition spots'",
        )
    return book, digest


def plan_named(record: Condition, artwork: Artwork, book: SpotTables | None, digest: str | None) -> NamedPlan:
    """Return how named colours reach the inks: by swatch, else by an ink of their name."""
    places = {} if book is None else {name: book.find(name) for name in artwork.named}
    tables = {name: place for name, place in places.items() if place is not None}
    rest = [name for name in artwork.named if name not in tables]
    return NamedPlan(inks_for(rest, record.inks, record.spaces.channels), tables, book, digest)


def open_named(
    record: Condition,
    condition_digest: str,
    image: str | Path,
    assume_profile: str | Path | None,
    wish: PageWish,
    named: str,
    spots: str | Path | None,
) -> tuple[Artwork, NamedPlan]:
    """Open artwork and find a way for each of its named colours.

    Raises
    ------
    UsageError
        When a named colour has neither swatch nor ink, and falling back was not asked for or cannot be.
    InputError
        When the tint tables were made for another condition.
    """
    if named not in NAMED_CHOICES:
        raise UsageError("unknown choice for named colours", found=named, expected=", ".join(NAMED_CHOICES))
    book, digest = spots_for(record, condition_digest, spots)
    artwork = open_artwork(image, assume_profile=assume_profile, wish=wish)
    plan = plan_named(record, artwork, book, digest)
    inks, tables = plan.inks, plan.tables
    others = plan.without(artwork)
    if not others:
        return artwork, plan
    if named == "ink" or artwork.page is None:
        raise UsageError(
            "named colours without an ink of their name in this condition"
            + ("" if book is None else " and without a swatch in the book"),
            path=image,
            found=", ".join(others)[:300],
            expected=f"one of {', '.join([*(book.names if book else ()), *record.spaces.channels])[:300]}",
            advice=_advice(artwork, others, book),
        )
    wish = replace(wish, fallback=frozenset(others) if inks or tables else None)
    artwork = open_artwork(image, assume_profile=assume_profile, wish=wish)
    told = Problem(
        "warning",
        "named colours",
        "printed in the file's own alternate colours",
        found=", ".join(others)[:300],
    )
    return replace(artwork, problems=(*artwork.problems, told)), plan


def _advice(artwork: Artwork, others: list[str], book: SpotTables | None) -> str:
    """Say what to do about named colours without a way, a slip of the pen first."""
    near = {name.strip().casefold(): name for name in (() if book is None else book.names)}
    for name in others:
        if name.strip().casefold() in near:
            return f"The book has '{near[name.strip().casefold()]}': names are told apart by case and spaces"
    if artwork.page is not None:
        return "Print them in the file's own alternate colours with --named fallback, or rename them"
    return "Rename them, or turn them into process colours in the file"


def underbase_of(record: Condition, ink: str | None, percent: float, choke_mm: float) -> Underbase | None:
    """Return the underbase in an ink of a condition, under all inks but clear ones; None without an ink.

    Raises
    ------
    UsageError
        When the condition has no such ink, a number is out of range, or there is a number and no ink.
    """
    if ink is None:
        if choke_mm or percent != 100:
            raise UsageError(
                "only an underbase has an amount, choke or spread", advice="Name its ink: --underbase"
            )
        return None
    names = next((n for n in (record.inks, record.spaces.channels) if ink in n), None)
    if names is None:
        raise UsageError(
            "condition has no such ink for an underbase",
            found=ink,
            expected=f"one of {', '.join(record.spaces.channels)}",
        )
    clear = {found.name for found in record.spaces.inks if found.role == "clear"}
    white = names.index(ink)
    covered = tuple(i for i, name in enumerate(record.spaces.channels) if i != white and name not in clear)
    return Underbase(white, covered, percent / 100, choke_mm)
