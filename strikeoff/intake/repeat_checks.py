"""Whether a repeat goes on over its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.intake.colours import display_lab
from strikeoff.intake.pictures import enlarged, shown
from strikeoff.intake.records import Finding
from strikeoff.intake.subject import Subject
from strikeoff.intake.survey import Survey
from strikeoff.raster.lattice import Lattice

FloatArray = NDArray[np.float64]

# A join shows when colours jump by more than this, and by more than nearly all neighbours inside do.
# Common practice; no source.
_VISIBLE_DE = 2.0
_INSIDE = 1.5
_WINDOW_PX = 96


@dataclass(frozen=True)
class Join:
    """How colours jump over one pair of edges.

    Attributes
    ----------
    name : str
        ``across`` (right edge to left one) or ``along`` (lower to upper).
    jump_de : float
        Mean difference over the edge. [CIELAB units]
    over_inside : float
        Mean jump of the samples over the 99th percentile of neighbours inside. [-]
    worst : int
        Pixel along the edge where it is worst.
    """

    name: str
    jump_de: float
    over_inside: float
    worst: int

    @property
    def shows(self) -> bool:
        """Whether the join will be seen."""
        return self.jump_de > _VISIBLE_DE and self.over_inside > _INSIDE


def joins(subject: Subject) -> tuple[Join, ...]:
    """Return how well the edges meet under the lattice, in the directions in which it repeats."""
    lattice, survey = subject.wish.lattice, subject.survey
    if lattice is None:
        return ()
    inside = {"across": survey.across_jumps, "along": survey.along_jumps}
    ways = [way for way in inside if lattice.repeats in ("both", way)]
    found = []
    for way in ways:
        last, first = _edges(survey, lattice, way)
        found.append(_join(subject, way, last[:, -1], first[:, 0], inside[way]))
    return tuple(found)


def _edges(survey: Survey, lattice: Lattice, way: str) -> tuple[FloatArray, FloatArray]:
    """Return the edge of tiles that ends at a join, and what it meets there.

    Rows run along the join, columns towards it and away from it. Where tiles are mirrored or turned, the
    joins of two neighbours differ; they stand one after the other.
    """
    is_flipped = lattice.turned or lattice.mirror != "none"
    ends, starts = [], []
    for place in range(2 if is_flipped else 1):
        if way == "across":
            ends.append(_edge(survey, lattice, (place, 0), "right"))
            moved = lattice.offset == "drop"
            near, before = (
                _edge(survey, lattice, (place + 1, row), "left") for row in ((0, -1) if moved else (0, 0))
            )
        else:
            ends.append(_edge(survey, lattice, (0, place), "bottom"))
            moved = lattice.offset == "brick"
            near, before = (
                _edge(survey, lattice, (column, place + 1), "top")
                for column in ((0, -1) if moved else (0, 0))
            )
        # The neighbour begins so far down or right; before it lies the end of the one before.
        start = round(lattice.share * len(near)) if moved else 0
        starts.append(np.concatenate([before[len(before) - start :], near[: len(near) - start]]))
    return np.concatenate(ends), np.concatenate(starts)


def _edge(survey: Survey, lattice: Lattice, cell: tuple[int, int], side: str) -> FloatArray:
    """Return the samples at a side of a cell as they lie on the cloth, rows along the side."""
    across, along = lattice.flips(*cell)
    crosses, follows = (across, along) if side in ("left", "right") else (along, across)
    opposite = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
    samples = np.asarray(getattr(survey, opposite[side] if crosses else side), dtype=np.float64)
    if side in ("top", "bottom"):
        samples = np.swapaxes(samples, 0, 1)
    return samples[:: -1 if follows else 1, :: -1 if crosses else 1]


def _join(subject: Subject, name: str, last: FloatArray, first: FloatArray, inside: FloatArray) -> Join:
    over = np.linalg.norm(
        display_lab(subject.artwork, last[None])[0] - display_lab(subject.artwork, first[None])[0], axis=1
    )
    usual = float(np.percentile(inside, 99)) if len(inside) else 0.0
    jump = float(np.abs(last - first).mean())
    window = np.convolve(over, np.ones(min(_WINDOW_PX, len(over))), mode="same")
    return Join(name, float(over.mean()), jump / max(usual, 1e-3), int(window.argmax()))


def repeat_findings(subject: Subject) -> list[Finding]:
    """Say where a repeat breaks at its edges."""
    found = []
    for join in joins(subject):
        if not join.shows:
            continue
        found.append(
            Finding(
                "repeat",
                "error",
                f"the repeat breaks {join.name}: colours jump by {join.jump_de:.1f} at the "
                f"{'right and left' if join.name == 'across' else 'lower and upper'} edge",
                "Ask for the repeat cut to the pixel, or check how it repeats",
                found=f"{join.over_inside:.1f} times what neighbours differ inside",
                expected=f"a jump below {_VISIBLE_DE:g}, or below {_INSIDE:g} times those inside",
                picture=_join_picture(subject, join),
                caption="The join runs through the middle",
            )
        )
    return found


def _join_picture(subject: Subject, join: Join) -> NDArray[np.uint8]:
    lattice = subject.wish.lattice
    assert lattice is not None
    both = np.concatenate(_edges(subject.survey, lattice, join.name), axis=1)
    start = int(np.clip(join.worst - _WINDOW_PX // 2, 0, max(0, len(both) - _WINDOW_PX)))
    piece = both[start : start + _WINDOW_PX]
    if join.name == "along":
        piece = np.swapaxes(piece, 0, 1)
    return enlarged(shown(display_lab(subject.artwork, piece)), 384)
