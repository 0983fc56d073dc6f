"""Marks that stand around a piece: its trim, its folds, its eyelets."""

from __future__ import annotations

from collections.abc import Iterator

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.layout.finishing import finishing_factor, printed_mm
from strikeoff.layout.mark_records import Mark, MarkOptions, mark_at, no_room
from strikeoff.layout.panels import eyelet_places_mm
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.waste import CLEAR_MM, Box, Waste

LINE_MM = 0.5
TRIM_MM = (5.0, 4.0, 3.0, 2.0)
#: Two lines for a fold, a disc for an eyelet: width along the edge, length away from it.
EDGE_MARK_MM = {"fold": (2.0, 4.0), "eyelet": (3.0, 3.0)}
_SIDES = (("top", "bottom"), ("left", "right"))


def trim_corners_mm(layout: Layout, piece: Placement) -> tuple[tuple[float, float], ...]:
    """Return the printed trim corners of a piece, clockwise from the left upper one. [mm]."""
    across, along = printed_mm(1.0, layout.weft_percent), printed_mm(1.0, layout.warp_percent)
    left, right = (edge * across for edge in piece.trim_box_mm[::2])
    top, bottom = (edge * along for edge in piece.trim_box_mm[1::2])
    return (left, top), (right, top), (right, bottom), (left, bottom)


def trim_marks(layout: Layout, _: MarkOptions, waste: Waste, problems: list[Problem]) -> Iterator[Mark]:
    """Yield two lines at each corner of each piece, where they are cut."""
    half = LINE_MM / 2
    placed: list[Mark] = []
    for piece in layout.placements:
        box = layout.printed_box_mm(piece)
        missing: dict[str, str] = {}
        for x, y in trim_corners_mm(layout, piece):
            sides = (
                "left" if x - box[0] <= box[2] - x else "right",
                "top" if y - box[1] <= box[3] - y else "bottom",
            )
            for side in sides:
                for length in TRIM_MM:
                    spot = {
                        "left": (box[0] - CLEAR_MM - length, y - half, box[0] - CLEAR_MM, y + half),
                        "right": (box[2] + CLEAR_MM, y - half, box[2] + CLEAR_MM + length, y + half),
                        "top": (x - half, box[1] - CLEAR_MM - length, x + half, box[1] - CLEAR_MM),
                        "bottom": (x - half, box[3] + CLEAR_MM, x + half, box[3] + CLEAR_MM + length),
                    }[side]
                    blocked = waste.why_not(spot, CLEAR_MM * 0.9)
                    if blocked is None:
                        placed.append(mark_at("trim", spot, piece.code, side))
                        break
                else:
                    missing[side] = blocked or ""
        if missing:
            problems.append(no_room("trim", piece.code, missing, 2 * CLEAR_MM + TRIM_MM[-1]))
    # Trim marks of neighbours may lie on each other: every one of them is on a line that is cut.
    for mark in placed:
        waste.take(_box(mark), "a trim mark")
    yield from placed


def fold_marks(layout: Layout, options: MarkOptions, waste: Waste, problems: list[Problem]) -> Iterator[Mark]:
    """Yield the ends of the lines along which pieces are folded."""
    if max(options.fold_mm) > 0:
        for piece in _single(layout):
            corners = _folded_mm(layout, piece, options.fold_mm)
            places = tuple(
                ends if fold > 0 else () for ends, fold in zip(corners, options.fold_mm, strict=True)
            )
            yield from _edge_marks("fold", layout, piece, places, waste, problems)


def eyelet_marks(
    layout: Layout, options: MarkOptions, waste: Waste, problems: list[Problem]
) -> Iterator[Mark]:
    """Yield a disc beside the place of each eyelet."""
    if options.eyelets_mm is not None:
        for piece in _single(layout):
            ends = _folded_mm(layout, piece, options.fold_mm)
            places = []
            for (first, last), percent in zip(ends, (layout.weft_percent, layout.warp_percent), strict=True):
                side = (last - first) * finishing_factor(percent)
                evenly = eyelet_places_mm(side, options.eyelets_mm)
                places.append(tuple(first + printed_mm(place, percent) for place in evenly))
            yield from _edge_marks("eyelet", layout, piece, tuple(places), waste, problems)


def _single(layout: Layout) -> Iterator[Placement]:
    """Yield pieces that are made up one by one; cloth of a repeat has no folds of its own."""
    return (piece for piece in layout.placements if piece.repeat is None)


def _folded_mm(
    layout: Layout, piece: Placement, fold_mm: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where the folded piece begins and ends, across and along, printed."""
    (left, top), _, (right, bottom), _ = trim_corners_mm(layout, piece)
    x, y = printed_mm(fold_mm[0], layout.weft_percent), printed_mm(fold_mm[1], layout.warp_percent)
    if right - left <= 2 * x or bottom - top <= 2 * y:
        raise InputError(
            "folds leave nothing of a piece",
            where=piece.code,
            found=f"{fold_mm[0]:g} x {fold_mm[1]:g} mm",
            expected="less than half of the piece",
        )
    return (left + x, right - x), (top + y, bottom - y)


def _edge_marks(
    kind: str,
    layout: Layout,
    piece: Placement,
    places: tuple[tuple[float, ...], ...],
    waste: Waste,
    problems: list[Problem],
) -> Iterator[Mark]:
    """Stand marks outside the box of a piece, beside places across and along."""
    box = layout.printed_box_mm(piece)
    half, length = EDGE_MARK_MM[kind][0] / 2, EDGE_MARK_MM[kind][1]
    # An eyelet on the line of a fold or of the trim stands beyond its mark.
    steps = (0.0, 1.0, 2.0, 3.0, 4.0, 5.0) if kind == "eyelet" else (0.0,)
    missing: dict[str, str] = {}
    for side, place in [(s, p) for k in (0, 1) for s in _SIDES[k] for p in places[k]]:
        blocked = ""
        for near in (CLEAR_MM + step for step in steps):
            far = near + length
            spot = {
                "top": (place - half, box[1] - far, place + half, box[1] - near),
                "bottom": (place - half, box[3] + near, place + half, box[3] + far),
                "left": (box[0] - far, place - half, box[0] - near, place + half),
                "right": (box[2] + near, place - half, box[2] + far, place + half),
            }[side]
            why = waste.why_not(spot, CLEAR_MM / 2)
            if why is None:
                waste.take(spot, f"{'an' if kind == 'eyelet' else 'a'} {kind} mark")
                yield mark_at(kind, spot, piece.code, side)
                break
            blocked = blocked or why
        else:
            missing[side] = blocked
    if missing:
        problems.append(no_room(kind, piece.code, missing, CLEAR_MM + steps[-1] + length + CLEAR_MM))


def _box(mark: Mark) -> Box:
    return mark.x_mm, mark.y_mm, mark.x_mm + mark.width_mm, mark.y_mm + mark.height_mm
