"""Marks and what is wanted of them."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.base.problems import Problem
from strikeoff.layout.waste import Box

KINDS = ("trim", "register", "cutter", "code", "fold", "eyelet")
CUTTER_EVERY_MM = 400.0


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


def no_room(kind: str, piece: str, missing: dict[str, str], needed: float) -> Problem:
    """Return the warning that a piece lacks marks: what stands in the way, and the waste needed."""
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


def mark_at(kind: str, box: Box, piece: str, side: str, text: str = "") -> Mark:
    """Return the mark that fills a box."""
    return Mark(kind, box[0], box[1], box[2] - box[0], box[3] - box[1], piece, side, text)
