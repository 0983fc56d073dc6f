"""Pieces that must come from one stretch of cloth: each group becomes a block, and blocks are nested."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.progress import Progress, silent
from strikeoff.layout.finishing import finishing_factor
from strikeoff.layout.nesting import Nest, NestPiece, bound_mm, check_pieces, nest
from strikeoff.layout.placement import Layout

_WIDTHS = 8
_PART_OF_TIME = 0.4
_SLACK = 1e-6


def nest_groups(
    pieces: Sequence[NestPiece],
    *,
    stretch_mm: float | None = None,
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
    """Lay pieces as `nest` does, those of one group side by side on one stretch of cloth.

    Pieces of a group are nested into a block of their own, at the width that wastes least; no fault lies
    within a block.

    Parameters
    ----------
    pieces : sequence of NestPiece
        What to lay; an empty group is none.
    stretch_mm : float, optional
        Most length of unfinished cloth from the first to the last edge of a group; any by default. [mm]
    width_mm, margin_mm, warp_percent, weft_percent, gap_mm, faults_mm, seconds, seed, straight, progress
        As for `nest`.

    Returns
    -------
    Nest
        Its bound is that of the pieces without groups.

    Raises
    ------
    InputError
        A group for which no block so short was found; what `nest` finds.
    UsageError
        A stretch that cannot be; what `nest` finds.

    Examples
    --------
    >>> pair = [NestPiece(code, 400, 300, group="sofa") for code in "AB"]
    >>> found = nest_groups([*pair, NestPiece("C", 800, 500)], stretch_mm=300, width_mm=800, seconds=1)
    >>> len({p.y_mm for p in found.layout.placements if p.group}), found.length_mm
    (1, 800.0)
    """
    cloth = Layout(width_mm, margin_mm, warp_percent, weft_percent, ())
    check_pieces(pieces, cloth, gap_mm, faults_mm, seconds, seed)
    if stretch_mm is not None and not 0 < stretch_mm <= 1e6:
        raise UsageError(
            "stretch of a group cannot be", found=f"{stretch_mm:g} mm", expected="above 0, at most 1,000,000"
        )
    groups: dict[str, list[NestPiece]] = {}
    for piece in pieces:
        if piece.group:
            groups.setdefault(piece.group, []).append(piece)
    end = time.monotonic() + seconds
    blocks = {}
    for number, (name, members) in enumerate(groups.items()):
        progress(f"nest: group {name}", _PART_OF_TIME * number / len(groups))
        share = _PART_OF_TIME * seconds / len(groups)
        blocks[name] = _block(name, members, cloth, gap_mm, stretch_mm, share, seed, straight, progress)
    # A code for a block that no piece can have.
    whole = [NestPiece(f"\0{name}", *_extent(block)) for name, block in blocks.items()]
    found = nest(
        [*(piece for piece in pieces if not piece.group), *whole],
        width_mm=width_mm,
        margin_mm=margin_mm,
        warp_percent=warp_percent,
        weft_percent=weft_percent,
        gap_mm=gap_mm,
        faults_mm=faults_mm,
        seconds=max(0.01, end - time.monotonic()),
        seed=seed,
        straight=straight,
        progress=progress,
    )
    placed = []
    for place in found.layout.placements:
        if place.code.startswith("\0"):
            placed += [
                replace(p, x_mm=place.x_mm + p.x_mm, y_mm=place.y_mm + p.y_mm)
                for p in blocks[place.code[1:]].layout.placements
            ]
        else:
            placed.append(place)
    laid = replace(found.layout, placements=tuple(sorted(placed, key=lambda p: (p.y_mm, p.x_mm))))
    length = laid.length_mm[0]
    area = sum(p.width_mm * p.height_mm for p in pieces)
    covered = area / finishing_factor(warp_percent) / finishing_factor(weft_percent)
    bound = min(length, bound_mm(pieces, cloth, gap_mm, faults_mm))
    return Nest(laid, bound, length, covered / (cloth.cuttable_mm[0] * length))


def _extent(block: Nest) -> tuple[float, float]:
    """Return the finished size of a block."""
    places = block.layout.placements
    return max(p.x_mm + p.width_mm for p in places), max(p.y_mm + p.height_mm for p in places)


def _block(
    name: str,
    members: list[NestPiece],
    cloth: Layout,
    gap_mm: float,
    stretch_mm: float | None,
    seconds: float,
    seed: int,
    straight: bool,
    progress: Progress,
) -> Nest:
    """Return the group nested at the width that wastes least and is short enough."""
    across = 1 / finishing_factor(cloth.weft_percent)
    most = cloth.cuttable_mm[0]
    narrow = [min(p.width_mm, p.height_mm) if p.turn == "90" else p.width_mm for p in members]
    least = min(most, max(narrow) * across)
    row = (sum(p.width_mm for p in members) + gap_mm * (len(members) - 1)) * across
    widths = {most, min(row, most), *np.geomspace(least, most, _WIDTHS).tolist()}
    # A micrometre more: a width that is met exactly must not fail for rounding.
    widths = {min(most, width + 0.001) for width in widths if width >= least}
    best: Nest | None = None
    shortest = float("inf")
    for width in sorted(widths, reverse=True):
        found = nest(
            members,
            width_mm=width,
            warp_percent=cloth.warp_percent,
            weft_percent=cloth.weft_percent,
            gap_mm=gap_mm,
            seconds=max(0.01, seconds / len(widths)),
            seed=seed,
            straight=straight,
            progress=progress,
        )
        shortest = min(shortest, found.length_mm)
        if stretch_mm is not None and found.length_mm > stretch_mm * (1 + _SLACK):
            continue
        # Of blocks that waste alike the widest stays: it takes the shortest stretch of cloth.
        if best is None or np.prod(_extent(found)) < (1 - _SLACK) * np.prod(_extent(best)):
            best = found
    if best is None:
        raise InputError(
            "pieces of a group do not fit on one stretch",
            where=f"group {name}",
            found=f"{shortest:.1f} mm of unfinished cloth needed at the full width",
            expected=f"at most {stretch_mm:g} mm",
            advice="Allow a longer stretch, take pieces out of the group, or let them turn",
        )
    return best
