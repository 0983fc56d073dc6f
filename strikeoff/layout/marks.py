"""Marks in the waste between pieces: where they stand, and which ones have no room.

Everything is printed millimetres from the left upper corner of the cuttable cloth at the first row of
the layout; the waste before it has negative heights. Nothing ever stands on a piece, bleed included.
Sizes are common practice of the trade, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.layout.finishing import finishing_factor, printed_mm
from strikeoff.layout.marks_codes import piece_code
from strikeoff.layout.panels import eyelet_places_mm
from strikeoff.layout.placement import Layout, Placement

KINDS = ("trim", "register", "cutter", "code", "fold", "eyelet")
CUTTER_EVERY_MM = 400.0

CLEAR_MM = 1.0
LINE_MM = 0.5
TRIM_MM = (5.0, 4.0, 3.0, 2.0)
REGISTER_MM = 10.0
#: Two lines for a fold, a disc for an eyelet: width along the edge, length away from it.
EDGE_MARK_MM = {"fold": (2.0, 4.0), "eyelet": (3.0, 3.0)}
CUTTER_MM = 6.0
#: Long and short side of the block of a code: symbol and text, largest first.
CODE_MM = ((72.0, 22.0), (50.0, 15.0), (40.0, 12.0))

_SIDES = (("top", "bottom"), ("left", "right"))
_BIN_MM = 100.0
_HAIR_MM = 1e-6
_MOST_CUTTER_MARKS = 20_000

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Mark:
    """One mark: left upper corner and size on the unfinished cloth.

    Attributes
    ----------
    kind : str
        Of `KINDS`.
    x_mm, y_mm, width_mm, height_mm : float
        Printed box. [mm]
    piece : str
        The piece that it belongs to; empty for the roll.
    side : str
        Of the piece or the roll: left, right, top, bottom.
    text : str
        What a code says.
    """

    kind: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    piece: str = ""
    side: str = ""
    text: str = ""

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Middle of the mark, printed. [mm]."""
        return self.x_mm + self.width_mm / 2, self.y_mm + self.height_mm / 2


@dataclass(frozen=True)
class MarkOptions:
    """Which marks are wanted, and where waste is.

    Attributes
    ----------
    kinds : tuple of str
        Of `KINDS`.
    cutter_every_mm : float
        Finished distance of cutter marks. [mm]
    bare_mm : float, optional
        Cloth at each edge that stays unprinted; the margin of the layout when None. [mm]
    head_mm, tail_mm : float
        Printed waste before the first and after the last piece that marks may use. [mm]
    job : str
        Begins the codes.
    fold_mm : tuple of float, optional
        Finished distance of folds from the trim, at left and right, and above and below; no fold when 0. [mm]
    eyelets_mm : float, optional
        Eyelets in the corners of the folded piece and at most so far apart, finished. [mm]
    """

    kinds: tuple[str, ...] = KINDS
    cutter_every_mm: float = CUTTER_EVERY_MM
    bare_mm: float | None = None
    head_mm: float = 30.0
    tail_mm: float = 30.0
    job: str = "JOB"
    fold_mm: tuple[float, float] = (0.0, 0.0)
    eyelets_mm: float | None = None


@dataclass
class Waste:
    """Cloth that is free, searched in stretches along the roll."""

    left: float
    top: float
    right: float
    bottom: float
    _bins: dict[int, list[tuple[Box, str]]] = field(default_factory=dict)

    def take(self, box: Box, name: str) -> None:
        """Mark a box as used."""
        for k in _stretches(box):
            self._bins.setdefault(k, []).append((box, name))

    def why_not(self, box: Box, clear: float = CLEAR_MM) -> str | None:
        """Return what stands in the way of a box, or None when it is free."""
        grown = box[0] - clear, box[1] - clear, box[2] + clear, box[3] + clear
        for k in _stretches(grown):
            for other, name in self._bins.get(k, ()):
                if _meet(grown, other):
                    return name
        inside = self.left <= box[0] and box[2] <= self.right and self.top <= box[1] and box[3] <= self.bottom
        return None if inside else "edge of the cloth"


