"""All checks on one piece of artwork."""

from __future__ import annotations

from collections.abc import Callable

from strikeoff.artwork.records import Artwork
from strikeoff.condition.record import Condition
from strikeoff.intake.bare_cloth import opaque_samples, printed_cover
from strikeoff.intake.colour_checks import gamut_findings, ink_findings, named_findings, profile_findings
from strikeoff.intake.colours import colour_need, display_lab
from strikeoff.intake.jpeg_checks import jpeg_findings
from strikeoff.intake.page_checks import font_findings, line_findings, overprint_findings, type_findings
from strikeoff.intake.pictures import shown
from strikeoff.intake.records import TOPICS, Finding, Wish
from strikeoff.intake.repeat_checks import repeat_findings
from strikeoff.intake.size_checks import bleed_findings, resolution_findings, size_findings
from strikeoff.intake.subject import Subject
from strikeoff.intake.survey import survey
from strikeoff.spot.compiled import SpotTables

_CHECKS: tuple[Callable[[Subject], list[Finding]], ...] = (
    size_findings,
    resolution_findings,
    profile_findings,
    named_findings,
    gamut_findings,
    ink_findings,
    overprint_findings,
    line_findings,
    type_findings,
    font_findings,
    bleed_findings,
    repeat_findings,
    jpeg_findings,
)
_RANK = {"error": 0, "warning": 1, "note": 2}


def look_at(
    artwork: Artwork,
    condition: Condition,
    wish: Wish,
    named_inks: dict[str, int],
    step: Callable[[float], None] = lambda fraction: None,
    spots: SpotTables | None = None,
) -> Subject:
    """Read artwork once and work out what it asks of the inks.

    Parameters
    ----------
    artwork : Artwork
        What was sent.
    condition : Condition
        Where it will be printed.
    wish : Wish
        For what.
    named_inks : dict of str to int
        Named colours and the inks that they pass to.
    step : callable
        Told the fraction done, 0-1.
    spots : SpotTables, optional
        Swatches; those go before inks of the same name.
    """
    found = {} if spots is None else {name: spots.find(name) for name in artwork.named}
    places = {name: place for name, place in found.items() if place is not None}
    named_inks = {name: ink for name, ink in named_inks.items() if name not in places}
    tints = {} if spots is None else {name: spots.tables[place] for name, place in places.items()}
    prints = () if spots is None else spots.prints
    seen = survey(artwork.planes, lambda fraction: step(0.7 * fraction))
    is_known = artwork.kind != "cmyk" or artwork.profile is not None
    need = None
    if is_known:
        small, cover = seen.small, None
        source = printed_cover(condition, artwork)
        if source is not None:
            cover = survey(source).small
            small = opaque_samples(artwork, small, cover)
        need = colour_need(artwork, small, condition, wish.intent, named_inks, tints, cover=cover)
    step(1.0)
    picture = shown(display_lab(artwork, seen.small))
    swatches = {name: prints[place] if prints else None for name, place in places.items()}
    return Subject(artwork, condition, wish, seen, picture, need, named_inks, swatches)


def findings(subject: Subject) -> tuple[Finding, ...]:
    """Return what all checks found, the worst first, then in the order of `TOPICS`."""
    found = [finding for check in _CHECKS for finding in check(subject)]
    return tuple(sorted(found, key=lambda f: (_RANK[f.severity], TOPICS.index(f.topic))))
