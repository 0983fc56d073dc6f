"""Artwork of a layout that is coarse or stretched at its finished size."""

from __future__ import annotations

from strikeoff.base.problems import Problem
from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.placement import Layout
from strikeoff.raster.planes_file import PlanesFile

_COARSE_PPI, _STRETCH = 72.0, 0.01
_NAMED = 3


def resolution_problems(roll: Layout, sources: dict[str, PlanesFile]) -> tuple[Problem, ...]:
    """Warn, once for each kind, of artwork that is coarse or stretched at its finished size."""
    coarse: dict[str, str] = {}
    stretched: dict[str, str] = {}
    for piece in roll.placements:
        source, whole = sources[piece.artwork], piece.whole_mm
        across, along = source.width * MM_PER_INCH / whole[0], source.height * MM_PER_INCH / whole[1]
        if min(across, along) < _COARSE_PPI:
            coarse.setdefault(piece.code, f"{min(across, along):.0f} ppi")
        if abs(across / along - 1) > _STRETCH:
            stretched.setdefault(piece.code, f"{across / along:.3f}")
    problems = []
    for found, message, expected, advice in (
        (coarse, "is coarse at the finished size", f"{_COARSE_PPI:.0f} ppi or more", None),
        (
            stretched,
            "is stretched: its sides do not have the ratio of the artwork",
            "1.00 within 1 %",
            "Check the finished size",
        ),
    ):
        if found:
            codes = list(found)
            where = ", ".join(codes[:_NAMED]) + (
                f" and {len(codes) - _NAMED} more" if len(codes) > _NAMED else ""
            )
            problems.append(
                Problem("warning", where, f"artwork {message}", found[codes[0]], expected, advice)
            )
    return tuple(problems)