def place_marks(layout: Layout, options: MarkOptions) -> tuple[tuple[Mark, ...], tuple[Problem, ...]]:
    """Return the marks that have room in the waste, and a problem for each piece whose marks have none.

    Parameters
    ----------
    layout : Layout
        Checked pieces.
    options : MarkOptions
        What is wanted.

    Raises
    ------
    UsageError
        Unknown kind of mark.
    InputError
        Distances that cannot be.

    Examples
    --------
    >>> roll = Layout(500, 10, 0, 0, (Placement("A", 100, 0, 200, 300, bleed_mm=3),))
    >>> marks, problems = place_marks(roll, MarkOptions(kinds=("trim",)))
    >>> len(marks), problems
    (8, ())
    """
    _check(layout, options)
    reach = layout.margin_mm - (layout.margin_mm if options.bare_mm is None else options.bare_mm)
    waste = Waste(
        -reach, -options.head_mm, layout.cuttable_mm[0] + reach, layout.length_mm[0] + options.tail_mm
    )
    for piece in layout.placements:
        waste.take(layout.printed_box_mm(piece), piece.code)
    makers: dict[str, Callable[[Layout, MarkOptions, Waste, list[Problem]], Iterator[Mark]]] = {
        "cutter": _cutter_marks,
        "trim": _trim_marks,
        "fold": _fold_marks,
        "eyelet": _eyelet_marks,
        "register": _register_marks,
        "code": _code_marks,
    }
    marks: list[Mark] = []
    problems: list[Problem] = []
    for kind, maker in makers.items():
        if kind in options.kinds:
            marks += maker(layout, options, waste, problems)
    return tuple(marks), tuple(problems)


def trim_corners_mm(layout: Layout, piece: Placement) -> tuple[tuple[float, float], ...]:
    """Return the printed trim corners of a piece, clockwise from the left upper one. [mm]."""
    across, along = printed_mm(1.0, layout.weft_percent), printed_mm(1.0, layout.warp_percent)
    left, right = (edge * across for edge in piece.trim_box_mm[::2])
    top, bottom = (edge * along for edge in piece.trim_box_mm[1::2])
    return (left, top), (right, top), (right, bottom), (left, bottom)


def _trim_marks(layout: Layout, _: MarkOptions, waste: Waste, problems: list[Problem]) -> Iterator[Mark]:
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
                        placed.append(_mark("trim", spot, piece.code, side))
                        break
                else:
                    missing[side] = blocked or ""
        if missing:
            problems.append(_no_room("trim", piece.code, missing, 2 * CLEAR_MM + TRIM_MM[-1]))
    # Trim marks of neighbours may lie on each other: every one of them is on a line that is cut.
    for mark in placed:
        waste.take(_box(mark), "a trim mark")
    yield from placed


def _fold_marks(
    layout: Layout, options: MarkOptions, waste: Waste, problems: list[Problem]
) -> Iterator[Mark]:
    if max(options.fold_mm) > 0:
        for piece in _single(layout):
            corners = _folded_mm(layout, piece, options.fold_mm)
            places = tuple(
                ends if fold > 0 else () for ends, fold in zip(corners, options.fold_mm, strict=True)
            )
            yield from _edge_marks("fold", layout, piece, places, waste, problems)


def _eyelet_marks(
    layout: Layout, options: MarkOptions, waste: Waste, problems: list[Problem]
) -> Iterator[Mark]:
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
                yield _mark(kind, spot, piece.code, side)
                break
            blocked = blocked or why
        else:
            missing[side] = blocked
    if missing:
        problems.append(_no_room(kind, piece.code, missing, CLEAR_MM + steps[-1] + length + CLEAR_MM))


def _register_marks(
    layout: Layout, options: MarkOptions, waste: Waste, problems: list[Problem]
) -> Iterator[Mark]:
    gap = max(0.0, CLEAR_MM)
    for side, top in (
        ("top", -gap - REGISTER_MM),
        ("bottom", layout.length_mm[0] + gap),
    ):
        spots = (waste.left + 2 * CUTTER_MM, (waste.left + waste.right - REGISTER_MM) / 2,
                 waste.right - 2 * CUTTER_MM - REGISTER_MM)  # fmt: skip
        for x in spots:
            blocked = ""
            for shift in (0.0, 12.0, -12.0, 24.0, -24.0, 48.0, -48.0):
                spot = x + shift, top, x + shift + REGISTER_MM, top + REGISTER_MM
                why = waste.why_not(spot)
                if why is None:
                    waste.take(spot, "a register mark")
                    yield _mark("register", spot, "", side)
                    break
                blocked = blocked or why
            else:
                problems.append(_no_room("register", "the roll", {side: blocked}, REGISTER_MM + 2 * CLEAR_MM))


def _cutter_marks(
    layout: Layout, options: MarkOptions, waste: Waste, problems: list[Problem]
) -> Iterator[Mark]:
    """Stand discs along both edges; one without room moves along its edge by up to half a distance."""
    step = printed_mm(options.cutter_every_mm, layout.warp_percent)
    first, last = waste.top, max(waste.top, waste.bottom - CUTTER_MM)
    count = max(1, math.ceil((last - first) / step - 1e-9))
    if count > _MOST_CUTTER_MARKS:
        raise InputError("too many cutter marks", found=count, expected=f"at most {_MOST_CUTTER_MARKS:,}")
    for side, x in (("left", waste.left), ("right", waste.right - CUTTER_MM)):
        missing: list[tuple[float, str]] = []
        for k in range(count + 1):
            wanted = min(first + k * step, last)
            blocked = None
            for j in range(int(step / 2 / 5.0) * 2 + 1):
                y = wanted + (j + 1) // 2 * 5.0 * (-1 if j % 2 else 1)
                spot = x, y, x + CUTTER_MM, y + CUTTER_MM
                why = waste.why_not(spot)
                if why is None:
                    waste.take(spot, "a cutter mark")
                    yield _mark("cutter", spot, "", side)
                    break
                blocked = blocked or why
            else:
                missing.append((wanted, blocked or ""))
        if missing:
            where, who = missing[0]
            problems.append(
                Problem(
                    "warning",
                    f"{side} edge",
                    f"{len(missing)} of {count + 1} cutter marks have no room",
                    f"{who} in the way at {where:.0f} mm",
                    f"{CUTTER_MM + CLEAR_MM:g} mm of waste",
                    "Plan with a wider margin and leave the outer part of it bare",
                )
            )


