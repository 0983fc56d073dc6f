"""Layouts that cannot be are refused."""

from __future__ import annotations

import math

from strikeoff.base.errors import InputError
from strikeoff.layout.fill import check_fill
from strikeoff.layout.finishing import finishing_factor
from strikeoff.layout.placement import MOST_PLACEMENTS, TURNS_DEGREES, Layout, Placement

_LONGEST_MM = 200_000.0
# Sizes so close are the same.
_SAME_MM = 0.01


def check_layout(layout: Layout) -> None:
    """Find pieces that cannot lie where they are said to.

    Raises
    ------
    InputError
        Sizes that cannot be, a piece beyond the cuttable width, two pieces of one name, pieces that overlap;
        RangeError for the dimensional change.

    Examples
    --------
    >>> check_layout(Layout(1000, 10, 0, 0, (Placement("A", 0, 0, 980, 50),)))
    >>> check_layout(Layout(1000, 10, 0, 0, (Placement("A", 10, 0, 980, 50),)))
    Traceback (most recent call last):
    strikeoff.base.errors.InputError: A: piece lies beyond the cuttable width (found 10 to 990 mm; \
expected 0 to 980 mm finished)
    """
    if not (1 <= layout.width_mm <= _LONGEST_MM and 0 <= layout.margin_mm < layout.width_mm / 2):
        raise InputError(
            "cloth cannot be",
            found=f"{layout.width_mm:g} mm wide, {layout.margin_mm:g} mm lost at each edge",
            expected="1 to 200,000 mm, less than half of it lost at each edge",
        )
    if len(layout.placements) > MOST_PLACEMENTS:
        raise InputError(
            "too many pieces", found=len(layout.placements), expected=f"at most {MOST_PLACEMENTS:,}"
        )
    finishing_factor(layout.warp_percent)
    wide = layout.cuttable_mm[1]
    slack = 1e-6 * wide
    codes: set[str] = set()
    for piece in layout.placements:
        box = piece.x_mm, piece.y_mm, piece.width_mm, piece.height_mm
        if math.isfinite(piece.y_mm) and piece.y_mm > _LONGEST_MM:
            raise InputError(
                "layout is too long for one roll",
                where=piece.code,
                found=f"{piece.y_mm / 1000:.1f} m finished",
                expected=f"at most {_LONGEST_MM / 1000:g} m",
                advice="Share the pieces among several rolls",
            )
        if not all(math.isfinite(v) and -slack <= v <= _LONGEST_MM for v in box) or min(box[2:]) <= 0:
            raise InputError(
                "place of a piece cannot be",
                where=piece.code,
                found=" ".join(f"{v:g}" for v in box),
                expected="left and top from 0, width and height above 0, in mm",
            )
        if piece.turn_degrees not in TURNS_DEGREES:
            raise InputError(
                "piece cannot be turned so",
                where=piece.code,
                found=piece.turn_degrees,
                expected="0, 90, 180 or 270",
            )
        if piece.x_mm + piece.width_mm > wide + slack:
            raise InputError(
                "piece lies beyond the cuttable width",
                where=piece.code,
                found=f"{piece.x_mm:g} to {piece.x_mm + piece.width_mm:g} mm",
                expected=f"0 to {wide:g} mm finished",
            )
        _check_artwork(piece)
        if piece.code in codes:
            raise InputError("two pieces have one name", found=piece.code, expected="a name for each")
        codes.add(piece.code)
    pair = first_overlap(layout.placements)
    if pair is not None:
        raise InputError(
            "two pieces overlap",
            where=f"{pair[0].code}, {pair[1].code}",
            expected="pieces side by side",
            advice="Move one of them",
        )


def _check_artwork(piece: Placement) -> None:
    """Find bleeds, crops and sizes of artwork that do not fit the box of a piece."""
    bleeds, (left, top, right, bottom) = piece.bleeds_mm, piece.trim_box_mm
    if not (all(bleed >= 0 for bleed in bleeds) and left < right and top < bottom):
        raise InputError(
            "bleed of a piece cannot be",
            where=piece.code,
            found=", ".join(f"{bleed:g}" for bleed in dict.fromkeys(bleeds)) + " mm",
            expected="0 or more, and less than the piece from edge to edge",
        )
    if piece.repeat is not None:
        if piece.crop_mm is not None or piece.artwork_mm is not None or piece.mirrored_mm:
            raise InputError(
                "an area that is filled with a repeat shows whole tiles",
                where=piece.code,
                found="crop_mm, artwork_mm or mirrored_mm",
                expected="none of them: the size of the tile stands with the repeat",
            )
        check_fill(piece.code, piece.repeat)
        return
    if piece.crop_mm is not None and piece.artwork_mm is None:
        raise InputError(
            "crop of a piece needs the size of the whole artwork",
            where=piece.code,
            expected="artwork_mm, finished, across and along",
        )
    whole = piece.whole_mm
    if not all(math.isfinite(v) and 0 < v <= _LONGEST_MM for v in whole):
        raise InputError(
            "size of the artwork cannot be",
            where=piece.code,
            found=f"{whole[0]:g} x {whole[1]:g} mm",
            expected=f"above 0, at most {_LONGEST_MM:,.0f} mm",
        )
    left, top, wide, high = piece.shown_mm
    if any(abs(a - b) > _SAME_MM for a, b in zip((wide, high), piece.upright_mm, strict=True)):
        raise InputError(
            "what is shown of the artwork is not as large as the piece",
            where=piece.code,
            found=f"{wide:g} x {high:g} mm",
            expected=f"{piece.upright_mm[0]:g} x {piece.upright_mm[1]:g} mm, upright",
        )
    if not 0 <= piece.mirrored_mm <= _LONGEST_MM:
        raise InputError(
            "what is mirrored of the artwork cannot be",
            where=piece.code,
            found=f"{piece.mirrored_mm:g} mm",
            expected=f"0 to {_LONGEST_MM:,.0f} mm",
        )
    reach = [edge + piece.mirrored_mm + _SAME_MM for edge in piece.upright_bleeds_mm]
    inside = -reach[0] <= left and -reach[1] <= top
    if not (inside and left + wide <= whole[0] + reach[2] and top + high <= whole[1] + reach[3]):
        raise InputError(
            "crop of a piece lies beyond its artwork",
            where=piece.code,
            found=f"{left:g} to {left + wide:g} mm across, {top:g} to {top + high:g} mm along",
            expected=f"within {whole[0]:g} x {whole[1]:g} mm and its bleed and mirror image",
        )


def first_overlap(
    placements: tuple[Placement, ...], slack_mm: float = 1e-6
) -> tuple[Placement, Placement] | None:
    """Return two pieces whose boxes share more than a hair, or None; a sweep along the roll."""
    active: list[Placement] = []
    for piece in sorted(placements, key=lambda p: p.y_mm):
        active = [p for p in active if p.y_mm + p.height_mm > piece.y_mm + slack_mm]
        for other in active:
            if (
                other.x_mm + other.width_mm > piece.x_mm + slack_mm
                and piece.x_mm + piece.width_mm > other.x_mm + slack_mm
            ):
                return other, piece
        active.append(piece)
    return None
