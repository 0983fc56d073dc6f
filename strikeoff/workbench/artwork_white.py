"""Artwork for conditions that print its white: bare cloth where there is nothing."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from strikeoff.artwork.records import Artwork
from strikeoff.base.problems import Problem
from strikeoff.condition.record import LIGHTER, Condition
from strikeoff.condition.veils import veil_table
from strikeoff.intake.bare_cloth import white_codes
from strikeoff.qualify.reach import lighter_problem
from strikeoff.raster.bands import BandSource
from strikeoff.raster.tables import InkTable
from strikeoff.separation.covered import Cover, OpaqueSource
from strikeoff.separation.held import HeldSource
from strikeoff.separation.separate import InkMeter, InkUse
from strikeoff.separation.underbase import Underbase, UnderbaseSource

_ROWS = 64
_BARE = Problem(
    "note",
    "alpha",
    "transparent places stay bare cloth",
    advice="Flatten the artwork on white where they are to be printed white",
)


def laid_by(
    record: Condition,
    artwork: Artwork,
    cover: BandSource,
    link: InkTable,
    step: Callable[[float], None] = lambda fraction: None,
) -> Cover:
    """Return how an artwork covers the cloth; with a veil where colours of grey or RGB cover it in part.

    On pages all that is drawn covers, so there is none; four channels and coverage would be too many.
    """
    translucent = artwork.page is None and artwork.kind in ("grey", "rgb") and _in_part(cover)
    return Cover(cover, veil_table(record, link, step=step) if translucent else None)


def _in_part(cover: BandSource) -> bool:
    """Return whether any pixel is covered in part."""
    full = np.iinfo(cover.dtype).max
    for y in range(0, cover.height, _ROWS):
        band = cover.read(y, min(y + _ROWS, cover.height))
        if ((band > 0) & (band < full)).any():
            return True
    return False


def opaque_colours(artwork: Artwork, source: BandSource, cover: BandSource) -> BandSource:
    """Return the artwork's samples as if it were opaque throughout; on pages cover is whole or none."""
    if artwork.page is not None:
        return source
    return OpaqueSource(source, cover, white_codes(artwork, source))


def cloth_problems(record: Condition, artwork: Artwork) -> tuple[Problem, ...]:
    """Return what there is to tell of an artwork, and of white where inks are lighter than the cloth.

    There transparent places are how an artwork asks for bare cloth, so nothing warns of them.
    """
    if record.white_recipe is None:
        old = lighter_problem(record)
        return artwork.problems if old is None else (old, *artwork.problems)
    if artwork.cover is not None:
        return tuple(_BARE if p.where == "alpha" else p for p in artwork.problems)
    return (
        Problem(
            "note",
            "white",
            "the artwork does not say where it is transparent: its white is printed, and no cloth stays bare "
            "but where its colours ask for that of the cloth",
            found=record.white_words,
            advice="Save it with alpha where the cloth is to stay bare",
        ),
        *artwork.problems,
    )


def metered(record: Condition, planes: BandSource) -> InkMeter:
    """Return planes that count their ink under the total of a condition."""
    limits = record.limits
    return InkMeter(planes, record.inks, limits.total, tuple(limits.weights), limits.counts())


def with_underbase(record: Condition, planes: BandSource, base: Underbase) -> tuple[BandSource, InkMeter]:
    """Return planes with an underbase under the total, and what counts their ink before they are held to it.

    The underbase and named inks keep their amounts as long as the others can give way.
    """
    named = {ink.name for ink in record.spaces.inks if ink.is_named}
    spared = {at for at, name in enumerate(record.spaces.channels) if name in named} | {base.ink}
    laid, limits = metered(record, UnderbaseSource(planes, base)), record.limits
    held = HeldSource(
        laid, tuple(sorted(spared)), tuple(limits.weights), limits.total, counts=limits.counts()
    )
    return held, laid


def held_problem(record: Condition, base: Underbase, laid: InkUse) -> Problem | None:
    """Return a warning where an underbase would have passed the total, so that inks gave way."""
    if laid.share_over_limit == 0:
        return None
    name = record.spaces.channels[base.ink]
    return Problem(
        "warning",
        "underbase",
        f"inks over {name} were taken back to keep the total ink limit, at held hue, so colours are paler",
        found=f"{100 * laid.share_over_limit:.2f} % of the pixels, up to {100 * laid.max_total:.1f} % of ink",
        expected=f"at most {100 * record.limits.total:.1f} %",
        advice=f"Lay less {name} (--underbase-percent); or print it in a pass of its own with less weight "
        "in the limits and build the condition again",
    )


def underbase_problems(record: Condition, base: Underbase | None) -> tuple[Problem, ...]:
    """Return a warning where an underbase changes the colours over it, as white does on dark cloth.

    Colours are separated as if they were printed without it.
    """
    if base is None:
        return ()
    inks = np.vstack([np.zeros(record.n_inks), np.eye(record.n_inks)[base.ink] * base.level])
    cloth, white = record.native.lab(inks)[:, 0]
    if white <= cloth + LIGHTER:
        return ()
    name = record.spaces.channels[base.ink]
    if name in record.by_name_only:
        message = f"colours are separated as if on bare cloth, but {name} lies under them and lightens it"
        advice = (
            f"Build the condition again with --process-ink {name} and separate without --underbase: colours "
            "then take the white that they need"
        )
    else:
        message = f"colours already have the {name} that they need, and more of it lightens them"
        advice = f"Separate without --underbase, unless more {name} is meant"
    return (
        Problem(
            "warning",
            "underbase",
            message,
            found=f"{name} {100 * base.level:.3g} % with L* {white:.1f} on cloth of {cloth:.1f}",
            expected=f"at most {LIGHTER:g} L* lighter than the cloth",
            advice=advice,
        ),
    )