def _code_marks(
    layout: Layout, options: MarkOptions, waste: Waste, problems: list[Problem]
) -> Iterator[Mark]:
    for number, piece in enumerate(layout.placements, 1):
        text = piece_code(options.job, number)
        box = layout.printed_box_mm(piece)
        missing: dict[str, str] = {}
        for side, spot in _code_spots(box):
            blocked = waste.why_not(spot)
            if blocked is None:
                waste.take(spot, "a code")
                yield _mark("code", spot, piece.code, side, text)
                break
            missing[side] = blocked
        else:
            problems.append(_no_room("code", piece.code, missing, CODE_MM[-1][1] + 2 * CLEAR_MM))


def _code_spots(box: Box) -> Iterator[tuple[str, Box]]:
    reach = max(box[2] - box[0], box[3] - box[1])
    tries = [12.0 + 20.0 * k for k in range(12) if k == 0 or 32.0 + 20.0 * k < reach]
    for (long, short), along in ((size, along) for size in CODE_MM for along in tries):
        over, beside = box[0] + along, box[1] + along
        for side, left, top, turned in (
            ("bottom", over, box[3] + CLEAR_MM, False),
            ("top", over, box[1] - CLEAR_MM - short, False),
            ("right", box[2] + CLEAR_MM, beside, True),
            ("left", box[0] - CLEAR_MM - short, beside, True),
        ):
            size = (short, long) if turned else (long, short)
            yield side, (left, top, left + size[0], top + size[1])


def _no_room(kind: str, piece: str, missing: dict[str, str], needed: float) -> Problem:
    by_who: dict[str, list[str]] = {}
    for side, who in missing.items():
        by_who.setdefault(who, []).append(side)
    return Problem(
        "warning",
        piece,
        f"no room in the waste for {kind} marks",
        "; ".join(f"{', '.join(sides)}: {who} in the way" for who, sides in by_who.items()),
        f"{needed:g} mm of waste there",
        "Plan with wider gaps",
    )


def _mark(kind: str, box: Box, piece: str, side: str, text: str = "") -> Mark:
    return Mark(kind, box[0], box[1], box[2] - box[0], box[3] - box[1], piece, side, text)


def _box(mark: Mark) -> Box:
    return mark.x_mm, mark.y_mm, mark.x_mm + mark.width_mm, mark.y_mm + mark.height_mm


def _stretches(box: Box) -> range:
    return range(math.floor(box[1] / _BIN_MM), math.floor(box[3] / _BIN_MM) + 1)


def _meet(a: Box, b: Box) -> bool:
    """Return whether two boxes share more than a hair: boxes that touch after rounding do not meet."""
    h = _HAIR_MM
    return a[0] < b[2] - h and b[0] < a[2] - h and a[1] < b[3] - h and b[1] < a[3] - h


def _check(layout: Layout, options: MarkOptions) -> None:
    for kind in options.kinds:
        if kind not in KINDS:
            raise UsageError("unknown kind of mark", found=kind, expected=", ".join(KINDS))
    if not (math.isfinite(options.cutter_every_mm) and 50 <= options.cutter_every_mm <= 10_000):
        raise InputError(
            "distance of cutter marks cannot be",
            found=f"{options.cutter_every_mm:g} mm",
            expected="50 to 10,000 mm; 300 to 500 is common",
        )
    bare = layout.margin_mm if options.bare_mm is None else options.bare_mm
    if not 0 <= bare <= layout.margin_mm:
        raise InputError(
            "bare edge cannot be",
            found=f"{bare:g} mm",
            expected=f"0 to the margin of the layout, {layout.margin_mm:g} mm",
        )
    if not all(0 <= fold <= 1000 for fold in options.fold_mm):
        raise InputError("fold cannot be", found=f"{options.fold_mm} mm", expected="0 to 1,000 mm")
    if not all(0 <= size <= 10_000 for size in (options.head_mm, options.tail_mm)):
        raise InputError("waste at the ends cannot be", expected="0 to 10,000 mm")
