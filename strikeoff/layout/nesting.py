"""Rectangles on a roll with as little cloth as can be: nesting by a search over the order of pieces."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import gcd

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.progress import Progress, silent
from strikeoff.layout.finishing import printed_mm
from strikeoff.layout.nesting_search import Job, first, shorter
from strikeoff.layout.placement import Layout, Placement

TURNS = ("none", "180", "90")
MOST_PIECES = 20_000

_LONGEST_MM = 200_000.0
_PER_MM = 1000

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class NestPiece:
    """One piece to be cut from the cloth.

    Attributes
    ----------
    code : str
        Its name.
    width_mm, height_mm : float
        Finished size upright, bleed included (across, along). [mm]
    turn : {"none", "180", "90"}
        What the grain allows: nothing, 180 degrees, or 90 degrees too.
    artwork : str
        File of its artwork, if known.
    group : str
        Pieces of one group come from one stretch of cloth: `nest` notes it, `nest_groups` sees to it.
    """

    code: str
    width_mm: float
    height_mm: float
    turn: str = "none"
    artwork: str = ""
    group: str = ""


@dataclass(frozen=True)
class Nest:
    """Pieces on the roll.

    Attributes
    ----------
    layout : Layout
        Where they lie, in the order in which they leave the press.
    bound_mm : float
        Printed length below which no layout can be. [mm]
    length_mm : float
        Printed length that is used. [mm]
    fill : float
        Part of the cuttable cloth of that length that pieces cover. [-]
    """

    layout: Layout
    bound_mm: float
    length_mm: float
    fill: float

    @property
    def gap_percent(self) -> float:
        """How much longer than the bound. [%]."""
        return 100 * (self.length_mm / self.bound_mm - 1)


def nest(
    pieces: Sequence[NestPiece],
    *,
    width_mm: float,
    margin_mm: float = 0.0,
    warp_percent: float = 0.0,
    weft_percent: float = 0.0,
    gap_mm: float = 0.0,
    faults_mm: Sequence[tuple[float, float]] = (),
    seconds: float = 10.0,
    seed: int = 0,
    straight: bool = False,
    progress: Progress = silent,
) -> Nest:
    """Lay pieces on a roll so that it becomes short.

    Parameters
    ----------
    pieces : sequence of NestPiece
        What to lay.
    width_mm, margin_mm : float
        Unfinished cloth, and what is lost at each edge. [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across. [%]
    gap_mm : float
        Finished cloth between pieces. [mm]
    faults_mm : sequence of (float, float)
        Stretches of unfinished cloth, from its start, that no piece may touch. [mm]
    seconds : float
        When the search ends; it ends earlier when nothing shorter can be. The layout is stored, so that it
        can be made again exactly; the same search on another machine may find another. [s]
    seed : int
        Of the search.
    straight : bool
        Whether pieces must be such that straight cuts from edge to edge free them all (guillotine cuts).
    progress : Progress
        Told how long the layout is; may raise to cancel.

    Returns
    -------
    Nest

    Raises
    ------
    UsageError
        Unknown turn, a search without time, a seed that cannot be.
    InputError
        No or too many pieces, two of one name, sizes that cannot be, a piece wider than the cloth;
        RangeError for the dimensional change.

    Examples
    --------
    >>> four = [NestPiece(code, 500, 300) for code in "ABCD"]
    >>> found = nest(four, width_mm=1000, seconds=1)
    >>> found.length_mm, found.fill
    (600.0, 1.0)
    """
    layout = Layout(width_mm, margin_mm, warp_percent, weft_percent, ())
    check_pieces(pieces, layout, gap_mm, faults_mm, seconds, seed)
    job, unit = _job(pieces, layout, gap_mm, faults_mm)
    end = time.monotonic() + seconds
    job = replace(job, straight=straight)
    best, each = first(job, seconds)
    best = shorter(job, best, each, end, seed, progress)
    across, along = printed_mm(1.0, weft_percent), printed_mm(1.0, warp_percent)
    length = best.top(job) * unit / _PER_MM - gap_mm * along
    bound = bound_mm(pieces, layout, gap_mm, faults_mm)
    placed = []
    for i in np.lexsort((best.x, best.y)):
        piece, turned = pieces[i], bool(best.turned[i])
        size = (piece.height_mm, piece.width_mm) if turned else (piece.width_mm, piece.height_mm)
        left = float(best.x[i] * unit / _PER_MM / across)
        top = float(best.y[i] * unit / _PER_MM / along)
        placed.append(
            Placement(
                piece.code,
                left,
                top,
                *size,
                artwork=piece.artwork,
                turn_degrees=90 if turned else 0,
                group=piece.group,
            )
        )
    covered = sum(p.width_mm * p.height_mm for p in pieces) * across * along
    laid = Layout(width_mm, margin_mm, warp_percent, weft_percent, tuple(placed))
    return Nest(laid, bound, length, covered / (layout.cuttable_mm[0] * length))


def bound_mm(
    pieces: Sequence[NestPiece],
    layout: Layout,
    gap_mm: float = 0.0,
    faults_mm: Sequence[tuple[float, float]] = (),
) -> float:
    """Return the printed length below which no layout of pieces can be. [mm].

    The larger of the area of pieces over the width, with the faulty stretches within, and of the longest
    piece.
    """
    job, unit = _job(pieces, layout, gap_mm, faults_mm)
    return job.bound * unit / _PER_MM - gap_mm * printed_mm(1.0, layout.warp_percent)


def check_pieces(
    pieces: Sequence[NestPiece],
    layout: Layout,
    gap_mm: float,
    faults_mm: Sequence[tuple[float, float]],
    seconds: float,
    seed: int,
) -> None:
    """Raise what `nest` raises for work that cannot be done."""
    if not 0 <= seed < 1 << 31:
        raise UsageError("seed cannot be", found=seed, expected="0 to 2,147,483,647")
    if not 0 < seconds <= 86_400:
        raise UsageError("time of the search cannot be", found=f"{seconds:g} s", expected="up to a day")
    if not 1 <= len(pieces) <= MOST_PIECES:
        raise InputError("number of pieces cannot be", found=len(pieces), expected=f"1 to {MOST_PIECES:,}")
    if not (1 <= layout.width_mm <= _LONGEST_MM and 0 <= layout.margin_mm < layout.width_mm / 2):
        raise InputError(
            "cloth cannot be",
            found=f"{layout.width_mm:g} mm wide, {layout.margin_mm:g} mm lost at each edge",
            expected="1 to 200,000 mm, less than half of it lost at each edge",
        )
    if not 0 <= gap_mm <= 1000:
        raise InputError("gap cannot be", found=f"{gap_mm:g} mm", expected="0 to 1,000 mm")
    last = 0.0
    for start, end in faults_mm:
        if not (last <= start < end <= 10 * _LONGEST_MM):
            raise InputError(
                "faulty stretch cannot be",
                found=f"{start:g} to {end:g} mm",
                expected="stretches in order, apart, each ending after its start",
            )
        last = end
    wide, codes = layout.cuttable_mm[1], set[str]()
    for piece in pieces:
        if piece.turn not in TURNS:
            raise UsageError("unknown turn", where=piece.code, found=piece.turn, expected=", ".join(TURNS))
        if piece.code in codes:
            raise InputError("two pieces have one name", found=piece.code, expected="a name for each")
        codes.add(piece.code)
        if not all(math.isfinite(v) and 0.1 <= v <= _LONGEST_MM for v in (piece.width_mm, piece.height_mm)):
            raise InputError(
                "size of a piece cannot be",
                where=piece.code,
                found=f"{piece.width_mm:g} x {piece.height_mm:g} mm",
                expected="0.1 to 200,000 mm",
            )
        least = min(piece.width_mm, piece.height_mm) if piece.turn == "90" else piece.width_mm
        if least > wide * (1 + 1e-9):
            raise InputError(
                "piece is wider than the cloth",
                where=piece.code,
                found=f"{least:g} mm finished",
                expected=f"at most {wide:g} mm",
                advice="Split it into panels, or let it turn if the grain allows",
            )


def _job(
    pieces: Sequence[NestPiece], layout: Layout, gap_mm: float, faults_mm: Sequence[tuple[float, float]]
) -> tuple[Job, int]:
    """Return the work in whole micrometres of unfinished cloth over their common divisor, and that."""
    across, along = printed_mm(1.0, layout.weft_percent), printed_mm(1.0, layout.warp_percent)
    size = np.array([(p.width_mm, p.height_mm) for p in pieces])
    turns = np.array([p.turn == "90" for p in pieces])
    wide = _up(np.stack([size[:, 0], size[:, 1]]) * across + gap_mm * across)
    tall = _up(np.stack([size[:, 1], size[:, 0]]) * along + gap_mm * along)
    width = math.floor(_PER_MM * (layout.cuttable_mm[0] + gap_mm * across) + 0.001)
    unit = gcd(width, *(int(v) for v in np.unique(np.concatenate([wide.ravel(), tall.ravel()]))))
    starts = [math.floor(_PER_MM * (s - gap_mm * along) / unit) for s, _ in faults_mm]
    ends = [math.ceil(_PER_MM * e / unit) for _, e in faults_mm]
    wide, tall, width = wide // unit, tall // unit, width // unit
    turns &= wide[1] <= width
    upright = wide[0] <= width
    # A piece that only fits turned is upright in its turned box.
    wide[1][~turns] = 0
    tall[1][~turns] = 0
    lowest = np.where(turns & (~upright | (tall[1] < tall[0])), tall[1], tall[0])
    narrow = np.where(turns, np.minimum(wide[0], wide[1]), wide[0])
    area = int((wide[0] * tall[0]).sum())
    least_area = int(
        np.where(turns, np.minimum(wide[0] * tall[0], wide[1] * tall[1]), wide[0] * tall[0]).sum()
    )
    bound = -(-least_area // width)
    for start, stop in zip(starts, ends, strict=True):
        # No piece lies on a faulty stretch, whatever the layout.
        bound += max(0, stop - max(start, 0)) if bound > max(start, 0) else 0
    bound = max(bound, int(lowest.max()))
    return Job(
        wide, tall, np.argsort(narrow, kind="stable"),
        np.array(starts, np.int64), np.array(ends, np.int64), width, bound, area,
    ), unit  # fmt: skip


def _up(size_mm: NDArray[np.float64]) -> Ints:
    return np.ceil(_PER_MM * size_mm - 0.001).astype(np.int64)
