"""Marks in the waste between pieces: where they stand, and which ones have no room.

Everything is printed millimetres from the left upper corner of the cuttable cloth at the first row of
the layout; the waste before it has negative heights. Nothing ever stands on a piece, bleed included.
Sizes are common practice of the trade, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.layout.finishing import printed_mm
from strikeoff.layout.mark_records import KINDS, Mark, MarkOptions, mark_at, no_room
from strikeoff.layout.marks_codes import piece_code
from strikeoff.layout.marks_of_pieces import eyelet_marks, fold_marks, trim_marks
from strikeoff.layout.placement import Layout
from strikeoff.layout.waste import CLEAR_MM, Box, Waste

REGISTER_MM = 10.0
CUTTER_MM = 6.0
#: Long and short side of the block of a code: symbol and text, largest first.
CODE_MM = ((72.0, 22.0), (50.0, 15.0), (40.0, 12.0))

_MOST_CUTTER_MARKS = 20_000


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
    >>> from strikeoff.layout.placement import Placement
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
        "trim": trim_marks,
        "fold": fold_marks,
        "eyelet": eyelet_marks,
        "register": _register_marks,
        "code": _code_marks,
    }
    marks: list[Mark] = []
    problems: list[Problem] = []
    for kind, maker in makers.items():
        if kind in options.kinds:
            marks += maker(layout, options, waste, problems)
    return tuple(marks), tuple(problems)


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
                    yield mark_at("register", spot, "", side)
                    break
                blocked = blocked or why
            else:
                problems.append(no_room("register", "the roll", {side: blocked}, REGISTER_MM + 2 * CLEAR_MM))


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
                    yield mark_at("cutter", spot, "", side)
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
                yield mark_at("code", spot, piece.code, side, text)
                break
            missing[side] = blocked
        else:
            problems.append(no_room("code", piece.code, missing, CODE_MM[-1][1] + 2 * CLEAR_MM))


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
